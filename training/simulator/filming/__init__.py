"""How a motion becomes a clip: the camera, the frames, and an estimator that errs."""
