"""``python -m service work``: work through batches until told to stop."""

from __future__ import annotations

import argparse
import os
import signal
import sys
import threading
from collections.abc import Callable
from functools import cache, partial
from typing import TYPE_CHECKING, Final

from service.settings import Settings

if TYPE_CHECKING:
    from prometheus_client.core import Metric

    from service.commands import Parsers
    from service.observing.metrics import Metrics
    from service.records import Database

_NICENESS: Final[int] = 5
"""How far a worker gives way to whoever serves single requests on the same machine."""


def describe(commands: Parsers) -> None:
    """Add the command."""
    parser = commands.add_parser("work", help="work through batches until told to stop")
    parser.add_argument("--beside", action="store_true", help=argparse.SUPPRESS)
    parser.add_argument(
        "--metrics-port",
        type=int,
        help="serve figures for Prometheus here, to whoever reaches SWING_HOST; a worker beside a "
        "server counts in that server's",
    )
    parser.set_defaults(run=run)


def run(options: argparse.Namespace, settings: Settings) -> None:
    """Work until a signal comes; what is in hand is finished in bounded time."""
    from service.api.http.request_log import log_to_stderr
    from service.api.schemas.many.lines import to_line
    from service.commands.records.opening import opened
    from service.observing.metrics import Metrics
    from service.use_cases.analyse import Analyser
    from service.use_cases.batches.webhook import Sender
    from service.use_cases.batches.work import Worker, WorkerSetup

    log_to_stderr(settings.log_level, settings.log_format)
    stopped = threading.Event()
    _listen(partial(_stop, stopped, settings.shutdown_seconds), options.beside)
    os.nice(_NICENESS)
    metrics = Metrics(None)

    @cache
    def analyser() -> Analyser:
        made = Analyser.of(settings)
        metrics.of_model(made.classifier)
        return made.watched_by(metrics)

    with opened(settings) as database:
        if options.metrics_port is not None:
            _tell(metrics, database, settings.host, options.metrics_port)
        setup = WorkerSetup(
            database=database,
            analyser=analyser,
            metrics=metrics,
            told=to_line,
            sender=Sender(settings.webhook_private),
            archive=settings.archive_root,
            lease=settings.batch_lease_seconds,
            longest=settings.max_body_bytes,
        )
        Worker(setup).run(stopped)


def _tell(metrics: Metrics, database: Database, address: str, port: int) -> None:
    """Serve what this worker counts, and how long the queue is."""
    from service.observing.exposition import backlog_figures, model_figure, serve_alone
    from service.records import RecordsError
    from service.records.batches.backlog import backlog

    def now() -> list[Metric]:
        figures = [model_figure(metrics)]
        try:
            left = backlog(database)
        except RecordsError:
            return figures
        return [*figures, *backlog_figures(left.waiting, left.in_hand, left.oldest, left.callbacks)]

    serve_alone(metrics, address, port, now)


def _listen(stop: Callable[..., None], beside: bool) -> None:
    """Stop at a signal, and with whoever started this."""
    for number in (signal.SIGTERM, signal.SIGINT):
        signal.signal(number, stop)
    if beside:
        threading.Thread(target=_until_alone, args=(stop,), daemon=True).start()


def _stop(stopped: threading.Event, seconds: float, *_: object) -> None:
    """Have what is in hand finished, and end in some seconds whatever comes of it."""
    stopped.set()
    last = threading.Timer(seconds, os._exit, (1,))
    last.daemon = True
    last.start()


def _until_alone(stop: Callable[..., None]) -> None:
    """Wait for whoever started this to end, however it does: then standard input ends too."""
    while os.read(sys.stdin.fileno(), 1024):
        pass
    stop()
