"""Many swings in files and lines: each is read, or refused with the reason.

Archives and batches read alike through this room, so that what is wrong has one name in both.
"""
