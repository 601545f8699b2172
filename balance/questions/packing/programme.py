"""Integer programmes over the ways to fill a stick: what quick ways leave open, settled.

The sticks are given, and so is the room that will be left in all of them together. No stick but
the one that keeps the long offcut can have more left than that, so the ways to fill one are few
just where a place for all pieces is hard to find. Sticks of one length are one count for each way,
pieces of one length one row, so nothing is told apart that is the same.

Source: gilmore-gomory-1961, for the model of patterns.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import chain, islice
from typing import NamedTuple

import numpy as np

from balance.questions.packing.job import METRE, Fills, Job, Sticks
from balance.questions.packing.patterns import TooManyError, Way, Ways, is_full

TIME_LIMIT = 0.5  # for one programme [s]
MOST_NODES = 2000  # of its tree: most programmes end alike on fast and slow machines
MOST_COLUMNS = 4000


@dataclass(frozen=True)
class Found:
    """What a programme came to.

    Attributes
    ----------
    fills : pieces of each stick; none where there is no way to cut, or none was found
    closed : it went to its end: what it found is the best, and what it did not find is not there
    """

    fills: Fills | None
    closed: bool


class Column(NamedTuple):
    """A way to fill a stick of some room, and the offcut it is to keep, if it is the one."""

    room: int
    way: Way
    keeps: int | None


def fitted(job: Job, sticks: Sticks) -> Found:
    """A place for every piece."""
    spare = sum(sticks.rooms) - sum(job.sizes)
    return _solved(job, sticks, _filled(job, sticks, spare))


def longest(job: Job, sticks: Sticks, *, least: int, most: int) -> Found:
    """A place for every piece so that one stick keeps the longest offcut.

    Parameters
    ----------
    job : what is to be cut
    sticks : all sticks, those on hand may stay whole
    least, most : between which the offcut is sought [pm]; above nothing
    """
    spare = sum(sticks.rooms) - sum(job.sizes) - job.gap(least)
    columns = chain(_long(job, sticks, least, most), _filled(job, sticks, spare))
    return _solved(job, sticks, columns, keeping=True)


def _filled(job: Job, sticks: Sticks, spare: int) -> Iterator[Column]:
    for room in sorted(set(sticks.rooms)):
        if spare >= 0:
            for way in Ways(job.kinds, max(1, room - spare), room):
                if is_full(way, job.kinds, room):
                    yield Column(room, way, None)


def _long(job: Job, sticks: Sticks, least: int, most: int) -> Iterator[Column]:
    for room in sorted(set(sticks.rooms)):
        low, high = max(1, room - job.gap(most)), room - job.gap(least)
        if high >= low:
            for way in Ways(job.kinds, low, high):
                load = sum(number * size for number, (size, _) in zip(way, job.kinds, strict=True))
                yield Column(room, way, job.offcut(room - load))


def _solved(job: Job, sticks: Sticks, ways: Iterable[Column], *, keeping: bool = False) -> Found:
    from scipy.optimize import Bounds, LinearConstraint, milp

    try:
        columns = list(islice(ways, MOST_COLUMNS + 1))
    except TooManyError:
        return Found(None, closed=False)
    if len(columns) > MOST_COLUMNS:
        return Found(None, closed=False)
    if not columns:
        return Found(None, closed=True)
    rooms = sorted(set(sticks.rooms))
    kept = np.array([column.keeps is not None for column in columns])
    take = np.array([column.way for column in columns], dtype=np.float64).T
    use = np.array([[column.room == room for column in columns] for room in rooms], dtype=float)
    there = np.array([sticks.rooms.count(room) for room in rooms], dtype=np.float64)
    wanted = np.array([count for _, count in job.kinds], dtype=np.float64)
    constraints = [
        LinearConstraint(take, lb=wanted),
        LinearConstraint(use, ub=there),
        LinearConstraint(kept[None, :].astype(np.float64), lb=float(keeping), ub=float(keeping)),
    ]
    found = milp(
        -np.array([1e3 * (column.keeps or 0) / METRE for column in columns]),
        integrality=np.ones(len(columns), dtype=np.int64),
        bounds=Bounds(0, np.where(kept, 1, max(there))),
        constraints=constraints,
        options={"time_limit": TIME_LIMIT, "node_limit": MOST_NODES, "mip_rel_gap": 0.0},
    )
    closed = found.status in {0, 2}  # of milp: best found, and none there
    if found.x is None:
        return Found(None, closed)
    times = np.rint(found.x).astype(int).tolist()
    chosen = [column for column, n in zip(columns, times, strict=True) for _ in range(n)]
    return Found(_dealt(job, sticks, chosen), closed)


def _dealt(job: Job, sticks: Sticks, chosen: list[Column]) -> Fills:
    """Pieces given to sticks, first to the one that keeps the offcut; none is given twice."""
    left: dict[int, list[int]] = {size: [] for size, _ in job.kinds}
    for piece in reversed(range(len(job.sizes))):
        left[job.sizes[piece]].append(piece)
    free = list(range(len(sticks.rooms)))
    fills: list[tuple[int, ...]] = [()] * len(free)
    for column in sorted(chosen, key=lambda column: column.keeps is None):
        stick = next(place for place in free if sticks.rooms[place] == column.room)
        free.remove(stick)
        fills[stick] = tuple(
            left[size].pop()
            for (size, _), number in zip(job.kinds, column.way, strict=True)
            for _ in range(min(number, len(left[size])))
        )
    return tuple(fills)
