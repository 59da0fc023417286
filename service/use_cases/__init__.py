"""One file a use; the only rooms that know several others."""
