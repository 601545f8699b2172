"""The small pumps whose work the branches of a manifold do, and what they drew."""

from __future__ import annotations

from dataclasses import dataclass

from balance.plan.model import Plan, Power
from balance.questions.duty import energy_a_year
from balance.questions.record import Record, quantity


@dataclass(frozen=True, kw_only=True)
class Replaced(Record):
    """What a manifold makes needless.

    Attributes
    ----------
    pumps : how many, and so many outlets of electricity that are free again
    watts : that they draw while all of them run [W]
    energy : a year [kWh]
    cost : a year, in the plan's currency; None without a price
    heat : that they give to the water meanwhile, all of their power [W]
    """

    pumps: int
    watts: float
    energy: float = quantity("energy")
    cost: float | None
    heat: float = quantity("power")


def replaced(plan: Plan) -> Replaced | None:
    """What the small pumps drew that branches replace; None where none does."""
    pumps = [pump for branch in plan.branches for pump in branch.replaces]
    if not pumps:
        return None
    spent = plan.power or Power()
    watts = float(sum(pump.count * pump.watts for pump in pumps))
    energy = sum(
        energy_a_year(pump.count * pump.watts, hours=pump.hours or spent.hours) for pump in pumps
    )
    return Replaced(
        pumps=sum(pump.count for pump in pumps),
        watts=watts,
        energy=energy,
        cost=energy * spent.price if spent.price else None,
        heat=watts,
    )
