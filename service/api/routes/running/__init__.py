"""For whoever runs the service or finds their way in it."""
