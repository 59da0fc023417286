"""Whose records are seen, decided in one place: academies, their keys, and who saw what."""
