"""Swing analysis: numpy arrays in, frozen dataclasses out; no files, no HTTP, no database."""
