"""The database itself: opened, migrated, given up when it hangs, and whether it can serve."""
