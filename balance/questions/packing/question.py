"""Pieces packed into sticks: fewest bought, then least bought, then one long offcut."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import combinations_with_replacement
from math import isfinite

from balance.errors import UsageError
from balance.questions.packing import programme
from balance.questions.packing.answer import By, CutStick, Packing
from balance.questions.packing.bounds import may_fit
from balance.questions.packing.emptying import emptied
from balance.questions.packing.ending import STEP, Ending, ended
from balance.questions.packing.filling import best_fit, one_by_one
from balance.questions.packing.job import METRE, SLACK, Fills, Job, Sticks, picometres
from balance.questions.packing.redealing import redealt

MOST_EXACT = 50  # pieces: beyond, quick ways and bounds alone; our own choice
LONGEST = 1000.0  # of a stick or a piece that is taken for one [m]


def pack(
    lengths: Sequence[float], *, stock: Sequence[float], on_hand: Sequence[float] = (), kerf: float
) -> Packing:
    """Say which piece to cut from which stick.

    The fewest lengths are bought; with as many, the least length; and with that, one offcut is as
    long as can be, since one rest is more useful than many stubs.

    Parameters
    ----------
    lengths : of the pieces [m]
    stock : lengths that are sold [m]
    on_hand : offcuts that are there, each once; they cost nothing [m]
    kerf : width of a cut [m]

    Raises
    ------
    UsageError
        A piece is longer than every stick, nothing is sold, or a length is none.
    """
    _refuse(lengths, stock, on_hand, kerf)
    if not lengths:
        return Packing((), 0, 0, 0.0, 0.0, 0.0, 0.0, exact=True, by="bound")
    order = sorted(range(len(lengths)), key=lambda piece: (-lengths[piece], piece))
    cut = picometres(kerf)
    sizes = tuple(picometres(lengths[piece]) + cut for piece in order)
    job = Job(
        sizes=sizes,
        stock=_rooms(set(stock), cut),
        on_hand=tuple(r for r in _rooms(on_hand, cut) if sizes and r >= sizes[-1]),
        kerf=cut,
    )
    count = _first(job, (_longest(job, n) for n in range(len(sizes) + 1)))
    if count is None:
        raise UsageError(
            f"the pieces longer than the {max(stock):g} m sold find no place in the offcuts on "
            "hand; name a longer length that is sold"
        )
    total = _first(job, _mixes(job, len(count.sticks.bought))) or count
    ending = ended(job, _as_good(job, total), exact=len(sizes) <= MOST_EXACT)
    return _told(job, order, count, total, ending)


def _refuse(
    lengths: Sequence[float], stock: Sequence[float], on_hand: Sequence[float], kerf: float
) -> None:
    for what, given in (("piece", lengths), ("length sold", stock), ("offcut on hand", on_hand)):
        for length in given:
            if not (isfinite(length) and 0.0 < length <= LONGEST):
                raise UsageError(
                    f"a {what} of {length:g} m is none; give one above 0 and up to {LONGEST:g} m"
                )
    if not (isfinite(kerf) and 0.0 <= kerf <= LONGEST):
        raise UsageError(f"a cut is not {kerf:g} m wide; give 0 or a little more")
    if not stock:
        raise UsageError("no length is sold; name at least one, such as 10 ft")
    longest = max((*stock, *on_hand))
    for length in lengths:
        if picometres(length) > picometres(longest) + SLACK:
            raise UsageError(
                f"a piece of {length:g} m is longer than every stick; the longest is {longest:g} m"
            )


def _rooms(lengths: Iterable[float], cut: int) -> tuple[int, ...]:
    return tuple(sorted((picometres(length) + cut + SLACK for length in lengths), reverse=True))


@dataclass(frozen=True)
class _Stage:
    """Sticks that take all pieces, how, and the first that were not proven not to."""

    sticks: Sticks
    fills: Fills
    bound: Sticks
    by: By


def _first(job: Job, candidates: Iterable[Sticks]) -> _Stage | None:
    """The first sticks, of some that rise in cost, found to take all pieces."""
    bound: Sticks | None = None
    by: By = "bound" if len(job.sizes) <= MOST_EXACT else "heuristic"
    for sticks in candidates:
        if not may_fit(job.sizes, sticks.rooms):
            continue
        fills, closed = _placed(job.sizes, sticks.rooms), False
        if fills is None and len(job.sizes) <= MOST_EXACT:
            found = programme.fitted(job, sticks)
            fills, closed = found.fills, found.closed
            if closed:
                by = "integer programming"
        if fills is None and not closed:
            fills = redealt(job.sizes, sticks.rooms)
        if bound is None and not (fills is None and closed):
            bound = sticks
        if fills is not None:
            return _Stage(sticks, fills, bound or sticks, by)
    return None


def _placed(sizes: Sequence[int], rooms: Sequence[int]) -> Fills | None:
    """By the first quick way that finds a place for all pieces."""
    return best_fit(sizes, rooms) or one_by_one(sizes, rooms) or _with_shifts(sizes, rooms)


def _with_shifts(sizes: Sequence[int], rooms: Sequence[int]) -> Fills | None:
    longest = max(range(len(rooms)), key=rooms.__getitem__)
    return emptied(sizes, rooms, longest, to=rooms[longest])


def _longest(job: Job, count: int) -> Sticks:
    return Sticks(job.on_hand, job.stock[:1] * count)


def _mixes(job: Job, count: int) -> list[Sticks]:
    """Every choice of so many lengths sold, the least together first."""
    mixes = combinations_with_replacement(job.stock, count)
    return [Sticks(job.on_hand, mix) for mix in sorted(mixes, key=lambda mix: (sum(mix), mix))]


def _as_good(job: Job, total: _Stage) -> list[tuple[Sticks, Fills | None]]:
    """The sticks found, and others that are bought in the same number and length together."""
    bought = total.sticks.bought
    others = [
        (mix, _placed(job.sizes, mix.rooms))
        for mix in _mixes(job, len(bought))
        if sum(mix.bought) == sum(bought) and mix != total.sticks and may_fit(job.sizes, mix.rooms)
    ]
    return [(total.sticks, total.fills), *others]


def _told(job: Job, order: list[int], count: _Stage, total: _Stage, ending: Ending) -> Packing:
    cut, on_hand = job.kerf + SLACK, len(ending.sticks.on_hand)
    sticks = [
        CutStick(
            length=(room - cut) / METRE,
            on_hand=place < on_hand,
            pieces=tuple(order[piece] for piece in sorted(fill)),
            offcut=job.offcut(room - job.load(fill)) / METRE,
        )
        for place, (room, fill) in enumerate(zip(ending.sticks.rooms, ending.fills, strict=True))
        if fill or place >= on_hand
    ]
    bought, fewest = len(total.sticks.bought), len(count.bound.bought)
    length, least = (
        sum(room - cut for room in sticks.bought) for sticks in (total.sticks, total.bound)
    )
    return Packing(
        sticks=tuple(sorted(sticks, key=lambda s: (not s.on_hand, -s.length, s.offcut, s.pieces))),
        bought=bought,
        fewest=fewest,
        bought_length=length / METRE,
        least_length=least / METRE,
        longest_offcut=ending.offcut / METRE,
        offcut_bound=ending.bound / METRE,
        exact=bought == fewest and length == least and ending.bound <= ending.offcut + STEP,
        by=count.by,
    )
