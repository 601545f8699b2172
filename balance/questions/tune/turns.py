"""What a log says of the moves of a walk."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from balance.plan.reading import Reading

NUDGES = 2  # of one handle, that go with one move; our own choice


@dataclass(frozen=True)
class Turns:
    """The moves after the first readings.

    Attributes
    ----------
    start : readings before any handle was turned
    moved : valves turned since, in order, again each time they were come back to, or nudged more
        often than goes with one move
    nudges : of the last of them
    """

    start: int
    moved: tuple[str, ...]
    nudges: int

    @property
    def last(self) -> str:
        """The valve that was turned last; empty before the first."""
        return self.moved[-1] if self.moved else ""


def turns_of(readings: Sequence[Reading], *, before: int = 0) -> Turns:
    """Follows a log.  What was turned before its first reading is where the walk begins.

    Parameters
    ----------
    before : readings that were taken before the walk
    """
    first = max(before, 1)
    start = next(
        (n for n, each in enumerate(readings) if n >= first and each.turned), len(readings)
    )
    moved: list[str] = []
    nudges = 0
    for each in readings[start:]:
        for turned in each.turned:
            if not moved or moved[-1] != turned.valve or nudges == NUDGES:
                moved.append(turned.valve)
                nudges = 0
            else:
                nudges += 1
    return Turns(start, tuple(moved), nudges)
