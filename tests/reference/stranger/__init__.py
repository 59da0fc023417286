"""A golfer who was made by somebody who had not read the project's own simulators.

Key poses in space, joints between by the law of cosines, faults put on in graded amounts
(``golfer/``), a pinhole camera and errors like an estimator's (``film.py``, ``errors.py``), and the
truth in space by the catalogue's words, taken by code of its own (``positions.py``, ``truth.py``).
Nothing is taken from the simulators or from the service's measures, and nothing was fitted on it:
it measures how the service does on swings that no part of it was made on.

It is not wholly unseen. Some of the service was mended while looking at it: P3 and P9 are weighed
by how sure each reading is, chests that turn past 90 degrees, a lead wrist that is lost; and that
restless players of training tilt their shoulders came from where his hands are at P9. And the
golfer was mended where it was unlike motion capture or players: hands nearer to the chest at P3 and
P5, a trail knee that goes to the target coming down, a driven knee that keeps its leg's length, a
trail arm that is level later (some 50 ms after the shaft), and a hurried swing that takes the club
back faster rather than down slower.
"""
