"""The body that swings: feet, trunk and arms at moments, and how the club meets the ball."""
