"""Commands on archives of swings."""
