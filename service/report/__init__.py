"""An analysis for people to read."""
