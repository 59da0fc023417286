"""The body and what it holds: segments, limbs, posture, clubs, and the clubhead at the ball."""
