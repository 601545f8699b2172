"""What a change does to the water: how much of it is old afterwards, and how salt it is."""

from __future__ import annotations

from balance.network.arrays import plan_water
from balance.parts.exchange import (
    changes_to_leave,
    exchange_to_leave,
    left_draining_first,
    left_exchanging,
    left_filling_first,
    mixed_salinity,
    salt_water,
)
from balance.plan.model import Plan
from balance.questions.change.answer import Left, Mixing, Reach, Salt
from balance.questions.change.steps import Order
from balance.water import density

SHARES = (0.5, 0.1)
"""Of old water, for which the answer says what it takes; our own choice."""
MOST_ROWS = 12  # changes in a row that are told one by one
LAWS = {
    "drain first": left_draining_first,
    "fill first": left_filling_first,
    "together": left_exchanging,
}


def mixing(volume: float, *, system: float, order: Order) -> Mixing:
    """What changes of a volume do to a system [m³].

    Parameters
    ----------
    volume : old water that leaves and new water that comes
    system : water that there is while it runs
    """
    left = float(LAWS[order](volume, system=system))
    reach = tuple(_reach(share, left, volume, system) for share in SHARES)
    most = max((each.changes or 0 for each in reach), default=0)
    return Mixing(
        system=system,
        left=left,
        after=tuple(
            Left(
                changes=n,
                new=n * volume,
                left=left**n,
                left_exchanging=float(left_exchanging(n * volume, system=system)),
            )
            for n in range(1, min(most, MOST_ROWS) + 1)
        ),
        reach=reach,
    )


def _reach(share: float, left: float, volume: float, system: float) -> Reach:
    if left <= 0.0:
        changes: int | None = 1
    else:
        changes = int(changes_to_leave(share, left=left)) if left < 1.0 else None
    return Reach(
        share=share,
        changes=changes,
        new=None if changes is None else changes * volume,
        exchanged=float(exchange_to_leave(share, system=system)),
    )


def salt(
    plan: Plan, *, volume: float, comes: float, salinity: float | None, left: float | None
) -> Salt | None:
    """The salt of some new water; None where it is fresh, or where there is none.

    Parameters
    ----------
    volume : of it, as asked [m³]
    comes : what of it comes [m³]
    salinity : of it; None: as in the system [g/kg]
    left : old water left afterwards; None where that is not known [ratio]
    """
    water = plan_water(plan)
    wanted = water.salinity if salinity is None else salinity
    if volume <= 0.0 or (wanted == 0.0 and water.salinity == 0.0):
        return None
    needed = salt_water(volume, salinity=wanted, temperature=water.temperature)
    after = None
    if left is not None:
        after = mixed_salinity(water.salinity, wanted, left=left, temperature=water.temperature)
    return Salt(
        salinity=wanted,
        density=density(water.temperature, salinity=wanted),
        volume=volume,
        comes=comes,
        salt=needed.salt,
        fresh=needed.fresh,
        before=water.salinity,
        after=after,
    )
