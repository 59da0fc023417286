"""Batches: taken in, worked through in the background, told of when they are over."""
