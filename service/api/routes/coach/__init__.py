"""Routes of what coaches say, one file a resource."""
