"""The documentation that the service serves."""
