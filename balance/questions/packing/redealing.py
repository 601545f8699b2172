"""A quick way out where the first ones fail: deal the pieces of a few sticks anew, many times."""

from __future__ import annotations

from collections.abc import Sequence
from random import Random

from balance.questions.packing.filling import fullest, without
from balance.questions.packing.job import Fills

TURNS = 10_000  # about a second for fifty pieces
HELD = 0.7  # share of turns in which a stick is begun with a piece by chance, so that turns differ
WORSE = 0.005  # share of turns that may place less than before, to come out of a corner


def redealt(sizes: Sequence[int], rooms: Sequence[int], *, turns: int = TURNS) -> Fills | None:
    """A place for every piece; none where the turns run out.

    In each turn two or three sticks are emptied, and filled one after the other as full as can be
    out of what was in them and what has no place yet.

    Parameters
    ----------
    sizes : of the pieces, the longest first
    rooms : of the sticks
    """
    if not rooms:
        return None
    chance = Random(1)  # noqa: S311 - the same way to cut for the same pieces
    fills: list[list[int]] = []
    left = list(range(len(sizes)))
    for room in rooms:
        fills.append(list(fullest(left, sizes, room)))
        left = without(left, fills[-1])
    for _ in range(turns):
        if not left:
            return tuple(tuple(fill) for fill in fills)
        sticks = chance.sample(range(len(rooms)), min(len(rooms), chance.choice((2, 2, 3))))
        before = [piece for stick in sticks for piece in fills[stick]]
        dealt, rest = _dealt(sorted(left + before), sizes, [rooms[s] for s in sticks], chance)
        after = [piece for fill in dealt for piece in fill]
        if _load(after, sizes) >= _load(before, sizes) or chance.random() < WORSE:
            for stick, fill in zip(sticks, dealt, strict=True):
                fills[stick] = fill
            left = rest
    return None


def _dealt(
    pieces: list[int], sizes: Sequence[int], rooms: Sequence[int], chance: Random
) -> tuple[list[list[int]], list[int]]:
    """Pieces of each of some sticks, and what is left."""
    dealt = []
    for room in rooms:
        first = [chance.choice(pieces)] if pieces and chance.random() < HELD else []
        if first and sizes[first[0]] > room:
            first = []
        others = without(pieces, first)
        dealt.append([*first, *fullest(others, sizes, room - _load(first, sizes))])
        pieces = without(pieces, dealt[-1])
    return dealt, pieces


def _load(pieces: Sequence[int], sizes: Sequence[int]) -> int:
    return sum(sizes[piece] for piece in pieces)
