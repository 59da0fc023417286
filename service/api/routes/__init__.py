"""One file a resource, a few lines a route."""
