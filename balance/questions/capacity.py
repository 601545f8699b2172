"""How much water the drains of a vessel carry, roughly: enough to see whether it floods."""

from __future__ import annotations

from math import pi, sqrt

from balance.errors import BalanceError
from balance.network.arrays import network_of
from balance.network.solve import solve
from balance.network.stretch import stretch_of
from balance.parts.pumps import GRAVITY
from balance.plan.model import OUTSIDE, AnyPart, Drain, Joint, Plan, Run, ValvePart, Vessel, Weir
from balance.water import Water

SELF_VENTING = 0.3
"""Froude number V/√(gD) up to which a drain swallows water without gulping air: hills-1983."""

_WEIR = 1.84  # [m^0.5/s], Q = 1.84 L h^1.5: francis-1883


def capacity(plan: Plan, drain: Drain, *, water: Water) -> float | None:
    """Flow that a drain carries with its valves wide open, locked ones as they stand [m³/s].

    A siphon runs full from its inlet down to the water, or the free outlet, that it ends in:
    friction, entrance and exit as in any stretch.  Others swallow what vents itself,
    V = 0.3 √(g D) in the narrowest pipe.  None where that cannot be reckoned: it ends in a joint.

    Source: hills-1983 (self-venting); the division by roles is common practice, no source.
    """
    if drain.role == "siphon":
        return _full_bore(plan, drain)
    area = stretch_of(drain.parts, water=water).pipe_area
    if area == float("inf"):
        return None
    return SELF_VENTING * area * sqrt(GRAVITY * sqrt(4.0 * area / pi))


def _full_bore(plan: Plan, drain: Drain) -> float | None:
    if drain.to not in plan.vessels and drain.to != OUTSIDE:
        return None
    vessel = plan.vessels[drain.from_]
    height = vessel.level if drain.inlet is None else drain.inlet
    run = Run.model_construct(
        name=drain.name,
        from_=drain.from_,
        to=drain.to,
        parts=tuple(_wide_open(part) for part in drain.parts),
        high_point=None,
        use="always",
    )
    alone = plan.model_copy(
        update={
            "vessels": plan.vessels | {drain.from_: _filled_to(vessel, height)},
            "pumps": {}, "runs": (run,), "headers": (), "branches": (), "groups": {},
            "joints": dict[str, Joint](),
        }
    )  # fmt: skip
    try:
        return max(0.0, solve(network_of(alone)).flow(drain.name))
    except BalanceError:
        return None


def _filled_to(vessel: Vessel, height: float) -> Vessel:
    return vessel.model_copy(update={"level": height})


def _wide_open(part: AnyPart) -> AnyPart:
    if not isinstance(part, ValvePart) or part.locked:
        return part
    return part.model_copy(update={"open": part.stops[1] if part.stops else 1.0})


def weir_capacity(weir: Weir, vessel: Vessel) -> float | None:
    """Flow over a weir when its vessel stands at the rim [m³/s]; None without a rim.

    Q = 1.84 L h^1.5, for a sharp edge in still water.  Source: francis-1883.
    """
    if vessel.rim is None:
        return None
    head = max(0.0, vessel.rim - weir.crest)
    return float(_WEIR * weir.length * (1.0 - weir.teeth) * head**1.5)
