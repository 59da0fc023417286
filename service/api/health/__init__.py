"""Whether the service can do its work, told from a lane of its own."""
