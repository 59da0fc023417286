"""Simulated clips as labelled data sets."""
