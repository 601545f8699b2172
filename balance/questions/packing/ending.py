"""The stage that seeks one long offcut, when it is settled what is bought."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from balance.questions.packing import programme
from balance.questions.packing.bounds import most_taken
from balance.questions.packing.emptying import emptied
from balance.questions.packing.job import METRE, Fills, Job, Sticks
from balance.questions.packing.redealing import redealt

STEP = METRE // 1000  # an offcut is no more useful for a millimetre; our own choice
WIDENINGS = (1, 8, 64, 512, 4096)  # steps below the bound where the offcut is sought
TURNS = 800  # of dealing anew, for each of them


@dataclass(frozen=True)
class Ending:
    """Pieces of each stick with the longest offcut found, and what none goes beyond [pm].

    Where no place for all pieces was found, the offcut is that of none: below zero.
    """

    sticks: Sticks
    fills: Fills
    offcut: int
    bound: int


def ended(job: Job, mixes: Iterable[tuple[Sticks, Fills | None]], *, exact: bool) -> Ending:
    """The longest offcut, whichever of some equally good sticks keep it.

    Parameters
    ----------
    job : what is to be cut
    mixes : sticks that are as good, each with a first way to cut where one is known
    exact : programmes settle what quick ways leave open
    """
    endings = [quickly_ended(job, sticks, fills) for sticks, fills in mixes]
    best = max(endings, key=_offcut)
    for place, ending in enumerate(endings):
        if exact and ending.bound > best.offcut + STEP:
            endings[place] = settled(job, ending, beyond=best.offcut)
            best = max(best, endings[place], key=_offcut)
    return replace(best, bound=max(best.offcut, *(ending.bound for ending in endings)))


def _offcut(ending: Ending) -> int:
    return ending.offcut


def quickly_ended(job: Job, sticks: Sticks, fills: Fills | None) -> Ending:
    """The longest offcut that quick ways find, from a first way to cut if there is one."""
    bounds = {room: _bound(job, sticks, room) for room in sticks.rooms}
    best, offcut = fills or (), longest_offcut(job, sticks, fills) if fills else -1
    for room in sorted(bounds, key=lambda room: (-bounds[room], -room)):
        if bounds[room] > offcut + STEP:
            place = sticks.rooms.index(room)
            to = room - job.gap(bounds[room] - STEP)
            tried = emptied(job.sizes, sticks.rooms, place, to=to)
            if tried is not None and longest_offcut(job, sticks, tried) > offcut:
                best, offcut = tried, longest_offcut(job, sticks, tried)
            for widening in WIDENINGS[:3]:
                wanted = bounds[room] - widening * STEP
                if wanted <= offcut + STEP:
                    break
                less = [*sticks.rooms]
                less[place] = room - job.gap(wanted)
                tried = redealt(job.sizes, less, turns=TURNS)
                if tried is not None:
                    best, offcut = tried, longest_offcut(job, sticks, tried)
                    break
    return Ending(sticks, best, offcut, max(bounds.values()))


def settled(job: Job, ending: Ending, *, beyond: int) -> Ending:
    """A longer offcut than is known already, sought by programmes ever further below the bound."""
    start = ending.bound
    for widening in WIDENINGS:
        least = max(beyond - STEP, start - widening * STEP)
        if least > ending.bound:
            break
        found = programme.longest(job, ending.sticks, least=least, most=ending.bound)
        if found.fills is not None:
            offcut = longest_offcut(job, ending.sticks, found.fills)
            ending = replace(ending, fills=found.fills, offcut=offcut)
            return replace(ending, bound=offcut) if found.closed else ending
        if not found.closed:
            break
        ending = replace(ending, bound=least)
    return ending


def longest_offcut(job: Job, sticks: Sticks, fills: Fills) -> int:
    """Of the sticks that are cut or bought [pm]."""
    return max(
        job.offcut(room - job.load(fill))
        for place, (room, fill) in enumerate(zip(sticks.rooms, fills, strict=True))
        if fill or place >= len(sticks.on_hand)
    )


def _bound(job: Job, sticks: Sticks, room: int) -> int:
    """What no offcut of a stick of this room goes beyond.

    All others would be as full as they can be, or but one piece cut.
    """
    taken = sum(most_taken(job.sizes, other) for other in sticks.rooms)
    left = room - (sum(job.sizes) - taken + most_taken(job.sizes, room))
    return job.offcut(min(left, room - job.sizes[-1]))
