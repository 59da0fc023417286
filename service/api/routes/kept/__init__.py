"""What is kept: players, lessons and swings, and what is told of them."""
