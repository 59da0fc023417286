"""What a command can't do."""

from __future__ import annotations


class CannotBeDone(Exception):
    """A command was given what is no good, or met it; in words for whoever gave it."""
