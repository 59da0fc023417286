"""Swing-fault classification: pose keypoints of one golf swing in, labelled faults out."""

import os

__version__ = "0.1.0"

# The model runtime looks up a collector on the internet and writes a device id under the home
# folder as soon as it is imported, unless this says otherwise; so it is said before any import.
os.environ["ORT_DISABLE_TELEMETRY"] = "1"
