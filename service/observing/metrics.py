"""Figures for Prometheus: counts and times, never a path, an id or a name of anyone's.

Labels come from closed lists (routes, statuses, the catalogue, codes of reasons), so that their
number is bounded. Several processes that share a port write to files of a common folder, and
whichever is asked adds all of them up (:mod:`service.observing.exposition`).
"""

from __future__ import annotations

import logging
import time
from typing import Final

import numpy as np
from numpy.typing import NDArray
from prometheus_client import CollectorRegistry, Counter, Gauge, Histogram

from service.analysis.judging.classifier import Classifier
from service.analysis.types import SwingAnalysis, View
from service.observing.drift import CHANGED, Drift, DriftedFeature

_SECONDS: Final = (0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0)
_METHODS: Final = frozenset({"GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS"})
_LOOK_EVERY: Final[int] = 16
"""Swings between two looks at the drift, which costs more than counting."""
_TELL_EVERY: Final[float] = 3600.0
"""Seconds between two lines in the log about the drift of one group of features."""

_log = logging.getLogger(__name__)


class Metrics:
    """What one process counts.

    Parameters
    ----------
    classifier
        The model served, if any: its version and ranges are told.
    """

    def __init__(self, classifier: Classifier | None) -> None:
        self.of_model(classifier)
        self._features_seen = 0
        self._told: dict[tuple[View, str], float] = {}
        self.registry = CollectorRegistry()
        self._make_those_of_requests()
        self._make_those_of_analyses()
        self._make_those_of_batches()
        self._make_those_of_drift()

    def of_model(self, classifier: Classifier | None) -> None:
        """Tell the version of this model from now on, and look at the drift from its ranges."""
        self.identity = classifier.identity if classifier else None
        self._drift = Drift(classifier.ranges if classifier else {})

    def _make_those_of_requests(self) -> None:
        into = self.registry
        self._request_seconds = Histogram(
            "swing_http_request_seconds",
            "Time to answer, by route.",
            ["method", "route"],
            buckets=_SECONDS,
            registry=into,
        )
        self._requests = Counter(
            "swing_http_requests_total", "Answers.", ["method", "route", "status"], registry=into
        )
        self._inside = Gauge(
            "swing_requests_inside",
            "Requests taken in and not answered yet, by lane.",
            ["lane"],
            registry=into,
            multiprocess_mode="livesum",
        )
        self._turned_away = Counter(
            "swing_requests_turned_away_total",
            "Requests told to come again as too many were inside, by lane.",
            ["lane"],
            registry=into,
        )

    def _make_those_of_analyses(self) -> None:
        into = self.registry
        self._analysis_seconds = Histogram(
            "swing_analysis_seconds", "Time of an analysis.", buckets=_SECONDS, registry=into
        )
        self._analyses = Counter(
            "swing_analyses_total",
            "Clips analysed: `swing`, or the reason why none was found.",
            ["outcome", "view"],
            registry=into,
        )
        self._findings = Counter(
            "swing_findings_total",
            "Findings by fault and status.",
            ["fault", "status"],
            registry=into,
        )
        self._not_assessable = Counter(
            "swing_not_assessable_total",
            "Findings that could not be made, by reason.",
            ["reason"],
            registry=into,
        )

    def _make_those_of_batches(self) -> None:
        into = self.registry
        self._batch_lines = Counter(
            "swing_batch_lines_total",
            "Swings of batches whose results are kept: `done`, or `failed` for those refused.",
            ["outcome"],
            registry=into,
        )
        self._piece_seconds = Histogram(
            "swing_batch_piece_seconds",
            "Time to work through a piece of a batch, from taking it to keeping its results.",
            buckets=_SECONDS,
            registry=into,
        )

    def _make_those_of_drift(self) -> None:
        into = self.registry
        self._familiarity = Counter(
            "swing_familiarity_total",
            "Swings like (yes) and unlike (no) those that the estimators were made from.",
            ["view", "familiar"],
            registry=into,
        )
        self._drifted = Gauge(
            "swing_drift_psi",
            "Largest population stability index of a group of features against training.",
            ["view", "features"],
            registry=into,
            multiprocess_mode="livemax",
        )

    def request(self, method: str, route: str, status: int, seconds: float) -> None:
        """Count one answer.

        Parameters
        ----------
        route
            As the routes spell it, ids left open.
        """
        method = method if method in _METHODS else "other"
        self._request_seconds.labels(method, route).observe(seconds)
        self._requests.labels(method, route, str(status)).inc()

    def inside(self, lane: str, change: int) -> None:
        """Count a request that was taken in or has left."""
        self._inside.labels(lane).inc(change)

    def turned_away(self, lane: str) -> None:
        """Count a request that was told to come again."""
        self._turned_away.labels(lane).inc()

    def analysis(self, analysis: SwingAnalysis, seconds: float) -> None:
        """Count one analysis and what it found."""
        self._analysis_seconds.observe(seconds)
        view = analysis.view.value.value if analysis.view else "unknown"
        self._analyses.labels(analysis.reason.code if analysis.reason else "swing", view).inc()
        for finding in analysis.findings:
            self._findings.labels(finding.fault, finding.status.value).inc()
            if finding.reason is not None:
                self._not_assessable.labels(finding.reason.code).inc()
        if analysis.familiarity is not None:
            familiar = "yes" if analysis.familiarity.inside else "no"
            self._familiarity.labels(view, familiar).inc()

    def piece(self, done: int, failed: int, seconds: float) -> None:
        """Count a piece of a batch whose results are kept."""
        self._batch_lines.labels("done").inc(done)
        self._batch_lines.labels("failed").inc(failed)
        self._piece_seconds.observe(seconds)

    def features(self, view: View, vector: NDArray[np.float32]) -> None:
        """Count the features of one swing against those of training.

        Parameters
        ----------
        vector : array of shape (n_features,)
        """
        self._drift.add(view, vector)
        self._features_seen += 1
        if self._features_seen % _LOOK_EVERY == 0:
            for worst in self._drift.worst():
                self._drifted.labels(worst.view.value, worst.group).set(worst.index)
                self._tell(worst)

    def _tell(self, worst: DriftedFeature) -> None:
        key, now = (worst.view, worst.group), time.monotonic()
        if worst.index < CHANGED or now - self._told.get(key, -_TELL_EVERY) < _TELL_EVERY:
            return
        self._told[key] = now
        fields = {
            "view": worst.view.value,
            "feature": worst.feature,
            "psi": round(worst.index, 3),
        }
        _log.warning("swings of late are unlike those of training", extra={"fields": fields})
