"""Commands that take a request or films."""
