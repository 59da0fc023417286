"""Batches: many swings analysed in the background, by workers that share this database.

A batch is cut into items of some lines; a worker takes an item for a while (a lease), and what it
found goes in, in one transaction, when the item goes out. So a worker that is killed at any moment
leaves the item to the next one, and no line has two results: they are keyed by batch and line.
"""
