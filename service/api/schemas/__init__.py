"""Request and answer models."""
