"""Swing-fault classification: pose keypoints of one golf swing in, labelled faults out."""

__version__ = "0.1.0"
