"""How much one process takes in at once."""
