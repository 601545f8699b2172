"""Where the gate of a siphon goes: a window of marks, between trickle dry and trickle full."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from balance.network.gravity import GravityDrain, gravity_drains
from balance.network.stretch import valve_law, velocity_head
from balance.parts.weirs import lip_head
from balance.plan.model import Plan, ValveRef
from balance.plan.openings import QUARTER_TURN
from balance.questions.drains.answer import Gate, Mark
from balance.questions.drains.levels import Overflow
from balance.questions.drains.states import Loads, masks
from balance.questions.handles import reading, valve_of
from balance.questions.marks import DEFAULT
from balance.water import Water

Floats = NDArray[np.float64]

TRICKLE = 0.05
"""Share of the inflow that a trickle is trimmed to; common practice, no source."""

TRICKLES = ("trickle", "open", "emergency")  # whichever comes first stands above the siphon


@dataclass(frozen=True)
class _Bench:
    """One siphon and its gate, the other drains as they run.

    Attributes
    ----------
    overflow : its vessel
    place : of the siphon among the drains
    ref : its gate
    wide : the siphon with its gate wide open
    inflow : as the plan stands [m³/s]
    """

    overflow: Overflow
    place: int
    ref: ValveRef
    wide: GravityDrain
    inflow: float

    @property
    def travel(self) -> float:
        part = self.ref.part
        if part.handle == "turns":
            return part.turns or 1.0
        return QUARTER_TURN if part.handle == "degrees" else 100.0

    def others(self, level: float) -> float:
        """What leaves by all but this siphon at a level [m³/s]."""
        blocked, primed = masks(self.overflow, [((self.place,), True)])
        at = np.array([level])
        gone = self.overflow.flows(at, blocked, primed).sum()
        return float(gone + self.overflow.over_edges(at).sum())

    def mark(self, level: float, trickle: GravityDrain) -> Mark:
        """The position at which the water stands at a level."""
        flow = max(self.inflow - self.others(level), 0.0)
        law, k = valve_law(self.ref.part), np.inf
        if flow > 0.0:
            # What the open valve leaves of the head is for the gate to take.
            end = self.overflow.ends[self.place] or 0.0
            head = level - (end if self.wide.outlet is None else max(end, self.wide.outlet))
            left = head - float(self.wide.laws(np.array([[flow]])).head[0, 0])
            scale = self.ref.part.count * velocity_head(self.ref.part.bore)
            k = law.k_open + left / (scale * flow**2)
        opening = float(law.opening_for(np.array(k))) if k >= law.k_open else None
        return Mark(
            opening=opening,
            mark="" if opening is None else self.words(opening),
            k=float(k) if np.isfinite(k) else None,
            level=level,
            siphon=flow,
            trickle=float(trickle.open_flow(level)) / self.inflow,
        )

    def words(self, opening: float) -> str:
        return reading(opening, handle=self.ref.part.handle, travel=self.travel)


def gates_of(plan: Plan, overflow: Overflow, loads: Loads, *, water: Water) -> tuple[Gate, ...]:
    """The gate of each siphon that has one, and another drain above it, for the first load."""
    found = []
    for place in np.flatnonzero(overflow.siphons):
        siphon = overflow.drains[place]
        ref = valve_of(plan, siphon.name)
        above = steps(overflow, int(place))
        if ref is None or ref.part.locked or not above or not loads.total[0] > 0.0:
            continue
        wide = _drain(plan.with_openings({ref.name: 1.0}), siphon.name, water)
        bench = _Bench(overflow, int(place), ref, wide, float(loads.total[0]))
        found.append(_gate(plan, bench, above, loads, water))
    return tuple(found)


def steps(overflow: Overflow, place: int) -> list[GravityDrain]:
    """The drains above a siphon that run open, from the lowest inlet up."""
    siphon = overflow.drains[place]
    return sorted(
        (
            drain
            for drain in overflow.drains
            if drain.role in TRICKLES and drain.inlet > siphon.inlet and not drain.shut
        ),
        key=lambda drain: drain.inlet,
    )


def _drain(plan: Plan, name: str, water: Water) -> GravityDrain:
    alone = plan.model_copy(update={"drains": tuple(d for d in plan.drains if d.name == name)})
    return gravity_drains(alone, water)[0]


def _gate(plan: Plan, bench: _Bench, above: list[GravityDrain], loads: Loads, water: Water) -> Gate:
    overflow, place, ref = bench.overflow, bench.place, bench.ref
    trickle, *higher = above
    siphon = overflow.drains[place]
    safe = trickle.inlet + float(lip_head(trickle.safe, bore=trickle.lip_bore))
    following = [drain.inlet for drain in higher if drain.inlet > trickle.inlet]
    wet_level = min([safe, *following, overflow.top])
    most = float(trickle.open_flow(wet_level))
    # A trickle so small, or so near to the next inlet, that it does not carry twice its share is
    # trimmed to half of what it carries.
    share = min(TRICKLE * bench.inflow, most / 2.0)
    aim_level = trickle.inlet + float(lip_head(share, bore=trickle.lip_bore))
    dry, aim, wet = (bench.mark(at, trickle) for at in (trickle.inlet, aim_level, wet_level))
    now = bench.mark(_level_now(overflow, loads), trickle)
    now = replace(now, opening=ref.part.open, mark=bench.words(ref.part.open), k=_k(ref))
    low, high = _inflows_at(plan, bench, aim, (trickle.inlet, wet_level), water)
    step = DEFAULT[ref.part.handle] / bench.travel
    return Gate(
        siphon=siphon.name,
        valve=ref.name,
        trickle=trickle.name,
        handle=ref.part.handle,
        travel=bench.travel,
        dry=dry,
        aim=aim,
        wet=wet,
        upper="safe flow" if wet_level == safe else "next inlet",
        height=wet_level - trickle.inlet,
        narrow=None not in (dry.opening, wet.opening)
        and (dry.opening or 0.0) - (wet.opening or 0.0) < step,
        falls=1.0 - low / bench.inflow,
        rises=high / bench.inflow - 1.0,
        froude=float(siphon.froude(aim.siphon)),
        now=now,
        state="too far open" if now.level < trickle.inlet
        else "not far enough open" if now.level > wet_level
        else "inside",
    )  # fmt: skip


def _k(ref: ValveRef) -> float | None:
    k = float(valve_law(ref.part).loss_coefficient(np.array(ref.part.open)).k)
    return k if np.isfinite(k) else None


def _level_now(overflow: Overflow, loads: Loads) -> float:
    own, fed = loads.take([0])
    return float(overflow.standing(own, fed, *masks(overflow, [((), True)])).level[0])


def _inflows_at(
    plan: Plan, bench: _Bench, aim: Mark, levels: tuple[float, float], water: Water
) -> tuple[float, float]:
    """The inflows with which the water stands at two levels, the gate at its aim [m³/s]."""
    opening = 1.0 if aim.opening is None else aim.opening
    siphon = _drain(plan.with_openings({bench.ref.name: opening}), bench.wide.name, water)
    end = bench.overflow.ends[bench.place] or 0.0
    low, high = (
        bench.others(level) + float(min(siphon.full_flow(level, end), siphon.lip_flow(level)))
        for level in levels
    )
    return low, high
