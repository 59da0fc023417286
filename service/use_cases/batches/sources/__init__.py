"""Where the swings of a batch come from: lines of a body, or files below an academy's archive."""
