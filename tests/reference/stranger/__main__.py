"""``python -m tests.reference.stranger [--clips N] [--seed S] [--models FOLDER]``: how the service
does on the stranger's golfer, by rules alone or with the trained models; the tables of
``python -m training.evaluation.sources``. No reference data are needed."""

import sys

from tests.reference.stranger.clips import stranger
from training.evaluation.sources import run

sys.exit(run(None, {"stranger": stranger}, "python -m tests.reference.stranger"))
