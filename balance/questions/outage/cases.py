"""Which check valves hold and which fail."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations

MOST_CHECKS = 8
"""Up to so many check valves every combination is tried; our own choice."""


def combinations_of(checks: Sequence[str]) -> Iterator[tuple[str, ...]]:
    """Sets of check valves that fail, all of them first.

    Of more than `MOST_CHECKS`: all, none, each alone, and all but each.
    """
    count = len(checks)
    every = range(count, -1, -1)
    sizes = every if count <= MOST_CHECKS else (count, count - 1, 1, 0)
    for size in sizes:
        yield from combinations(checks, size)
