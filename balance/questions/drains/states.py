"""Blockages, siphons that are full or not, and what may come in: every case of one vessel."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations
from math import pi

import numpy as np
from numpy.typing import NDArray

from balance.parts.gravity import FULL_FROM, SELF_VENTING, SURELY_FULL
from balance.parts.weirs import LIP_UP_TO
from balance.questions.drains.answer import Capacity, Case, DrainFlow, Regime, Supplied, Surface
from balance.questions.drains.levels import Overflow, Standing

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

MOST_BLOCKED = 2
NOTHING = 1e-9  # of an inflow, less than which neither flows nor runs over, and ...
DROPS = 1e-12  # ... less in any case [m³/s], a glass in a year


@dataclass(frozen=True)
class Loads:
    """What comes into a vessel in some situations K.

    Attributes
    ----------
    when : names of the situations
    own : into it by pipes and from above (K,) [m³/s]
    fed : over the weirs of its feeds (F, K) [m³/s]
    """

    when: tuple[Supplied, ...]
    own: Floats
    fed: Floats

    @property
    def total(self) -> Floats:
        """All of it, (K,) [m³/s]."""
        return np.asarray(self.own + self.fed.sum(axis=0))

    def take(self, columns: Sequence[int]) -> tuple[Floats, Floats]:
        """Own and fed water of some situations, which may repeat."""
        return self.own[list(columns)], self.fed[:, list(columns)]


def blockages(overflow: Overflow, *, most: int = MOST_BLOCKED) -> Iterator[tuple[int, ...]]:
    """Nothing, each drain and each two drains; those that are shut carry nothing anyway."""
    open_ = [place for place, drain in enumerate(overflow.drains) if not drain.shut]
    for count in range(most + 1):
        yield from combinations(open_, count)


def states(overflow: Overflow, blocked: Sequence[int]) -> tuple[bool, ...]:
    """Whether siphons may be full and not, or only not, with some drains blocked."""
    left = overflow.siphons.copy()
    left[list(blocked)] = False
    return (True, False) if left.any() else (False,)


def masks(overflow: Overflow, cases: Sequence[tuple[tuple[int, ...], bool]]) -> tuple[Bools, Bools]:
    """Which drains (J, C) are blocked and which are full in cases of blockage and state."""
    blocked = np.zeros((len(overflow.drains), len(cases)), dtype=np.bool_)
    primed = np.zeros_like(blocked)
    for column, (lost, full) in enumerate(cases):
        blocked[list(lost), column] = True
        primed[:, column] = full & overflow.siphons & ~blocked[:, column]
    return blocked, primed


def covered_at(overflow: Overflow, place: int) -> float:
    """Level from which an inlet is covered: where its lip is no weir any more [m]."""
    drain = overflow.drains[place]
    return drain.inlet + LIP_UP_TO * drain.lip_bore


def cases_of(
    overflow: Overflow, loads: Loads, *, most_blocked: int = MOST_BLOCKED
) -> tuple[tuple[Case, ...], float]:
    """Every case, and the most that any of them fails to close by, as a share of its inflow."""
    lost_ = blockages(overflow, most=most_blocked)
    states_ = [(lost, full) for lost in lost_ for full in states(overflow, lost)]
    every = [(state, k) for state in states_ for k in range(len(loads.when))]
    blocked, primed = masks(overflow, [state for state, _ in every])
    own, fed = loads.take([k for _, k in every])
    most = running_full(overflow, blocked)
    found = overflow.standing(own, fed, blocked, primed)
    total = own + fed.sum(axis=0)
    off = np.divide(found.off, total, out=np.zeros_like(total), where=total > 0.0)
    return tuple(
        _case(
            overflow,
            found,
            column,
            loads.when[k],
            inflow=float(total[column]),
            most=float(most[column]),
            blocked=blocked,
            primed=primed,
        )
        for column, (_, k) in enumerate(every)
    ), float(off.max(initial=0.0))


def _case(
    overflow: Overflow,
    found: Standing,
    column: int,
    when: Supplied,
    *,
    inflow: float,
    most: float,
    blocked: Bools,
    primed: Bools,
) -> Case:
    level, out, full = float(found.level[column]), blocked[:, column], primed[:, column]
    least = max(NOTHING * inflow, DROPS)
    spills = float(found.spilt[column])
    spills = spills if spills > least else 0.0
    tanks = tuple(
        Surface(
            tank=feed.tank,
            level=float(found.tanks[place, column]),
            rim=feed.rim,
            spills=over if (over := float(found.spilt_tanks[place, column])) > least else 0.0,
        )
        for place, feed in enumerate(overflow.feeds)
    )
    flooded = [overflow.vessel] if spills else []
    flooded += [tank.tank for tank in tanks if tank.spills and tank.tank not in flooded]
    rims = [(overflow.rim, level), *((tank.rim, tank.level) for tank in tanks)]
    return Case(
        blocked=tuple(d.name for d, lost in zip(overflow.drains, out, strict=True) if lost),
        primed=bool(full.any()),
        lasts=lasts(overflow, level, out, full),
        when=when,
        inflow=inflow,
        level=None if spills and not overflow.bounded else level,
        rim=overflow.rim,
        spills=spills,
        tanks=tanks,
        drains=tuple(
            _drain(overflow, place, level, float(found.flow[place, column]), out, full, least)
            for place in range(len(overflow.drains))
        ),
        margin=min((rim - at for rim, at in rims if rim is not None), default=None),
        floods=tuple(flooded),
        overflow=spills + sum(tank.spills for tank in tanks),
        running_full=most,
    )


def lasts(overflow: Overflow, level: float, blocked: Bools, primed: Bools) -> bool:
    """Whether siphons that are full keep so, or those that are not do not fill."""
    places = [int(place) for place in np.flatnonzero(overflow.siphons & ~blocked)]
    at = np.array(level)
    if not primed.any():
        return not any(fills(overflow, place, level) >= FULL_FROM for place in places)
    wet = [place for place in places if level > overflow.drains[place].inlet]
    return bool(wet) and all(
        overflow.covered(place, at)
        and overflow.drains[place].froude(overflow.full(place, at)) >= FULL_FROM
        for place in wet
    )


def fills(overflow: Overflow, place: int, level: float) -> float:
    """Froude number that would sweep the air out of a siphon; 0 where its inlet is not covered."""
    if level < covered_at(overflow, place):
        return 0.0
    return float(overflow.drains[place].froude(overflow.full(place, np.array(level))))


def running_full(overflow: Overflow, blocked: Bools) -> Floats:
    """The most that is carried if drains of any role run full that fill before a rim is passed.

    Of role siphon or not: those whose inlets are covered, and whose Froude numbers are 1 or more,
    once the water stands at the rim with all of them open.
    """
    none = np.zeros_like(blocked)
    full = overflow.able[:, None] & ~blocked
    for column, level in enumerate(overflow.level_at_rim(blocked, none)):
        for place in map(int, np.flatnonzero(full[:, column])):
            full[place, column] = fills(overflow, place, float(level)) >= FULL_FROM
    return np.maximum(overflow.greatest(blocked, full), overflow.greatest(blocked, none))


def _drain(
    overflow: Overflow,
    place: int,
    level: float,
    flow: float,
    blocked: Bools,
    primed: Bools,
    least: float,
) -> DrainFlow:
    drain = overflow.drains[place]
    froude = float(drain.froude(flow))
    return DrainFlow(
        drain=drain.name,
        flow=flow,
        regime="blocked" if blocked[place]
        else "dry" if flow <= least
        else regime(overflow, place, level, flow, full=bool(primed[place])),
        froude=froude,
        velocity=flow / (pi / 4 * drain.narrowest**2),
    )  # fmt: skip


def regime(overflow: Overflow, place: int, level: float, flow: float, *, full: bool) -> Regime:
    """How a drain that carries water runs."""
    drain, at = overflow.drains[place], np.array(level)
    if not full:
        return "gulps" if drain.lip_flow(at) > drain.safe else "open"
    if not overflow.covered(place, at):
        return "sucks air" if flow > drain.safe else "open"
    froude = float(drain.froude(flow))
    if froude >= SURELY_FULL:
        return "surely full"
    if froude >= FULL_FROM:
        return "full bore"
    return "gulps" if froude > SELF_VENTING else "open"


def capacities_of(overflow: Overflow) -> tuple[Capacity, ...]:
    """The most that it takes whole, with the worst drain blocked and with the worst two."""
    lost = list(blockages(overflow))
    blocked, full = masks(overflow, [(each, True) for each in lost])
    primed = overflow.greatest(blocked, full)
    unprimed = overflow.greatest(blocked, np.zeros_like(full))
    level = overflow.level_at_rim(blocked, full)
    found = []
    for column, names in enumerate(lost):
        keeps = full[:, column].any() and lasts(
            overflow, float(level[column]), blocked[:, column], full[:, column]
        )
        found.append(
            Capacity(
                blocked=len(names),
                which=tuple(overflow.drains[place].name for place in names),
                primed=float(primed[column]),
                unprimed=float(unprimed[column]),
                safe=float((primed if keeps else unprimed)[column]),
            )
        )
    counts = sorted({each.blocked for each in found})
    return tuple(
        min((each for each in found if each.blocked == count), key=lambda each: each.safe)
        for count in counts
    )
