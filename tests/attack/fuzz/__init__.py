"""Requests bent out of shape."""
