"""Clips changed so that what is learnt on them goes by less than one make shows."""
