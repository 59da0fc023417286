"""What changed: between swings, between rehearsal and full speed, between two analyses."""
