"""Bodies as they are sent: bounded, unpacked, read."""
