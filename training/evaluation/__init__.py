"""What the models are worth, and the card that says so."""
