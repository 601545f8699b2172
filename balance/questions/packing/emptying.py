"""A quick way to take pieces out of one stick: fill all others, many times, and keep the best."""

from __future__ import annotations

from collections.abc import Sequence
from random import Random

import numpy as np

from balance.questions.packing.filling import fullest, members, sums_of, without
from balance.questions.packing.job import Fills

DEALT = 16  # pieces left for the last sticks of which every deal is looked at
TRIALS = 40


def emptied(sizes: Sequence[int], rooms: Sequence[int], one: int, *, to: int) -> Fills | None:
    """Pieces placed so that one stick takes as little as can be; none where it takes too much.

    Parameters
    ----------
    sizes : of the pieces, the longest first
    rooms : of the sticks
    one : place of the stick that is to be emptied; it keeps a piece
    to : what it may take at last
    """
    others = sorted((s for s in range(len(rooms)) if s != one), key=rooms.__getitem__)
    chance = Random(1)  # noqa: S311 - the same way to cut for the same pieces
    best: Fills | None = None
    least = rooms[one] + 1
    for _ in range(TRIALS if len(others) > 2 else 1):
        fills: dict[int, list[int]] = {}
        left = list(range(len(sizes)))
        for stick in others[:-2]:
            # Some of the pieces, so that trials differ.
            some = sorted(chance.sample(left, max(1, 3 * len(left) // 4)))
            fills[stick] = list(fullest(some, sizes, rooms[stick]))
            left = without(left, fills[stick])
        deal = _dealt(left, sizes, [rooms[stick] for stick in others[-2:]])
        fills |= zip([*others[-2:], one], deal, strict=True)
        if not fills[one]:  # the others take all: the shortest makes it a stick that is cut
            fills = {stick: without(fill, [len(sizes) - 1]) for stick, fill in fills.items()}
            fills[one] = [len(sizes) - 1]
        load = _load(fills[one], sizes)
        if load < least:
            best, least = tuple(tuple(fills[stick]) for stick in range(len(rooms))), load
        if load <= to:
            break
    return best


def _dealt(pieces: Sequence[int], sizes: Sequence[int], rooms: list[int]) -> list[list[int]]:
    """Pieces of one or two sticks, together as full as can be, and what is left."""
    dealt: list[list[int]] = [[] for _ in rooms]
    rooms = list(rooms)
    free = list(pieces)
    while len(free) > DEALT and rooms:
        # Too many for every deal: the longest go first, where most room is left.
        stick = max(range(len(rooms)), key=rooms.__getitem__)
        if sizes[free[0]] > rooms[stick]:
            break
        rooms[stick] -= sizes[free[0]]
        dealt[stick].append(free.pop(0))
    held, free = free[:-DEALT], free[-DEALT:]
    sums = sums_of([sizes[piece] for piece in free])
    one, other = [*rooms, 0, 0][:2]
    # To each set the fullest that the other stick can take of it, which may be nothing.
    taken = np.where(sums <= other, sums, 0)
    for place in range(len(free)):
        pairs = taken.reshape(-1, 2, 1 << place)
        np.maximum(pairs[:, 1], pairs[:, 0], out=pairs[:, 1])
    together = sums + taken[::-1]  # reversed: what each set leaves
    together[sums > one] = -1
    first = int(together.argmax())
    apart = np.arange(len(sums)) & first == 0
    second = int(np.flatnonzero((sums == taken[~first]) & apart)[0])
    for stick, chosen in zip(range(len(rooms)), (first, second), strict=False):
        dealt[stick] += members(free, chosen)
    return [*dealt, held + list(members(free, len(sums) - 1 - first - second))]


def _load(pieces: Sequence[int], sizes: Sequence[int]) -> int:
    return sum(sizes[piece] for piece in pieces)
