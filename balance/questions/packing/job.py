"""Pieces and sticks in whole numbers, so that sums are exact and equal pieces are equal.

A piece is reckoned with the cut that frees it. The last piece of a stick may end where the stick
ends and then needs no cut, so the room of a stick is its length and one cut.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

METRE = 10**12  # in picometres, so that fifty roundings stay far below the slack
SLACK = 1000  # a stick takes this much more than its length, for lengths that were rounded [pm]


class Sticks(NamedTuple):
    """Rooms of sticks [pm]: all that are on hand, and those that are bought."""

    on_hand: tuple[int, ...]
    bought: tuple[int, ...]

    @property
    def rooms(self) -> tuple[int, ...]:
        """Of all of them, those on hand first."""
        return self.on_hand + self.bought


Fills = tuple[tuple[int, ...], ...]  # places in `sizes` of the pieces of each stick


@dataclass(frozen=True)
class Job:
    """What is to be cut, from what, all in picometres.

    Attributes
    ----------
    sizes : pieces, each with its cut, the longest first
    stock : rooms of the lengths sold, the longest first
    on_hand : rooms of the offcuts that could take a piece, the longest first
    kerf : width of a cut
    """

    sizes: tuple[int, ...]
    stock: tuple[int, ...]
    on_hand: tuple[int, ...]
    kerf: int

    @cached_property
    def kinds(self) -> tuple[tuple[int, int], ...]:
        """Each size once, and how many pieces have it, the longest first."""
        return tuple(sorted(Counter(self.sizes).items(), reverse=True))

    def load(self, pieces: Sequence[int]) -> int:
        """Room that pieces take, by their places."""
        return sum(self.sizes[piece] for piece in pieces)

    def offcut(self, gap: int) -> int:
        """Of a stick that has so much room left: the last cut takes its own."""
        return max(0, gap - self.kerf - SLACK)

    def gap(self, offcut: int) -> int:
        """Room left in a stick that keeps such an offcut."""
        return offcut + self.kerf + SLACK


def picometres(length: float) -> int:
    """Of a length [m]."""
    return round(length * METRE)
