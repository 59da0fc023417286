"""What HTTP asks for: bodies, problems, conditional requests, cursors, retries, logs."""
