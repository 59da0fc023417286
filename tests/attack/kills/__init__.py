"""Processes killed under writers."""
