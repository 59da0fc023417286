"""The network that places positions: what it learns from, how it is fitted, how sure it is."""
