"""The drains of a plan by themselves: what each carries full, with air, and over its lip."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from math import inf, isinf, pi, sqrt
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from balance.errors import UsageError
from balance.network.arrays import stretch_laws
from balance.network.laws import RunLaws
from balance.network.stretch import Stretch, stretch_of
from balance.parts import gravity, weirs
from balance.plan.model import OUTSIDE, Drain, PipePart, Plan
from balance.water import Water

Floats = NDArray[np.float64]
Limit = Literal["lip", "venting", "sloping leg", "uphill"]

CLOSES = 1e-12  # of the head, to which a flow is found, or ...
LEAST = 1e-15  # ... of it in m
MOST_STEPS = 80


@dataclass(frozen=True)
class GravityDrain:
    """One drain of a plan with its valves as they stand.

    Attributes
    ----------
    name, role, vessel, to : in the plan
    inlet : height at which water first enters; where it is not told, the vessel's own level [m]
    inlet_told : the plan says it
    outlet : axis of its free outlet; None where it ends under water or in a joint [m]
    lip_bore : bore where water enters [m]
    narrowest, widest : bores of its pipe [m]
    safe : what it carries with air in it, on which one may count [m³/s]
    limit : what sets that; "uphill" where its end lies above its inlet
    shut : a valve or cap in it lets nothing pass
    """

    name: str
    role: str
    vessel: str
    to: str
    inlet: float
    inlet_told: bool
    outlet: float | None
    lip_bore: float
    narrowest: float
    widest: float
    safe: float
    limit: Limit
    shut: bool
    laws: RunLaws = field(repr=False)

    def lip_flow(self, level: ArrayLike) -> Floats:
        """What its lip lets in at levels of its vessel, as a weir all round [m³/s]."""
        flow = weirs.lip(np.asarray(level) - self.inlet, bore=self.lip_bore).flow
        return np.zeros_like(flow) if self.shut else flow

    def open_flow(self, level: ArrayLike) -> Floats:
        """What it carries with air in it at levels of its vessel [m³/s]."""
        return np.minimum(self.lip_flow(level), self.safe)

    def full_flow(self, level: ArrayLike, end: ArrayLike) -> Floats:
        """What it carries full from a level to an end, in arrays [m³/s].

        Parameters
        ----------
        level : of its vessel [m]
        end : of the water it ends in, where that is above the axis of its outlet [m]
        """
        below = np.asarray(end, dtype=np.float64)
        if self.outlet is not None:
            below = np.maximum(below, self.outlet)
        head = (np.asarray(level) - below).clip(min=0.0)
        return np.zeros_like(head) if self.shut else _flow_at(self.laws, head)

    def froude(self, flow: ArrayLike) -> Floats:
        """Froude number in its widest pipe, since it must run full all the way."""
        return gravity.froude(flow, bore=self.widest)


def gravity_drains(plan: Plan, water: Water) -> tuple[GravityDrain, ...]:
    """All drains of a plan, its valves as they stand.

    Raises
    ------
    UsageError
        A drain without parts, of which nothing tells what it carries.
    """
    return tuple(_drain(plan, drain, water) for drain in plan.drains)


def _drain(plan: Plan, drain: Drain, water: Water) -> GravityDrain:
    if not drain.parts:
        raise UsageError(
            f'"{drain.name}" has no part that tells its bore; write '
            'parts = [{ pipe = "1 in sch 40", length = "40 in" }]'
        )
    stretch = stretch_of(
        drain.parts,
        water=water,
        from_vessel=True,
        to_vessel=drain.to in plan.vessels or drain.to == OUTSIDE,
    )
    k = [float(v.law.loss_coefficient(np.array(v.part.open)).k) for v in stretch.valves]
    shut = stretch.closed or any(isinf(each) for each in k)
    lost = 0.0 if shut else sum(e * v.scale for e, v in zip(k, stretch.valves, strict=True))
    through = replace(
        stretch, forward=stretch.forward + lost, backward=stretch.backward + lost, valves=[]
    )
    narrowest, widest = _bores(stretch)
    lip_bore = drain.parts[0].bore_from
    safe, limit = _safe(drain, lip_bore, narrowest)
    return GravityDrain(
        name=drain.name,
        role=drain.role,
        vessel=drain.from_,
        to=drain.to,
        inlet=plan.vessels[drain.from_].level if drain.inlet is None else drain.inlet,
        inlet_told=drain.inlet is not None,
        outlet=stretch.outlet_height,
        lip_bore=lip_bore,
        narrowest=narrowest,
        widest=widest,
        safe=0.0 if shut else safe,
        limit=limit,
        shut=shut,
        laws=stretch_laws([through], medium=water),
    )


def _bores(stretch: Stretch) -> tuple[float, float]:
    """The narrowest and the widest of its pipes [m]; of all its parts where it has none."""
    area = stretch.least_area if isinf(stretch.pipe_area) else stretch.pipe_area
    narrowest = sqrt(4.0 * area / pi)
    return narrowest, max((bore for bore, _ in stretch.pieces), default=narrowest)


def _safe(drain: Drain, lip_bore: float, narrowest: float) -> tuple[float, Limit]:
    """What it carries with air in it [m³/s]: the least of lip, venting and sloping legs."""
    legs = [
        float(gravity.part_full(part.bore, slope=part.slope))
        for part in drain.parts
        if isinstance(part, PipePart) and part.slope is not None
    ]
    found: list[tuple[float, Limit]] = [
        (float(weirs.lip(weirs.LIP_UP_TO * lip_bore, bore=lip_bore).flow), "lip"),
        (float(gravity.self_venting(narrowest)), "venting"),
        (min(legs, default=inf), "sloping leg"),
    ]
    return min(found)


def _flow_at(laws: RunLaws, head: Floats) -> Floats:
    """The flows at which a run loses heads [m³/s]: Newton's method kept in a bracket."""
    wanted = np.atleast_1d(head).ravel()
    high = np.full_like(wanted, float(laws.area[0, 0]))
    while (short := laws(high[None]).head[0] < wanted).any():
        high[short] *= 2.0
    low, flow = np.zeros_like(wanted), high.copy()
    for _ in range(MOST_STEPS):
        law = laws(flow[None])
        over = law.head[0] - wanted
        if (np.abs(over) <= CLOSES * wanted + LEAST).all():
            break
        high = np.where(over > 0.0, flow, high)
        low = np.where(over < 0.0, flow, low)
        newton = flow - over / law.slope[0]
        flow = np.where((newton > low) & (newton < high), newton, 0.5 * (low + high))
    return np.asarray(np.where(wanted > 0.0, flow, 0.0).reshape(np.shape(head)))
