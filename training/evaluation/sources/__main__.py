"""``python -m training.evaluation.sources [--clips N] [--source NAME]``."""

import sys

from training.evaluation.sources.command import main

sys.exit(main())
