"""Fitting, choosing and exporting models."""
