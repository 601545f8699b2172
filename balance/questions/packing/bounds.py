"""What no way to cut can do better."""

from __future__ import annotations

from collections.abc import Sequence

from balance.questions.packing.filling import POOL, fullest


def may_fit(sizes: Sequence[int], rooms: Sequence[int]) -> bool:
    """Whether sticks could take the pieces, as far as two bounds can tell.

    Not so if the pieces together are longer than what the sticks can take at most, nor if they
    break the bound L2, here for sticks of more than one length. A stick of room c is the measure.
    For a threshold a up to c/2, a piece longer than c - a weighs 1, one shorter than a nothing, any
    other its share of c. Pieces that fit into c weigh 1 at most; those in a stick of c - a or
    shorter at most its share of c; and none weighs more than 1/(c - a) for its length, which bounds
    a stick longer than c.

    Source: martello-toth-1990, section 8.3.2, for equal sticks.
    """
    if sum(sizes) > sum(most_taken(sizes, room) for room in rooms):
        return False
    return not any(_too_heavy(sizes, rooms, measure) for measure in set(rooms))


def most_taken(sizes: Sequence[int], room: int) -> int:
    """What no pieces in a stick go beyond: the fullest of all sets where these are few enough.

    A short stick takes few of the pieces, and seldom a set of them that fills it.
    """
    able = [piece for piece, size in enumerate(sizes) if size <= room]
    if len(able) > POOL:
        return room
    return sum(sizes[piece] for piece in fullest(able, sizes, room))


def _too_heavy(sizes: Sequence[int], rooms: Sequence[int], c: int) -> bool:
    halves = {size for size in sizes if 2 * size <= c}
    for a in sorted(halves | {c // 2}):
        weight = sum(c if size > c - a else size for size in sizes if size >= a)
        borne = sum(
            room if room <= c - a else c if room <= c else c * room // (c - a) for room in rooms
        )
        if weight > borne:
            return True
    return False
