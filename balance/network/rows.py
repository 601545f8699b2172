"""Rows of (rows, S) arrays: picking them and adding them up, cheaply for any number of scenarios.

Whole rows are contiguous, so moving and adding them runs at the speed of memory; numpy's own
`reduceat` and `add.at` go number by number and take ten times as long.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]
Rows = Ints | slice


def rows(numbers: Iterable[int]) -> Rows:
    """Row numbers in the cheapest form: a slice where they follow one another."""
    array = np.fromiter(numbers, dtype=np.intp)
    if len(array) and (np.diff(array) == 1).all():
        return slice(int(array[0]), int(array[-1]) + 1)
    return array


def pick(source: Floats, wanted: Rows) -> Floats:
    """Those rows of an array: a view of it, or a copy."""
    return source[wanted] if isinstance(wanted, slice) else source.take(wanted, axis=0)


@dataclass(frozen=True)
class RowSum:
    """Adds rows of one array into rows of another, in rounds that meet no target twice."""

    rounds: tuple[tuple[Rows, Rows], ...]  # source rows, target rows

    def total(self, source: Floats, *, rows: int) -> Floats:
        """The sums (rows, S); zero where nothing is added."""
        target = np.zeros((rows, source.shape[1]))
        for turn, (origin, into) in enumerate(self.rounds):
            if turn:
                target[into] += pick(source, origin)
            else:
                target[into] = pick(source, origin)
        return target

    def add(self, target: Floats, source: Floats) -> None:
        """Adds to `target`, in place."""
        for origin, into in self.rounds:
            target[into] += pick(source, origin)

    def subtract(self, target: Floats, source: Floats) -> None:
        """Takes from `target`, in place."""
        for origin, into in self.rounds:
            target[into] -= pick(source, origin)


def row_sum(pairs: Iterable[tuple[int, int]]) -> RowSum:
    """Plan of an addition from pairs of a source row and the target row to which it is added."""
    rounds: list[list[tuple[int, int]]] = []
    met: dict[int, int] = {}
    for origin, into in pairs:
        turn = met.get(into, 0)
        met[into] = turn + 1
        if turn == len(rounds):
            rounds.append([])
        rounds[turn].append((origin, into))
    return RowSum(
        tuple(
            (rows(origin for origin, _ in turn), rows(into for _, into in turn)) for turn in rounds
        )
    )


@dataclass(frozen=True)
class Placed:
    """Where the parts of one kind stand.

    Attributes
    ----------
    of : (N,) row of the run of each part
    """

    of: Ints
    _of: Rows
    _onto: RowSum

    def pick(self, runs: Floats) -> Floats:
        """The value of each part's run, from values of all runs."""
        return pick(runs, self._of)

    def add(self, runs: Floats, parts: Floats) -> None:
        """Adds values of the parts to those of their runs, in place."""
        self._onto.add(runs, parts)


def placed(of: Iterable[int]) -> Placed:
    """Parts in runs of the given rows."""
    numbers = [int(row) for row in of]
    return Placed(np.array(numbers, dtype=np.intp), rows(numbers), row_sum(enumerate(numbers)))
