"""The database itself: opened, migrated, and whether it can serve."""
