"""From one state of results to the next: a folder is at every moment in the one or in the other."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Final

import pyarrow as pa

from service.archive.errors import Damaged
from service.archive.files.fingerprints import SEEN
from service.archive.planning.changes import draft
from service.archive.planning.looking import Wanted
from service.archive.planning.plan import (
    NEXT,
    PLAN,
    How,
    Plan,
    finish_plan,
    open_plan,
    sweep_plans,
    write_plan,
)
from service.archive.planning.writing import told_if_not_written
from service.archive.results import done, part, read_whole

_ASIDE: Final[str] = "_state-*"
_PARTS: Final[str] = "*/part-*.parquet"


class Begun:
    """What a folder of results holds of a plan, finished or not.

    Parameters
    ----------
    mark
        Name of the table that is written last.
    """

    def __init__(self, plan: Plan, mark: str) -> None:
        self.plan = plan
        self._there, self._aside = done(plan.folder, mark), done(plan.aside, mark)

    def how(self, partition: int) -> How:
        """As planned, unless what should be there is there no more."""
        how = How.KEPT if self.plan.is_finished else self.plan.how(partition)
        return how if how is How.NEW or partition in self._there else How.NEW

    def seen(self, partition: int) -> pa.Table | None:
        """What was read of a partition, or is to be cut."""
        if self.how(partition) is not How.NEW:
            return _seen(self.plan.folder, partition)
        return _seen(self.plan.aside, partition) if partition in self._aside else None


class Another:
    """Results of another maker, whose archive is tagged anew in the same partitions."""

    def __init__(self, plan: Plan) -> None:
        self.plan = plan

    def how(self, _: int) -> How:
        """Anew."""
        return How.NEW

    def seen(self, partition: int) -> pa.Table | None:
        """What was read of a partition then."""
        return _seen(self.plan.folder, partition)


def _seen(folder: Path, partition: int) -> pa.Table | None:
    try:
        return read_whole(folder, SEEN, partition)
    except Damaged:
        return None  # then nothing is known of it, and it is tagged anew


def begun(folder: Path, mark: str) -> Begun | None:
    """What there is in a folder, put in order where a killed command left it otherwise.

    Raises
    ------
    Damaged, NotWritten
    """
    if not (folder / PLAN).is_dir():
        return None
    finished, worked_on = open_plan(folder), open_plan(folder, NEXT)
    with told_if_not_written(folder):
        if finished:
            _put_in_place(finished)
        kept = {plan.aside for plan in (finished, worked_on) if plan}
        for aside in folder.glob(_ASIDE):
            if aside not in kept:
                shutil.rmtree(aside)
            for half in aside.glob("*/.part-*"):  # what killed workers left half written
                half.unlink(missing_ok=True)
        sweep_plans(folder)
    plan = worked_on or finished
    return Begun(plan, mark) if plan else None


def open_partitions(plan: Plan, mark: str) -> list[int]:
    """Partitions that are still to be done."""
    if plan.is_finished:
        return []
    ready = done(plan.aside, mark)
    return [n for n in plan.partitions if n not in ready and plan.how(n) is not How.KEPT]


def bring_up_to_date(wanted: Wanted, base: Begun | Another | None, mark: str) -> Plan:
    """The plan to work on: that of the base, or another where the archive is not as it was.

    Raises
    ------
    ChangedArchive, EmptyArchive, NotWritten
    """
    drafted = draft(wanted, base)
    if drafted is None:
        assert base is not None  # or there would be a draft
        return base.plan
    if isinstance(base, Begun):
        # Before the plan is another, or what they hold would be taken for what it wants.
        with told_if_not_written(wanted.out):
            for number in drafted.stale:
                part(base.plan.aside, mark, number).unlink(missing_ok=True)
    return write_plan(wanted.out, drafted.header)


def finish(plan: Plan) -> Plan:
    """Make what is written aside, which is all there, the results.

    Raises
    ------
    NotWritten
    """
    if plan.is_finished:
        return plan
    with told_if_not_written(plan.folder):
        plan.aside.mkdir(exist_ok=True)
        finish_plan(plan)
        finished = Plan(plan.folder, plan.header, is_finished=True)
        _put_in_place(finished)
        sweep_plans(plan.folder)
    return finished


def _put_in_place(plan: Plan) -> None:
    """Move partitions of a finished plan from aside to where they belong, and delete all others."""
    if not plan.aside.exists():
        return
    numbers = set(plan.partitions)
    for path in plan.aside.glob(_PARTS):
        if _number(path) in numbers:
            place = plan.folder / path.relative_to(plan.aside)
            place.parent.mkdir(exist_ok=True)
            path.replace(place)
    for path in plan.folder.glob(_PARTS):
        if _number(path) not in numbers:
            path.unlink()
    shutil.rmtree(plan.aside)


def _number(path: Path) -> int:
    return int(path.stem.removeprefix("part-"))
