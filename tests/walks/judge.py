"""How far true flows are from what the plan asks."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from balance.network.arrays import Network
from balance.plan.model import Plan
from balance.questions.aims import aims_of
from balance.questions.settings.search import search

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Wish:
    """What one branch is asked to carry; a sharer its part of the group's total.

    Attributes
    ----------
    aim : flow to come close to [m³/s]
    low, high : flows between which nothing is missed; one flow for both, or None: open
    """

    branch: str
    aim: float
    low: float | None
    high: float | None

    def off(self, flow: float) -> float:
        """How far a flow is from a target, or outside a range or a bound, as a share of that."""
        short = 0.0 if self.low is None else (self.low - flow) / self.low
        over = 0.0 if self.high is None else (flow - self.high) / self.high
        return max(short, over, 0.0)


def with_tolerance(plan: Plan, tolerance: float) -> Plan:
    """The same plan with one tolerance for all that is asked of branches."""
    return plan.model_copy(
        update={
            "branches": tuple(
                branch
                if branch.target is None and branch.share is None
                else branch.model_copy(update={"tolerance": tolerance})
                for branch in plan.branches
            )
        }
    )


def wishes_of(plan: Plan) -> tuple[Wish, ...]:
    """What each branch is asked, in the plan's order."""
    return tuple(
        Wish(aim.branches[0], aim.aim, aim.low, aim.high)
        for aim in aims_of(with_tolerance(plan, 0.0))
        if aim.asked and not aim.group and aim.aim is not None
    )


def worst(wishes: tuple[Wish, ...], network: Network, flow: Floats) -> float:
    """How far the branch is off that is farthest off, at true flows (E,)."""
    return max(wish.off(float(flow[network.row_of[wish.branch]])) for wish in wishes)


def is_possible(network: Network) -> bool:
    """Whether a true system can give what its plan asks, within the plan's tolerance."""
    return not search(network).unmet
