"""The holes that were mended, tried on any version."""
