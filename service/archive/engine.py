"""Partitions given to worker processes: Dask on this machine or on a cluster, or none at all."""

from __future__ import annotations

import logging
import signal
import threading
import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import ExitStack, contextmanager
from itertools import islice
from multiprocessing import resource_tracker
from typing import TYPE_CHECKING, Any, Final, TypeVar

from service.archive.errors import ArchiveError, EngineLost

if TYPE_CHECKING:
    from distributed import Client, Future, LocalCluster, as_completed

Job = TypeVar("Job")
Done = TypeVar("Done")

_AHEAD: Final[int] = 3
"""Jobs that a worker has before it, so that it never waits and no list grows with the archive."""
_DEATHS: Final[int] = 10
"""Workers that may die over one partition before it is given up."""
_PATIENCE: Final[int] = 30
"""Seconds to wait for a scheduler or its first worker."""
_LOOK: Final[float] = 2.0
"""Seconds between looks for workers that died."""
_GLANCE: Final[float] = 0.05
"""Seconds between looks for what is done."""
_ABANDONED: Final[float] = 60.0
"""Seconds without any worker after which none is waited for; one that died is begun anew sooner."""

_SETTINGS: Final = {
    "distributed.scheduler.allowed-failures": _DEATHS,
    # What watches the workers otherwise wakes them a hundred times a second, and each time takes
    # the interpreter from the analysis: with the profiler some 5 % of the time.
    "distributed.worker.profile.enabled": False,
    "distributed.worker.memory.monitor-interval": "1s",
    "distributed.admin.system-monitor.interval": "10s",
    "distributed.admin.system-monitor.gil.enabled": False,
    "distributed.admin.tick.interval": "1s",
    # A limit set for it keeps glibc from learning how large our arrays are (mallopt(3)): it then
    # asks the system for each anew, whose pages cost a fifth to two fifths of the analysis' time.
    "distributed.nanny.pre-spawn-environ.MALLOC_TRIM_THRESHOLD_": None,
}
_OWN_PAGES: Final = {"dashboard_address": "127.0.0.1:0"}
"""Any free port, so that two commands at once don't want the same; there is no dashboard on it."""

_GONE: Final = (
    "the scheduler or its workers went away. What is done is kept: run the command again, and it "
    "goes on"
)
_NO_WORKER: Final = (
    "no worker is left: they went away, or ended as they have no service of this version. What is "
    "done is kept: once there are some, run the command again, and it goes on"
)


def run_here(work: Callable[[Job], Done], jobs: Iterable[Job]) -> Iterator[Done]:
    """Do one job after the other in this process."""
    return map(work, jobs)


def run_on_dask(
    work: Callable[[Job], Done], jobs: Iterable[Job], workers: int, scheduler: str | None
) -> Iterator[Done]:
    """Do jobs in worker processes, and give what each returned as it is done, in any order.

    A worker that dies is replaced, and its job done by another. Each process has one thread.

    Parameters
    ----------
    workers
        Processes on this machine; not looked at where a scheduler is given.
    scheduler
        Address of a running one, as ``tcp://host:8786``; its workers must have this version and
        see the same files under the same names.

    Raises
    ------
    EngineLost
        When the scheduler or every worker went away, or a job killed one worker after the other.
    """
    import dask
    from distributed import Client

    logging.getLogger("distributed").setLevel(logging.ERROR)
    logging.getLogger("asyncio").setLevel(logging.CRITICAL)  # of workers that die as they start
    with ExitStack() as stack:
        stack.enter_context(dask.config.set(_SETTINGS))
        try:
            where = scheduler or stack.enter_context(_here(workers))
            if not isinstance(where, str):
                stack.enter_context(_replaced(where, workers))
            client = stack.enter_context(Client(where, timeout=_PATIENCE))
            client.wait_for_workers(1, timeout=_PATIENCE)
        except (OSError, TimeoutError, ValueError) as error:  # the last of an address that is none
            raise EngineLost(
                f"no scheduler or worker at {scheduler or 'this machine'}: {error}"
            ) from error
        yield from _as_done(client, work, jobs)


def _here(workers: int) -> LocalCluster:
    """Worker processes of this machine."""
    from distributed import LocalCluster

    with _interrupts_held():  # by the thread, too, that begins the workers, and so by each of them
        cluster = LocalCluster(
            n_workers=0,
            threads_per_worker=1,
            dashboard_address=None,
            scheduler_kwargs=_OWN_PAGES,
            silence_logs=logging.CRITICAL,
        )
    cluster.scale(workers)
    return cluster


@contextmanager
def _replaced(cluster: LocalCluster, workers: int) -> Iterator[None]:
    """Begin another worker for each that died before it could work; Dask sees to the others.

    Where hardly any comes to life the cluster is closed, which whoever waits for it is told.
    """
    from distributed import Status

    ended = threading.Event()

    def look() -> None:
        known = 0
        while not ended.wait(_LOOK):
            gone = (Status.closed, Status.failed)
            dead = sum(each.status in gone for each in list(cluster.workers.values()))
            if dead > _DEATHS * workers:
                cluster.close()
                return
            if dead != known:
                cluster.scale(workers + dead)
                known = dead

    looking = threading.Thread(target=look)
    looking.start()
    try:
        yield
    finally:
        ended.set()
        looking.join()


@contextmanager
def _interrupts_held() -> Iterator[None]:
    """Keep a Ctrl-C from all that is begun meanwhile: the command hears it, and ends the rest."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    resource_tracker.ensure_running()  # whose start would let interrupts through again
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def _as_done(client: Client, work: Callable[[Job], Done], jobs: Iterable[Job]) -> Iterator[Done]:
    from distributed import CancelledError, KilledWorker, as_completed

    waiting, futures = iter(jobs), as_completed()

    def keep_them_busy() -> None:
        """However many workers there are by now: they come one after the other."""
        room = _AHEAD * max(1, len(client.nthreads())) - futures.count()
        for job in islice(waiting, max(0, room)):
            futures.add(_submit(client, work, job))

    keep_them_busy()
    for future in _finished(client, futures):
        try:
            done = future.result()
            keep_them_busy()
        except ArchiveError:
            raise
        except KilledWorker as error:
            raise EngineLost(
                f"a partition killed its workers one after the other: {error}"
            ) from error
        except (CancelledError, OSError, TimeoutError) as error:
            raise EngineLost(_GONE) from error
        yield done


def _finished(client: Client, futures: as_completed) -> Iterator[Future[Any]]:
    """Futures as they are done, as long as there are workers."""
    looked = seen = time.monotonic()
    while not futures.is_empty():
        if futures.has_ready():
            yield next(futures)
        else:
            time.sleep(_GLANCE)
        now = time.monotonic()
        if now - looked < _LOOK:
            continue
        looked = now
        try:
            seen = now if client.nthreads() else seen
        except OSError as error:
            raise EngineLost(_GONE) from error
        if now - seen > _ABANDONED:
            raise EngineLost(_NO_WORKER)


def _submit(client: Client, work: Callable[[Job], Done], job: Job) -> object:
    return client.submit(work, job, pure=False)
