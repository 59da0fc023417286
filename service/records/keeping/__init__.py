"""Players, lessons and swings as rows, how often one may ask, and answers kept for retries."""
