"""How much water the drains of a vessel carry at most: enough to see whether it floods."""

from __future__ import annotations

from math import inf

from balance.network.gravity import gravity_drains
from balance.parts import weirs
from balance.plan.model import OUTSIDE, AnyPart, Drain, Plan, ValvePart, Vessel, Weir
from balance.water import Water


def capacity(plan: Plan, drain: Drain, *, water: Water) -> float | None:
    """Flow that a drain carries with its valves wide open, locked ones as they stand [m³/s].

    A siphon runs full from its inlet down to the water, or the free outlet, that it ends in; others
    carry what they do with air in them.  None where that cannot be reckoned: a siphon ends in a
    joint, or nothing tells a bore.

    The laws name their sources; the division by roles is common practice, no source.
    """
    if not drain.parts:
        return None
    opened = drain.model_copy(update={"parts": tuple(_wide_open(part) for part in drain.parts)})
    (law,) = gravity_drains(plan.model_copy(update={"drains": (opened,)}), water)
    if drain.role != "siphon":
        return law.safe
    if drain.to not in plan.vessels and drain.to != OUTSIDE:
        return None
    # The open air has no level: what ends there without an outlet of its own ends at the datum.
    level = plan.vessels[drain.to].level if drain.to in plan.vessels else -inf
    end = 0.0 if level == -inf and law.outlet is None else level
    return float(law.full_flow(law.inlet, end))


def _wide_open(part: AnyPart) -> AnyPart:
    if not isinstance(part, ValvePart) or part.locked:
        return part
    return part.model_copy(update={"open": part.stops[1] if part.stops else 1.0})


def weir_capacity(weir: Weir, vessel: Vessel) -> float | None:
    """Flow over a weir when its vessel stands at the rim [m³/s]; None without a rim."""
    if vessel.rim is None:
        return None
    over = weirs.straight(vessel.rim - weir.crest, length=weir.length * (1.0 - weir.teeth))
    return float(over.flow)
