"""Training of the swing-fault classifier: simulated swings, data set, fit and evaluation."""
