"""Players, lessons and kept swings: what is sent and what is answered."""
