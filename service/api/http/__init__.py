"""What HTTP asks for: bodies, problems, readiness, entity tags, cursors, logs."""
