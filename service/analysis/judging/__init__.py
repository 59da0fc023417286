"""From measures to findings."""
