"""How the service does on swings of every make, the ones no part of it was made on above all."""

from training.evaluation.sources.command import SOURCES, run
from training.evaluation.sources.rows import Row, Source, rows_of
from training.evaluation.sources.tallies import Tally, tally

__all__ = ["SOURCES", "Row", "Source", "Tally", "rows_of", "run", "tally"]
