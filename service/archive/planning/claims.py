"""What partitions that were tagged before keep of the files that may have changed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from service.archive.files.listing import Piece, pieces_of
from service.archive.planning.looking import Base, Found, Wanted, is_never_opened
from service.archive.planning.pieces import Pieces
from service.archive.planning.plan import How, Plan
from service.archive.planning.units import Mask, Numbers, Units, units_of

_OPEN: Final[int] = 8
"""Partitions whose inputs are held at once."""


@dataclass
class _Claim:
    """What is left of a file in a partition, and whether that is all it was."""

    pieces: list[Piece]
    is_whole: bool


def take_over(wanted: Wanted, base: Base, found: Found, pieces: Pieces) -> set[int]:
    """Write down what stays of the partitions of the base; which are stale where written aside."""
    table = base.plan.table
    moved = pa.array([*found.touched, *found.gone], pa.string())
    rows = table.select(["partition", "path"]).filter(pc.is_in(table["path"], value_set=moved))
    where: dict[str, list[int]] = {}
    for row in rows.to_pylist():
        where.setdefault(row["path"], []).append(row["partition"])
    claims = _claims(wanted, base, found, where, pieces)
    affected = {number for numbers in where.values() for number in numbers}
    gone, stale = set(found.gone), set()
    for number in base.plan.partitions:
        if number not in affected:
            pieces.add_whole(base.how(number), base.plan.rows(number))
        elif not _take_over_some(base, number, claims.get(number, {}), gone, pieces):
            stale.add(number)
    return stale


def _take_over_some(
    base: Base, number: int, claims: Mapping[str, _Claim], gone: set[str], pieces: Pieces
) -> bool:
    """Write down what stays of a partition; whether what is written of it aside still holds.

    Parameters
    ----------
    claims
        For every file that may have changed.
    """
    how, before = base.how(number), base.plan.pieces(number)
    left = [piece for piece in before if piece.path not in claims and piece.path not in gone]
    left += [piece for claim in claims.values() for piece in claim.pieces]
    is_whole = all(claim.is_whole for claim in claims.values())
    is_whole &= all(piece.path not in gone for piece in before)
    if how is How.KEPT and not is_whole:
        how = How.CUT
    for piece in left:
        pieces.add(number, how, piece)
    return is_whole and how is not How.CUT


def _claims(
    wanted: Wanted, base: Base, found: Found, where: Mapping[str, list[int]], pieces: Pieces
) -> dict[int, dict[str, _Claim]]:
    """What partitions keep of files that may have changed; new pieces of what is kept by none."""
    claims: dict[int, dict[str, _Claim]] = {}
    seen = lru_cache(maxsize=_OPEN)(base.seen)
    for name, file in found.touched.items():
        if is_never_opened(file):
            free = pieces_of(wanted.archive, file, wanted.most)
            for number in where.get(name, ()):
                claims.setdefault(number, {})[name] = _Claim([], is_whole=False)
        else:
            units = units_of(wanted.archive, file, wanted.longest)
            left = np.ones(units.first.size, dtype=bool)
            for number in dict.fromkeys(where.get(name, ())):
                inputs = seen(number)
                if inputs is None and name in found.doubtful:  # nothing of it was read yet
                    claim, mine = _unread(base.plan, number, units)
                else:
                    claim, mine = _claim(inputs, units, left)
                left &= ~mine
                claims.setdefault(number, {})[name] = claim
            free = units.pieces(left, wanted.most)
        for piece in free:
            found.changed.add(name)
            pieces.add_new(piece)
    for of_files in claims.values():
        found.changed.update(name for name, claim in of_files.items() if not claim.is_whole)
    return claims


def _claim(inputs: pa.Table | None, units: Units, left: Mask) -> tuple[_Claim, Mask]:
    """What a partition that was read keeps of a file, of what no other has kept."""
    first, seen_as = _read_of(inputs, units.path)
    mine = left & units.those_of(first, seen_as)
    is_whole = int(mine.sum()) == np.unique(first).size > 0
    return _Claim([*units.pieces(mine)], is_whole), mine


def _unread(plan: Plan, number: int, units: Units) -> tuple[_Claim, Mask]:
    """What a partition of which nothing was read yet holds of a file: all that it held."""
    pieces = [piece for piece in plan.pieces(number) if piece.path == units.path]
    mine = np.zeros(units.first.size, dtype=bool)
    for piece in pieces:
        mine |= (piece.first <= units.first) & (units.first < piece.first + piece.count)
    return _Claim(pieces, is_whole=True), mine


def _read_of(seen: pa.Table | None, path: str) -> tuple[Numbers, Numbers]:
    """Places and fingerprints of what was read of a file."""
    if seen is None:
        return np.empty(0, np.int64), np.empty(0, np.int64)
    rows = seen.filter(pc.equal(seen["path"].cast(pa.string()), path))
    return rows["first"].to_numpy(), rows["fingerprint"].to_numpy()
