"""The club, marked by a hand on some frames and followed between them."""
