"""A swing of joint angles: key poses, curves through them, their times, what faults do to them,
and from joint angles to joints, with the clubhead at the ball."""
