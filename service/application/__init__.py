"""From what a caller sends to an analysed swing, whatever way it was sent."""
