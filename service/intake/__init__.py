"""A body or a file becomes a recording."""
