"""Problem details for HTTP APIs (RFC 9457): every error answer of the service."""
