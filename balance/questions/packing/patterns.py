"""Ways to fill one stick."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import accumulate

FINENESS = 17  # bits: sums are looked up on a grid of a 131072nd of the window's end
MOST_STEPS = 60_000  # of one search, about a quarter of a second

Way = tuple[int, ...]  # how many pieces of each kind


class TooManyError(Exception):
    """More ways to fill a stick than can be looked through."""


class Ways:
    """Ways to take pieces whose sizes together lie in a window, both ends in it.

    Sums that the kinds from each on can reach are held as bits of a grid, so that the search
    enters no branch that ends outside the window. A sum of n sizes, each rounded down to the
    grid, lies less than n cells too low.
    """

    def __init__(self, kinds: Sequence[tuple[int, int]], low: int, high: int) -> None:
        """Takes each size and how many pieces have it, the longest first."""
        self.kinds, self.low, self.high = kinds, low, high
        self.steps = 0
        self.cell = max(1, high >> FINENESS)
        mask = (1 << high // self.cell + 1) - 1
        self.reach = [1]
        for size, count in reversed(kinds):
            sums = self.reach[-1]
            for _ in range(min(count, high // size)):
                sums |= sums << size // self.cell & mask
            self.reach.append(sums)
        self.reach.reverse()
        counts = (min(count, high // kinds[-1][0]) for _, count in reversed(kinds))
        self.deepest = [0, *accumulate(counts)][::-1]

    def __iter__(self) -> Iterator[Way]:
        """Each way once.

        Raises
        ------
        TooManyError
            The search takes too long.
        """
        yield from self._from((), 0)

    def _from(self, taken: Way, load: int) -> Iterator[Way]:
        kind = len(taken)
        self.steps += 1
        if self.steps > MOST_STEPS:
            raise TooManyError
        if kind == len(self.kinds):
            if load >= self.low:
                yield taken
            return
        lowest = max(0, (self.low - load) // self.cell - self.deepest[kind])
        width = (self.high - load) // self.cell - lowest + 1
        if width > 0 and self.reach[kind] >> lowest & (1 << width) - 1:
            size, count = self.kinds[kind]
            for number in range(min(count, (self.high - load) // size), -1, -1):
                yield from self._from((*taken, number), load + number * size)


def load_of(way: Way, kinds: Sequence[tuple[int, int]]) -> int:
    """Room that the pieces of a way take."""
    return sum(number * size for number, (size, _) in zip(way, kinds, strict=True))


def is_full(way: Way, kinds: Sequence[tuple[int, int]], room: int) -> bool:
    """Whether no piece can be added."""
    left = room - load_of(way, kinds)
    return not any(
        number < count and size <= left for number, (size, count) in zip(way, kinds, strict=True)
    )
