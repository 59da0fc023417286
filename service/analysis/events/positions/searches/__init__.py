"""One module a moment: P1, the level ones, P4, P7 and P10, each found by its definition."""
