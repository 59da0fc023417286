"""Whose records are seen: academies, their keys, and the one place where it is decided."""
