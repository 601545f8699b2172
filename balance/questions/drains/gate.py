"""Where the gate of a siphon goes: a window of marks, between trickle dry and trickle full."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import inf, isinf
from typing import Literal, NamedTuple

import numpy as np

from balance.network.gravity import GravityDrain, gravity_drains
from balance.network.stretch import valve_law, velocity_head
from balance.parts.weirs import lip_head
from balance.plan.model import Plan, ValveRef
from balance.plan.openings import QUARTER_TURN, opening_words
from balance.questions.drains.answer import Gate, Mark
from balance.questions.drains.levels import Overflow, counted
from balance.questions.drains.states import Loads, masks
from balance.questions.handles import valve_of
from balance.questions.marks import DEFAULT
from balance.water import Water

TRICKLE = 0.05
"""Share of the inflow that a trickle is trimmed to; common practice, no source."""

TRICKLES = ("trickle", "open", "emergency")  # whichever comes first stands above the siphon


@dataclass(frozen=True)
class _Throttled:
    """A siphon with a gate that a hand may turn.

    Attributes
    ----------
    place : of the siphon among the drains
    ref : its gate
    wide : the siphon with its gate wide open
    end : level that it ends in, or the axis of its outlet where that is higher [m]
    """

    place: int
    ref: ValveRef
    wide: GravityDrain
    end: float

    @property
    def travel(self) -> float:
        """Of the handle in its own unit."""
        part = self.ref.part
        if part.handle == "turns":
            return part.turns or 1.0
        return QUARTER_TURN if part.handle == "degrees" else 100.0

    def words(self, opening: float) -> str:
        """Where the handle stands, as a hand reads it."""
        return opening_words(opening, handle=self.ref.part.handle, travel=self.travel)

    def k_for(self, flow: float, level: float) -> float:
        """What the gate must lose for a flow at a level of the vessel; infinite for none."""
        if flow <= 0.0:
            return inf
        # What the open valve leaves of the head is for the gate to take.
        left = level - self.end - float(self.wide.laws(np.array([[flow]])).head[0, 0])
        scale = self.ref.part.count * velocity_head(self.ref.part.bore)
        return valve_law(self.ref.part).k_open + left / (scale * flow**2)


@dataclass(frozen=True)
class _Bench:
    """A vessel whose siphons are to be trimmed together, the other drains as they run.

    Attributes
    ----------
    overflow : the vessel
    throttled : siphons with gates
    inflow : as the plan stands [m³/s]
    """

    overflow: Overflow
    throttled: tuple[_Throttled, ...]
    inflow: float

    def others(self, level: float) -> float:
        """What leaves by all but siphons with gates at a level [m³/s]."""
        places = tuple(each.place for each in self.throttled)
        blocked, primed = masks(self.overflow, [(places, True)])
        at = np.array([level])
        gone = self.overflow.flows(at, blocked, primed).sum()
        return float(gone + self.overflow.over_edges(at).sum())

    def wanted(self, siphon: _Throttled, level: float) -> float:
        """What a siphon has to carry for the water to stand at a level: its share by area."""
        areas = [each.wide.narrowest**2 for each in self.throttled]
        left = max(self.inflow - self.others(level), 0.0)
        return left * siphon.wide.narrowest**2 / sum(areas)

    def mark(self, siphon: _Throttled, level: float, trickle: GravityDrain) -> Mark:
        """The position of a gate at which the water stands at a level."""
        flow = self.wanted(siphon, level)
        law, k = valve_law(siphon.ref.part), siphon.k_for(flow, level)
        there = k >= law.k_open and flow <= siphon.wide.lip_flow(level)
        opening = float(law.opening_for(np.array(k))) if there else None
        return Mark(
            opening=opening,
            mark="" if opening is None else siphon.words(opening),
            k=None if isinf(k) else k,
            level=level,
            siphon=flow,
            trickle=float(trickle.open_flow(level)) / self.inflow,
        )


def gates_of(plan: Plan, overflow: Overflow, loads: Loads, *, water: Water) -> tuple[Gate, ...]:
    """The gates of siphons, where another drain stands above them, for the first load."""
    throttled = tuple(_throttled(plan, overflow, water))
    inflow = float(loads.total[0])
    if not throttled or not inflow > 0.0:
        return ()
    bench = _Bench(overflow, throttled, inflow)
    above = steps(overflow, max(each.wide.inlet for each in throttled))
    # Where the others carry all at the trickle's inlet there is nothing to trim, nor where water
    # runs over before it is there.
    if not above or bench.others(above[0].inlet) >= inflow or above[0].inlet >= overflow.top:
        return ()
    levels = _levels(bench, above)
    aims = {
        each.ref.name: 1.0 if (at := bench.mark(each, levels.aim, above[0]).opening) is None else at
        for each in throttled
    }
    trimmed = replace(overflow, drains=_drains(plan.with_openings(aims), overflow, water))
    carried = [_carried(trimmed, level) for level in (levels.dry, levels.wet)]
    own, fed = loads.take([0])
    now = float(overflow.standing(own, fed, *masks(overflow, [((), True)])).level[0])
    return tuple(_gate(bench, each, above[0], levels, now, carried) for each in throttled)


def at_aims(plan: Plan, overflow: Overflow, gates: tuple[Gate, ...], *, water: Water) -> Overflow:
    """A vessel with its gates where they are told to go."""
    aims = {g.valve: 1.0 if g.aim.opening is None else g.aim.opening for g in gates}
    return replace(overflow, drains=_drains(plan.with_openings(aims), overflow, water))


def _throttled(plan: Plan, overflow: Overflow, water: Water) -> Iterator[_Throttled]:
    for place in map(int, np.flatnonzero(overflow.siphons)):
        ref = valve_of(plan, overflow.drains[place].name)
        end = overflow.ends[place]
        if ref is None or ref.part.locked or end is None:
            continue
        wide = _drains(plan.with_openings({ref.name: 1.0}), overflow, water)[place]
        yield _Throttled(place, ref, wide, end if wide.outlet is None else max(end, wide.outlet))


def steps(overflow: Overflow, height: float) -> list[GravityDrain]:
    """The drains above a height that run open, from the lowest inlet up."""
    return sorted(
        (
            drain
            for drain in overflow.drains
            if drain.role in TRICKLES and drain.inlet > height and drain.safe > 0.0
        ),
        key=lambda drain: drain.inlet,
    )


def _drains(plan: Plan, overflow: Overflow, water: Water) -> tuple[GravityDrain, ...]:
    """The drains of a vessel in a plan with other openings."""
    names = [drain.name for drain in overflow.drains]
    alone = plan.model_copy(update={"drains": tuple(d for d in plan.drains if d.name in names)})
    return tuple(counted(plan, drain) for drain in gravity_drains(alone, water))


class _Levels(NamedTuple):
    """Between which the water is to stand [m]."""

    dry: float
    aim: float
    wet: float
    upper: Literal["safe flow", "next inlet"]


def _levels(bench: _Bench, above: list[GravityDrain]) -> _Levels:
    trickle, *higher = above
    safe = trickle.inlet + float(lip_head(trickle.safe, bore=trickle.lip_bore))
    following = [drain.inlet for drain in higher if drain.inlet > trickle.inlet]
    wet = min([safe, *following, bench.overflow.top])
    # A trickle so small, or so near to the next inlet, that it does not carry twice its share is
    # trimmed to half of what it carries.
    share = min(TRICKLE * bench.inflow, float(trickle.open_flow(wet)) / 2.0)
    aim = trickle.inlet + float(lip_head(share, bore=trickle.lip_bore))
    return _Levels(trickle.inlet, aim, wet, "safe flow" if wet == safe else "next inlet")


def _carried(overflow: Overflow, level: float) -> float:
    """What all carry at a level with siphons full [m³/s]."""
    at = np.array([level])
    gone = overflow.flows(at, *masks(overflow, [((), True)])).sum()
    return float(gone + overflow.over_edges(at).sum())


def _gate(
    bench: _Bench,
    siphon: _Throttled,
    trickle: GravityDrain,
    levels: _Levels,
    level_now: float,
    carried: list[float],
) -> Gate:
    part = siphon.ref.part
    dry, aim, wet = (bench.mark(siphon, at, trickle) for at in levels[:3])
    k = float(valve_law(part).loss_coefficient(np.array(part.open)).k)
    flow = float(bench.overflow.full(siphon.place, np.array(level_now)))
    now = Mark(
        opening=part.open,
        mark=siphon.words(part.open),
        k=k,
        level=level_now,
        siphon=min(flow, float(siphon.wide.lip_flow(level_now))),
        trickle=float(trickle.open_flow(level_now)) / bench.inflow,
    )
    step = DEFAULT[part.handle] / siphon.travel
    return Gate(
        siphon=siphon.wide.name,
        valve=siphon.ref.name,
        trickle=trickle.name,
        role=trickle.role,
        handle=part.handle,
        travel=siphon.travel,
        dry=dry,
        aim=aim,
        wet=wet,
        upper=levels.upper,
        height=levels.wet - levels.dry,
        narrow=None not in (dry.opening, wet.opening)
        and (dry.opening or 0.0) - (wet.opening or 0.0) < step,
        falls=1.0 - carried[0] / bench.inflow,
        rises=carried[1] / bench.inflow - 1.0,
        covered=aim.siphon <= float(siphon.wide.lip_flow(aim.level)),
        froude=float(siphon.wide.froude(aim.siphon)),
        now=now,
        state="too far open" if level_now < levels.dry
        else "not far enough open" if level_now > levels.wet
        else "inside",
    )  # fmt: skip
