"""The water level at which the drains of a vessel carry all that comes in."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from functools import cached_property
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from balance.network.gravity import GravityDrain
from balance.parts import weirs
from balance.plan.model import OUTSIDE, Plan, Weir

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

SEARCHED = 1.0
"""How far above the highest inlet a level is looked for where no rim bounds it [m]; our own
choice."""

_NARROW = 1e-13  # [m], between the bounds of a level that is found
_NOTHING = 1e-15  # of what is to be zero, as flow [m³/s]
_STEPS = 200  # at most; a dozen will mostly do
_HALVE_EACH = 4  # of so many steps one goes to the middle, whatever the others gain
_OPEN_AIR = -1e3  # [m], a surface far below every edge


class Edge(NamedTuple):
    """A weir: height and clear length of its crest [m]."""

    crest: float
    length: float


@dataclass(frozen=True)
class Feed:
    """A tank that spills into the vessel.

    Attributes
    ----------
    tank : its name
    rim : of the tank [m]; None where the plan does not say
    edges : over which it spills here
    share : of all that leaves the tank, by length of edge [ratio]
    """

    tank: str
    rim: float | None
    edges: tuple[Edge, ...]
    share: float

    def flow(self, tank: Floats, level: Floats) -> Floats:
        """What comes over the edges at levels of the tank and of the vessel behind [m³/s]."""
        return np.asarray(
            sum(
                weirs.drowned(tank - edge.crest, level - edge.crest, length=edge.length)
                for edge in self.edges
            )
        )

    def tank_level(self, flow: Floats, level: Floats) -> Floats:
        """Level of the tank at which a flow comes over, drowned by the vessel behind [m]."""
        lowest = min(edge.crest for edge in self.edges)
        low = np.full(np.shape(flow), lowest)
        over = [
            np.maximum(level, edge.crest) + weirs.straight_head(flow, length=edge.length)
            for edge in self.edges
        ]
        high = np.maximum(np.min(over, axis=0), low)
        return rising_root(lambda tank: self.flow(tank, level) - flow, low, high)


class Standing(NamedTuple):
    """Where the water stands in some cases C, and what flows."""

    level: Floats  # (C,) in the vessel; at its rim or the top of the search where that is passed
    tanks: Floats  # (F, C) in the tanks that feed it; at their rims where those are passed
    flow: Floats  # (J, C) of drains
    edges: Floats  # (W, C) over the vessel's own edges
    spilt: Floats  # (C,) over the rim of the vessel
    spilt_tanks: Floats  # (F, C) over the rims of tanks
    off: Floats  # (C,) flow that does not close


@dataclass(frozen=True)
class Overflow:
    """A vessel with drains, and the tanks that spill into it.

    Attributes
    ----------
    vessel : name
    behind : the level is that of the water behind the vessel's own weir, whose box is not in the
        plan; the vessel is then its own feed
    rim : of the vessel [m]; None for a box that is not in the plan, or not told
    feeds : tanks that spill into it
    drains : all but those for water changes
    ends : levels that these end in [m]; None where that is not known
    edges, beyond : edges over which it spills itself, and the levels behind them [m]
    onto : vessels behind its own edges
    """

    vessel: str
    behind: bool
    rim: float | None
    feeds: tuple[Feed, ...]
    drains: tuple[GravityDrain, ...]
    ends: tuple[float | None, ...]
    edges: tuple[Edge, ...]
    beyond: tuple[float, ...]
    onto: tuple[str, ...]

    @cached_property
    def siphons(self) -> Bools:
        """Drains that are counted on to run full, (J,)."""
        siphons = np.array([drain.role == "siphon" for drain in self.drains], dtype=np.bool_)
        return np.asarray(self.able & siphons)

    @cached_property
    def able(self) -> Bools:
        """Drains of any role of which it can be told what they carry full, (J,)."""
        return np.array(
            [
                end is not None and not drain.shut and (drain.safe > 0.0 or drain.role == "siphon")
                for drain, end in zip(self.drains, self.ends, strict=True)
            ],
            dtype=np.bool_,
        )

    @cached_property
    def lowest(self) -> float:
        """Level at which nothing leaves yet [m]."""
        return min([drain.inlet for drain in self.drains] + [edge.crest for edge in self.edges])

    @cached_property
    def top(self) -> float:
        """The highest level that is looked at [m]: a rim, or some way above all inlets."""
        highest = max(drain.inlet for drain in self.drains)
        rims = [feed.rim for feed in self.feeds if feed.rim is not None]
        return self.rim if self.rim is not None else max(rims, default=highest + SEARCHED)

    @property
    def bounded(self) -> bool:
        """Whether some rim is known."""
        return self.rim is not None or any(feed.rim is not None for feed in self.feeds)

    def full(self, place: int, level: Floats) -> Floats:
        """What a drain would carry full at levels [m³/s]; nothing where its end is not known."""
        end = self.ends[place]
        if end is None:
            return np.zeros(np.shape(level))
        return self.drains[place].full_flow(level, end)

    def covered(self, place: int, level: Floats) -> Bools:
        """Whether more would enter over a drain's lip than it carries full."""
        return np.asarray(self.drains[place].lip_flow(level) >= self.full(place, level))

    def flows(self, level: Floats, blocked: Bools, primed: Bools) -> Floats:
        """What each drain carries at levels (C,), in states (J, C) [m³/s]."""
        found = np.zeros(blocked.shape)
        for place, drain in enumerate(self.drains):
            open_, full = ~blocked[place] & ~primed[place], ~blocked[place] & primed[place]
            if open_.any():
                found[place, open_] = drain.open_flow(level[open_])
            if full.any():
                at = level[full]
                found[place, full] = np.minimum(drain.lip_flow(at), self.full(place, at))
        return found

    def over_edges(self, level: Floats) -> Floats:
        """What leaves over the vessel's own edges at levels (C,), (W, C) [m³/s]."""
        return np.array(
            [
                weirs.drowned(level - edge.crest, below - edge.crest, length=edge.length)
                for edge, below in zip(self.edges, self.beyond, strict=True)
            ]
        ).reshape(-1, len(level))

    def standing(self, own: Floats, fed: Floats, blocked: Bools, primed: Bools) -> Standing:
        """Where the water comes to stand.

        What leaves grows with the level; what comes in falls once tanks run over their rims.  So
        there is one level at which they are equal.

        Parameters
        ----------
        own : what comes into the vessel itself (C,) [m³/s]
        fed : what its feeds send (F, C) [m³/s]
        blocked, primed : states of drains (J, C)
        """

        def leaves(level: Floats) -> Floats:
            found = self.flows(level, blocked, primed).sum(axis=0)
            return np.asarray(found + self.over_edges(level).sum(axis=0))

        def comes(level: Floats) -> Floats:
            return np.asarray(own + self._let_in(fed, level).sum(axis=0))

        high = np.full(len(own), self.top)
        low = np.minimum(self.lowest, high)
        level = rising_root(lambda at: leaves(at) - comes(at), low, high)
        let_in, gone = self._let_in(fed, level), leaves(level)
        short = own + let_in.sum(axis=0) - gone
        # Below the rim the level balances; at it, what is not carried runs over.
        spilt = np.where(level >= self.top, short.clip(min=0.0), 0.0)
        return Standing(
            level=level,
            tanks=self._tanks(let_in, level),
            flow=self.flows(level, blocked, primed),
            edges=self.over_edges(level),
            spilt=spilt,
            spilt_tanks=fed - let_in,
            off=np.abs(short - spilt),
        )

    def level_at_rim(self, blocked: Bools, primed: Bools) -> Floats:
        """Level when a rim is just reached, in states (J, C) [m]: the vessel's, or of its feeds."""
        count = blocked.shape[1]
        if all(feed.rim is None for feed in self.feeds):
            return np.full(count, self.top)
        fed = np.array([[0.0 if feed.rim is None else np.inf] for feed in self.feeds])
        return self.standing(np.zeros(count), np.repeat(fed, count, axis=1), blocked, primed).level

    def greatest(self, blocked: Bools, primed: Bools) -> Floats:
        """The most that it takes before a rim is passed, in states (J, C) [m³/s]."""
        level = self.level_at_rim(blocked, primed)
        carried = self.flows(level, blocked, primed).sum(axis=0)
        return np.asarray(carried + self.over_edges(level).sum(axis=0))

    def _let_in(self, fed: Floats, level: Floats) -> Floats:
        """What of a flow comes over from each feed before its tank runs over (F, C)."""
        found = fed.copy()
        for place, feed in enumerate(self.feeds):
            if feed.rim is not None:
                most = feed.flow(np.full(len(level), feed.rim), level)
                found[place] = np.minimum(found[place], most.clip(min=0.0))
        return found

    def _tanks(self, let_in: Floats, level: Floats) -> Floats:
        return np.array(
            [feed.tank_level(flow, level) for feed, flow in zip(self.feeds, let_in, strict=True)]
        ).reshape(-1, len(level))


def overflow_of(plan: Plan, vessel: str, drains: Iterable[GravityDrain]) -> Overflow:
    """A vessel with its drains, at the levels that the plan gives what they end in."""
    about = plan.vessels[vessel]
    here = tuple(
        counted(plan, drain)
        for drain in drains
        if drain.vessel == vessel and drain.role != "change"
    )
    behind = about.crest is not None and about.weir_length is not None
    if about.crest is not None and about.weir_length is not None:
        own = Feed(vessel, about.rim, (Edge(about.crest, about.weir_length),), 1.0)
        feeds: tuple[Feed, ...] = (own,)
        out: tuple[Weir, ...] = ()
    else:
        feeds = tuple(_feeds(plan, vessel))
        out = tuple(weir for weir in plan.weirs if weir.from_ == vessel)
    return Overflow(
        vessel=vessel,
        behind=behind,
        rim=None if behind else about.rim,
        feeds=feeds,
        drains=here,
        ends=tuple(_end(plan, drain) for drain in here),
        edges=tuple(edge_of(weir) for weir in out),
        beyond=tuple(
            plan.vessels[weir.to].level if weir.to in plan.vessels else _OPEN_AIR for weir in out
        ),
        onto=tuple(weir.to for weir in out),
    )


def counted(plan: Plan, drain: GravityDrain) -> GravityDrain:
    """A drain that carries nothing with air in it where its end lies above its inlet."""
    ends = (_end(plan, drain), drain.outlet)
    if any(end is not None and end > drain.inlet for end in ends):
        return replace(drain, safe=0.0, limit="uphill")
    return drain


def edge_of(weir: Weir) -> Edge:
    """Crest of a weir and what its teeth leave of it."""
    return Edge(weir.crest, weir.length * (1.0 - weir.teeth))


def _feeds(plan: Plan, vessel: str) -> Iterable[Feed]:
    tanks = dict.fromkeys(weir.from_ for weir in plan.weirs if weir.to == vessel)
    for tank in tanks:
        every = [weir for weir in plan.weirs if weir.from_ == tank]
        here = tuple(edge_of(weir) for weir in every if weir.to == vessel)
        length = sum(edge_of(weir).length for weir in every)
        share = sum(edge.length for edge in here) / length
        yield Feed(tank, plan.vessels[tank].rim, here, share)


def _end(plan: Plan, drain: GravityDrain) -> float | None:
    if drain.to in plan.vessels:
        return plan.vessels[drain.to].level
    return drain.outlet if drain.to == OUTSIDE else None


def rising_root(f: Callable[[Floats], Floats], low: Floats, high: Floats) -> Floats:
    """Where rising functions of arrays are zero, between bounds; a bound where they never are.

    By the line through both ends, of which one that stays has its value halved (the Illinois rule);
    every few steps by halves, for bends.
    """
    low, high = low.copy(), high.copy()
    at_low, at_high = f(low), f(high)
    under, over = at_high < 0.0, at_low >= 0.0
    low[under] = high[under]
    high[over & ~under] = low[over & ~under]
    stayed = np.zeros(len(low), dtype=np.intp)  # +1 if the upper end did last time, -1 the lower
    for step in range(_STEPS):
        width = high - low
        if (width <= _NARROW).all():
            break
        with np.errstate(all="ignore"):  # ends of no width have no line
            chord = high - at_high * width / (at_high - at_low)
        halved = 0.5 * (low + high)
        inside = (chord > low) & (chord < high) & (step % _HALVE_EACH != 0)
        at = np.where(inside, chord, halved)
        value = f(at)
        above = value >= 0.0
        at_low = np.where(above, np.where(stayed < 0, 0.5 * at_low, at_low), value)
        at_high = np.where(above, value, np.where(stayed > 0, 0.5 * at_high, at_high))
        stayed = np.where(above, -1, 1)
        high, low = np.where(above, at, high), np.where(above, low, at)
        found = np.abs(value) <= _NOTHING
        low[found] = high[found] = at[found]
    return high
