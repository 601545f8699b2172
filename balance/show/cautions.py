"""What a person should beware of, printed where it matters, in few words."""

from __future__ import annotations

from collections.abc import Iterator

from balance.plan.model import CheckPart, Plan

# At mid travel e^0.5, as `valves` has it; else what edb, table 32, has for most.
MEASURE = (
    "Set the marks, then measure: a valve at mid travel is known to ±60 % until measured, "
    "other generic data to ±20 to 30 %."
)
ELECTRICITY = (
    "Mains electricity stands beside salt water: drip loops, ground-fault protection, unplug "
    "before hands go in. Test with fresh water before livestock."
)
CHECK_VALVE = (
    "A check valve is no protection from a flood: the sump must hold what runs back when the "
    "pump stops."
)
# iso-9906, grade 3B.
TESTED = (
    "A curve is its maker's at the test. A common grade of test, ISO 9906 grade 3B, lets head lie "
    "7 % and flow 9 % to either side; yours is known once measured."
)
DEAD_HEAD = (
    "A dead-headed pump heats the water that stands in it: never let it run on against shut valves."
)
HANDS = "Unplug pumps and heaters before hands go in, and let a ground-fault breaker feed them all."
DRAINING = (
    "Never leave an open drain alone, and keep an eye on the floor drain: it may be slower than "
    "your hose and come back up."
)
FALLING = (
    "Switch off heaters that come out of the water, and an automatic top-off: it would fill the "
    "falling sump with fresh water."
)
DRY = "The return pump must not run dry: stop it before its water falls to its intake."
LIKE = (
    "New water of the same temperature and salinity as the old, mixed for a day, does least harm."
)
CODES = "Local codes say what may go down a drain, and how it must be kept from siphoning back."
DRY_RUN = (
    "Test with fresh water first: plug each drain in turn, pump at full speed, and watch the level "
    "until it stands."
)
STRAINERS = (
    "Strainers on all inlets can clog at once: the emergency's inlet must be open, higher than the "
    "others and never throttled."
)
TRY_IT = (
    "Try it with fresh water before livestock: mark the level, pull the plug, watch until all "
    "stands still, and plug in again."
)
FLOOR = (
    "Put sockets and plugs where no water reaches them, and a floor drain or a leak alarm where "
    "it would: holes clog, and levels creep up."
)
FUMES = (
    "Cement and primer: windows open, no flame or spark, gloves on; no fumes near livestock, and "
    "rinse the pipe before it meets any."
)
SAW = (
    "Hold a short piece by its long end and cut it off last, never with fingers near the saw; take "
    "the burr off inside and out."
)
SUPPORT = (
    "Valves, check valves and filters want a hold of their own; clamps guide plastic pipe and do "
    "not pinch it."
)
SCOPE = (
    "Not for potable, fire, medical or pressure-rated plant; local codes and licensed trades "
    "come first."
)


def before_turning(plan: Plan) -> Iterator[str]:
    """What to know before handles are turned by an answer."""
    yield MEASURE
    yield ELECTRICITY
    parts = (part for stretch in plan.stretches() for part in stretch.parts)
    if any(isinstance(part, CheckPart) for part in parts):
        yield CHECK_VALVE
    yield SCOPE


def before_gluing() -> Iterator[str]:
    """What to know before pipe is cut and cemented."""
    yield SAW
    yield FUMES
    yield SUPPORT
    yield SCOPE


def before_changing_water(plan: Plan) -> Iterator[str]:
    """What to know before water is changed."""
    yield HANDS
    yield DRAINING
    yield FALLING
    if any(pump.use == "always" for pump in plan.pumps.values()):
        yield DRY
    yield LIKE
    yield CODES


def before_a_power_cut(plan: Plan) -> Iterator[str]:
    """What to know of floods when the power fails."""
    parts = (part for stretch in plan.stretches() for part in stretch.parts)
    if any(isinstance(part, CheckPart) for part in parts):
        yield CHECK_VALVE
    yield TRY_IT
    yield FLOOR
    yield ELECTRICITY
    yield SCOPE
