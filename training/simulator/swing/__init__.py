"""A swing of joint angles: key poses, curves through them, their times, what faults do to them."""
