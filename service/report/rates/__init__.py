"""Fault rates of many swings: as text for a terminal, and as a page with charts."""
