"""Quick ways to cut: good, often the best there is, and nothing proven."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from balance.questions.packing.job import Fills

Sums = NDArray[np.int64]

POOL = 22  # pieces of which all sets are looked at: two halves of 2048 sets each


def best_fit(sizes: Sequence[int], rooms: Sequence[int]) -> Fills | None:
    """Each piece, the longest first, into the stick where it leaves the least room."""
    left = list(rooms)
    fills: list[list[int]] = [[] for _ in rooms]
    for piece, size in enumerate(sizes):
        able = [stick for stick, room in enumerate(left) if room >= size]
        if not able:
            return None
        stick = min(able, key=left.__getitem__)
        left[stick] -= size
        fills[stick].append(piece)
    return tuple(map(tuple, fills))


def one_by_one(sizes: Sequence[int], rooms: Sequence[int]) -> Fills | None:
    """Stick by stick, the shortest first, each as full as it can be."""
    left = list(range(len(sizes)))
    fills: list[tuple[int, ...]] = [()] * len(rooms)
    for stick in sorted(range(len(rooms)), key=rooms.__getitem__):
        fills[stick] = fullest(left, sizes, rooms[stick])
        left = without(left, fills[stick])
    return None if left else tuple(fills)


def without(pieces: Sequence[int], taken: Sequence[int]) -> list[int]:
    """Pieces that are left."""
    gone = set(taken)
    return [piece for piece in pieces if piece not in gone]


def fullest(pieces: Sequence[int], sizes: Sequence[int], room: int) -> tuple[int, ...]:
    """Pieces, longest first, that fill a room as far as can be.

    Of more than can be tried in every set, the longest that fits is taken, as it will be the
    hardest to place, and with it the best set of a choice spread over all lengths.
    """
    able = [piece for piece in pieces if sizes[piece] <= room]
    if sum(sizes[piece] for piece in able) <= room:
        return tuple(able)
    if len(able) <= POOL:
        return _best_set(able, sizes, room)
    first, rest = able[0], able[1:]
    spread = [rest[place * len(rest) // POOL] for place in range(POOL)]
    return (first, *_best_set(spread, sizes, room - sizes[first]))


def _best_set(pieces: Sequence[int], sizes: Sequence[int], room: int) -> tuple[int, ...]:
    """The set, of two halves: to each set of one the longest of the other that still fits."""
    half = len(pieces) // 2
    one, other = (sums_of([sizes[p] for p in part]) for part in (pieces[:half], pieces[half:]))
    order = np.argsort(other, kind="stable")
    ordered = other[order]
    match = np.searchsorted(ordered, room - one, side="right") - 1
    together = np.where(match >= 0, one + ordered[match], -1)
    best = int(np.argmax(together))
    chosen = best | int(order[match[best]]) << half
    return members(pieces, chosen)


def sums_of(sizes: Sequence[int]) -> Sums:
    """Of every set of the pieces; bit n of a set's place says that piece n is in it."""
    sums = np.zeros(1, dtype=np.int64)
    for size in sizes:
        sums = np.concatenate([sums, sums + size])
    return sums


def members(pieces: Sequence[int], chosen: int) -> tuple[int, ...]:
    """Pieces of a set by its place."""
    return tuple(piece for place, piece in enumerate(pieces) if chosen >> place & 1)
