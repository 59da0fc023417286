"""What HTTP asks for: bodies, conditional requests, cursors, retries, logs."""
