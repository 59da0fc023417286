"""Players, lessons and swings as rows, with whose consent, and answers kept for retries."""
