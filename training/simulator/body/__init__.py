"""What a golfer is made of: segments, limbs and clubs, and rotations in space."""
