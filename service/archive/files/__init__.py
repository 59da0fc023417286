"""The files of an archive: which there are, what they hold, and whether it has changed."""
