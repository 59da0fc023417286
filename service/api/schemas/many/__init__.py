"""Many swings in one request or in a batch, as they are asked for and answered."""
