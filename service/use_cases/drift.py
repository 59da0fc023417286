"""Kept swings of some days held against those that the model was made from."""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import date, datetime

from service.analysis.judging.classifier import Classifier
from service.analysis.judging.features import feature_vector
from service.analysis.measured import MeasuredSwing, measure_swing
from service.analysis.types import SwingRecording, View
from service.intake.errors import InvalidRequest, MalformedJson
from service.intake.recording import ANY_LENGTH, read_clip
from service.observing.drift import Drift, DriftedFeature
from service.records import Behalf, Database, RecordNotFound
from service.records.access import academies
from service.records.keeping import swings
from service.records.keeping.swings import CameIn


@dataclass
class SeenInView:
    """Swings of one view.

    Attributes
    ----------
    players
        Whose they are; only their number is told.
    unlike
        Of each day, the swings that are unlike those of training.
    """

    swings: Counter[date] = field(default_factory=Counter)
    unlike: Counter[date] = field(default_factory=Counter)
    players: set[str] = field(default_factory=set)
    worst: list[DriftedFeature] = field(default_factory=list)


@dataclass(frozen=True)
class SeenSwing:
    """A swing as far as the drift looks at it."""

    day: date
    player_id: str
    recording: SwingRecording


def drift_of(seen: Iterable[SeenSwing], classifier: Classifier) -> dict[View, SeenInView]:
    """How far swings are from those of training, each of whatever day counting alike."""
    drift = Drift(classifier.ranges, window=math.inf)
    found: defaultdict[View, SeenInView] = defaultdict(SeenInView)
    for each in seen:
        swing = measure_swing(each.recording)
        if not isinstance(swing, MeasuredSwing):
            continue
        view, vector = swing.view.value, feature_vector(swing)
        known = classifier.ranges.get(view)
        if known is None:
            continue
        drift.add(view, vector)
        found[view].swings[each.day] += 1
        found[view].unlike[each.day] += not known.familiarity(vector).inside
        found[view].players.add(each.player_id)
    for worst in drift.worst():
        found[worst.view].worst.append(worst)
    return dict(found)


def kept_since(database: Database, moment: datetime, most: int) -> Iterator[SeenSwing]:
    """Swings that came in since a moment, of all academies.

    Parameters
    ----------
    most
        About how many at most; of more, each so many-th is looked at.

    Raises
    ------
    RecordsUnavailable
    """
    with database.reading() as session:
        whose = [database.on_behalf(Behalf(each.id)) for each in academies.fetch_all(session)]
    found = [(seen, each) for seen in whose for each in _came_in(seen, moment)]
    for seen, each in found[:: max(1, math.ceil(len(found) / most))]:
        try:
            with seen.reading() as session:
                body = swings.requests_of(session, [each.id])[each.id]
            recording, _ = read_clip(body, ANY_LENGTH)
        except RecordNotFound:  # deleted meanwhile
            continue
        except (InvalidRequest, MalformedJson):  # of a version that took what this one does not
            continue
        yield SeenSwing(each.created.date(), each.player_id, recording)


def _came_in(database: Database, moment: datetime) -> list[CameIn]:
    with database.reading() as session:
        return swings.since(session, moment)
