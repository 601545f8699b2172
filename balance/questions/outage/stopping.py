"""One case: every pump stops, vessels run out until all is at rest, then pipes let go theirs."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass

import numpy as np

from balance.network.arrays import network_of
from balance.network.course import Course, course
from balance.plan.model import Plan
from balance.questions.outage.checks import checks_of, with_failed
from balance.questions.outage.pipes import pipe_water, received
from balance.questions.outage.pouring import poured

LONGEST = 8 * 3600.0  # [s] that vessels are given to come to rest; our own choice
DROP = 1e-6  # [m³] on the floor, less of which is rounding; our own choice


@dataclass(frozen=True)
class Stopped:
    """What became of a case.

    Attributes
    ----------
    failed : check valves that let water back
    holes : siphon breaks let air in
    start : levels before [m]
    falls : vessels running out
    pipes : what each stretch lets go, and to which vessel [m³]
    levels : in the end, with what pipes let go [m]
    spills : over the rim of each vessel that spills [m³]
    lost : water that the simulation lost or made [m³]
    """

    failed: tuple[str, ...]
    holes: bool
    start: Mapping[str, float]
    falls: Course
    pipes: Mapping[str, tuple[str, float]]
    levels: Mapping[str, float]
    spills: Mapping[str, float]
    lost: float

    @property
    def let_go(self) -> float:
        """By pipes and devices [m³]."""
        return sum(volume for _, volume in self.pipes.values())

    @property
    def spilt(self) -> float:
        """On the floor in all [m³]."""
        return sum(self.spills.values())


def at_rest(plan: Plan) -> Plan:
    """The plan with all its pumps stopped."""
    return plan.with_speed(dict.fromkeys(plan.pumps, 0.0))


def stop(
    plan: Plan, failed: Collection[str], *, start: Mapping[str, float], holes: bool = True
) -> Stopped:
    """Runs one case.

    Parameters
    ----------
    failed : check valves, as `checks_of` names them
    start : levels from which it begins [m]
    holes : siphon breaks let air in
    """
    stopped = at_rest(with_failed(plan, failed))
    ways = [*(run.name for run in plan.runs if run.use == "always"), *plan.pumps]
    ways = [name for name in ways if name not in plan.pumps or plan.pumps[name].use == "always"]
    ways += [branch.name for branch in plan.branches]
    ways += [drain.name for drain in plan.drains if drain.role != "change"]
    # A drain under water may well run full, whatever its role; the faster water comes, the worse.
    drains = [drain.name for drain in plan.drains if drain.role != "change"]
    falls = course(stopped, until=LONGEST, start=start, holes=holes, metered=ways, primed=drains)
    pipes = pipe_water(network_of(stopped))
    names = tuple(name for name in checks_of(plan) if name in failed)
    levels, over = poured(plan, falls.last, received(pipes))
    return Stopped(
        failed=names,
        holes=holes,
        start=dict(start),
        falls=falls,
        pipes=pipes,
        levels=levels,
        spills=_spills(falls, over),
        lost=abs(falls.lost),
    )


def _spills(falls: Course, more: Mapping[str, float]) -> dict[str, float]:
    """What goes over each rim while vessels run out and when pipes let go theirs [m³].

    The floor has what simulations put there to the last drop; each rim has its share of that.
    """
    found = {
        name: max(0.0, float(np.trapezoid(flow, falls.time))) for name, flow in falls.spilt.items()
    }
    whole = sum(found.values())
    scale = float(falls.floor[-1]) / whole if whole > 0.0 else 0.0
    volumes = {name: scale * volume + more.get(name, 0.0) for name, volume in found.items()}
    return {name: volume for name, volume in volumes.items() if volume > DROP}
