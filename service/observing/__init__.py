"""What the running service tells of itself: figures, traces, and whether its inputs drift."""
