"""Points of a pose: their order, their geometry, their errors and repairs."""
