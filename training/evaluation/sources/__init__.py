"""How the service does on swings of every make, the ones no part of it was made on above all."""

from training.evaluation.sources.clips import SOURCES, Source, SourceClip
from training.evaluation.sources.command import run
from training.evaluation.sources.rows import Row, rows_of
from training.evaluation.sources.tallies import Tally, tally

__all__ = ["SOURCES", "Row", "Source", "SourceClip", "Tally", "rows_of", "run", "tally"]
