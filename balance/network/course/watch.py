"""What may happen next: functions of the stores that pass through zero when it does."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from balance.network.course.answer import Event, Kind
from balance.network.course.mouths import IN
from balance.network.course.plumbing import Modes, Plumbing

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Stop:
    """When a simulation ends before its time: once so much has passed in a stretch.

    Attributes
    ----------
    stretch : name of a run, branch, drain or pump
    volume : [m³]
    """

    stretch: str
    volume: float


@dataclass(frozen=True)
class Watch:
    """Something to wait for.

    Attributes
    ----------
    kind, name, vessel : of its event
    height : of the surface at which it happens [m]
    falling : whether the surface comes from above
    then : modes after it; None where nothing changes
    """

    kind: Kind
    name: str
    vessel: str
    height: float
    falling: bool
    then: Callable[[Modes], Modes] | None

    def event(self, time: float) -> Event:
        """It, having happened."""
        return Event(time, self.kind, self.name, self.vessel)


def watches(
    plumbing: Plumbing, modes: Modes, *, holes: bool, primes: Mapping[str, float]
) -> Iterator[Watch]:
    """All that may happen from these modes on.

    Parameters
    ----------
    holes : siphon breaks let air in
    primes : from a drain to the level of its vessel at which it begins to run full [m]
    """
    finite = {n for n, basin in zip(plumbing.vessels, plumbing.basins, strict=True) if basin}
    for place, mouth in enumerate(plumbing.mouths.each):
        height = mouth.breaks_at(holes=holes)
        if mouth.vessel not in finite or mouth.free or height is None or place in modes.aired:
            continue
        empty = place in modes.empty
        yield Watch(
            kind="uncovered" if mouth.way == IN else "wet" if empty else "dry",
            name=mouth.name,
            vessel=mouth.vessel,
            height=height,
            falling=not empty,
            then=_wetted(place) if empty else _aired(place),
        )
    for drain in plumbing.drains:
        if drain.name in primes and drain.name not in modes.primed:
            yield Watch(
                kind="primed",
                name=drain.name,
                vessel=drain.vessel,
                height=primes[drain.name],
                falling=False,
                then=_filled(drain.name),
            )
    for name in plumbing.vessels:
        rim = plumbing.plan.vessels[name].rim
        if rim is not None and name in finite:
            yield Watch("rim", name, name, rim, falling=False, then=None)


def _aired(place: int) -> Callable[[Modes], Modes]:
    return lambda modes: replace(modes, aired=modes.aired | {place})


def _wetted(place: int) -> Callable[[Modes], Modes]:
    return lambda modes: replace(modes, empty=modes.empty - {place})


def _filled(drain: str) -> Callable[[Modes], Modes]:
    return lambda modes: replace(modes, primed=modes.primed | {drain})


def at_start(plumbing: Plumbing, levels: Floats, *, holes: bool, primed: frozenset[str]) -> Modes:
    """Modes at levels of vessels (V,): what a surface lies below is in the air."""
    number = {name: row for row, name in enumerate(plumbing.vessels)}
    aired: set[int] = set()
    empty: set[int] = set()
    for place, mouth in enumerate(plumbing.mouths.each):
        height = mouth.breaks_at(holes=holes)
        if mouth.vessel not in number or mouth.free or height is None:
            continue
        if levels[number[mouth.vessel]] <= height:
            (aired if mouth.way == IN else empty).add(place)
    return Modes(frozenset(aired), frozenset(empty), primed)
