"""The figures as Prometheus reads them: what was counted, and what is true at the moment."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Iterator, Mapping
from pathlib import Path
from typing import Final

from prometheus_client import CollectorRegistry, generate_latest, start_http_server
from prometheus_client.core import GaugeMetricFamily, Metric
from prometheus_client.multiprocess import MultiProcessCollector, mark_process_dead
from prometheus_client.registry import Collector

import service
from service.observing.metrics import Metrics
from service.observing.shared import SHARED_FOLDER

_BACKLOG: Final[dict[str, str]] = {
    "swing_batch_pieces_waiting": "Pieces of batches that nobody has in hand.",
    "swing_batch_pieces_in_hand": "Pieces of batches that a worker has in hand.",
    "swing_batch_oldest_seconds": "Age of the oldest batch that is not over; 0 where all are.",
    "swing_batch_callbacks_waiting": "Batches that are over and of which somebody is to be told.",
}
"""What is told of the queue of batches, in the order of :func:`backlog_figures`' arguments."""


def text(metrics: Metrics, now: Iterable[Metric]) -> bytes:
    """Everything in the text format of Prometheus, of all processes that count together.

    Parameters
    ----------
    now
        What is true of any process at this moment, so that none need have kept it.
    """
    registry = metrics.registry
    if folder := os.environ.get(SHARED_FOLDER):
        registry = CollectorRegistry()
        _forget_the_dead(Path(folder))
        MultiProcessCollector(registry, folder)  # type: ignore[no-untyped-call]  # has no types
    at_once = CollectorRegistry()
    at_once.register(_Now(lambda: now))
    return generate_latest(registry) + generate_latest(at_once)


def serve_alone(
    metrics: Metrics, address: str, port: int, now: Callable[[], Iterable[Metric]]
) -> None:
    """Serve the figures of one process that serves nothing else, in a thread of their own."""
    metrics.registry.register(_Now(now))
    start_http_server(port, address, metrics.registry)


def service_figures(
    metrics: Metrics, checks: Mapping[str, bool], most_inside: int
) -> Iterator[Metric]:
    """What is true of a service now.

    Parameters
    ----------
    checks
        Whether each check of `/readyz` passes now.
    most_inside
        Requests that each lane of one process takes in.
    """
    yield model_figure(metrics)
    passed = GaugeMetricFamily(
        "swing_check_passed",
        "Checks of /readyz: 1 passed, 0 failed; `database` is the database.",
        labels=["check"],
    )
    for name, good in checks.items():
        passed.add_metric([name], float(good))
    yield passed
    most = "Requests that each lane of one process takes in."
    yield GaugeMetricFamily("swing_requests_most", most, float(most_inside))


def model_figure(metrics: Metrics) -> Metric:
    """Which model serves."""
    told = metrics.identity
    model = GaugeMetricFamily(
        "swing_model_info",
        "The model that is served.",
        labels=["version", "trained", "data", "service"],
    )
    names = (told.version, told.trained, told.data) if told else ("rules", "", "")
    model.add_metric([*names, service.__version__], 1.0)
    return model


def backlog_figures(waiting: int, in_hand: int, oldest: float, callbacks: int) -> Iterator[Metric]:
    """What is still to be done of batches, of all academies together."""
    values = (waiting, in_hand, oldest, callbacks)
    for (name, meaning), value in zip(_BACKLOG.items(), values, strict=True):
        yield GaugeMetricFamily(name, meaning, float(value))


class _Now(Collector):
    """Figures that are found out when they are asked for."""

    def __init__(self, find: Callable[[], Iterable[Metric]]) -> None:
        self._find = find

    def describe(self) -> Iterable[Metric]:
        """Nothing, so that registering finds nothing out yet."""
        return ()

    def collect(self) -> Iterator[Metric]:
        """Give them."""
        return iter(self._find())


def _forget_the_dead(folder: Path) -> None:
    """What a process that is gone had inside counts no longer; its counters still do."""
    for file in folder.glob("gauge_live*_*.db"):
        pid = int(file.stem.rpartition("_")[2])
        try:
            os.kill(pid, 0)
        except ProcessLookupError:
            mark_process_dead(pid, str(folder))  # type: ignore[no-untyped-call]  # has no types
        except PermissionError:
            continue
