"""Players, lessons, swings and findings, kept in SQLite or PostgreSQL.

Everything here takes an SQLAlchemy session from :class:`Database` and speaks the frozen
dataclasses of :mod:`service.records.entities`. The repositories are the modules
:mod:`~service.records.keeping.players`, :mod:`~service.records.keeping.lessons`,
:mod:`~service.records.keeping.swings` and :mod:`~service.records.keeping.retries`, and those of
:mod:`service.records.reviews`.
"""

from service.records._rows import Precondition
from service.records.access.sessions import Behalf
from service.records.batches import tables as _tables_of_batches  # noqa: F401 - known to all
from service.records.batches.entities import Batch, BatchState
from service.records.connection.database import Database
from service.records.connection.migrate import upgrade
from service.records.entities import (
    AnalysisEntry,
    Consent,
    ConsentBy,
    KeptAnalysis,
    KeptSwing,
    Lesson,
    NewSwing,
    Player,
    Provenance,
    Role,
    Swing,
)
from service.records.errors import (
    ConsentMissing,
    KeyReused,
    KeyTaken,
    MissingVersion,
    RecordNotFound,
    RecordsError,
    RecordsUnavailable,
    StaleVersion,
)
from service.records.keeping.selecting import SwingFilter
from service.records.paging import Page, Window
from service.records.reviews import tables as _tables_of_reviews  # noqa: F401 - known to all

__all__ = [
    "AnalysisEntry",
    "Batch",
    "BatchState",
    "Behalf",
    "Consent",
    "ConsentBy",
    "ConsentMissing",
    "Database",
    "KeptAnalysis",
    "KeptSwing",
    "KeyReused",
    "KeyTaken",
    "Lesson",
    "MissingVersion",
    "NewSwing",
    "Page",
    "Player",
    "Precondition",
    "Provenance",
    "RecordNotFound",
    "RecordsError",
    "RecordsUnavailable",
    "Role",
    "StaleVersion",
    "Swing",
    "SwingFilter",
    "Window",
    "upgrade",
]
