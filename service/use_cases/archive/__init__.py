"""Uses of a whole archive: tag it, convert it, sum it up, tag it again."""
