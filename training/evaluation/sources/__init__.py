"""How the service does on swings of every make, the ones no part of it was made on above all."""

from training.evaluation.sources.command import SOURCES, run
from training.evaluation.sources.rows import rows_of

__all__ = ["SOURCES", "rows_of", "run"]
