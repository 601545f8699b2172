"""What was taken for granted in a power cut, in words."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from balance.network.basins import basin_of
from balance.plan.model import Branch, OutletPart, Plan, Run
from balance.questions.outage.cases import MOST_CHECKS
from balance.questions.outage.pools import Reservoir
from balance.questions.outage.stopping import Stopped
from balance.units import SYSTEMS

RAISED = 1e-3  # [m] over the plan's level, less of which is not told; our own choice


def notes_of(
    plan: Plan,
    start: Mapping[str, float],
    checks: Sequence[str],
    ended: Sequence[Stopped],
    pools: Sequence[Reservoir],
    *,
    given: Mapping[str, float],
) -> Iterator[str]:
    """All that a person should know.

    Parameters
    ----------
    start : levels at which it began, some of them given [m]
    """
    system = SYSTEMS[plan.units]
    asked = {name.casefold() for name in given}
    if len(checks) > MOST_CHECKS:
        yield (
            f"of {len(checks)} check valves not every combination was tried: all failed, all but "
            "each, each alone, none"
        )
    for name, vessel in plan.vessels.items():
        if basin_of(vessel) is None:
            yield f'"{name}" has no size, so it keeps its level; give length and width'
        elif vessel.bottom is None and vessel.table is None:
            yield f'"{name}" has no bottom, so it was taken never to run empty'
    stretches: tuple[Run | Branch, ...] = (*plan.runs, *plan.branches)
    for stretch in stretches:
        last = stretch.parts[-1] if stretch.parts else None
        told = isinstance(last, OutletPart) and (last.depth, last.height) != (None, None)
        ends = stretch.to in plan.vessels
        if ends and not told and stretch.to not in {n for pool in pools for n in pool.sections}:
            yield (
                f'nothing tells how deep "{stretch.name}" ends in "{stretch.to}": it was taken to '
                "drain it to the bottom; write depth on its outlet"
            )
    for name, vessel in plan.vessels.items():
        if name.casefold() not in asked and start[name] > vessel.level + RAISED:
            yield (
                f'"{name}" was taken to stand at {system.text(start[name], "length")}, as the flow '
                f"at full pump speed needs over its weir, not at "
                f"{system.text(vessel.level, 'length')}"
            )
    for drain in plan.drains:
        if drain.inlet is None and drain.role != "change":
            yield (
                f'nothing tells where water enters drain "{drain.name}": it was taken to drain '
                f'"{drain.from_}" to its bottom; write inlet'
            )
    behind = {drain.from_ for drain in plan.drains if plan.vessels[drain.from_].crest is not None}
    for name in plan.vessels:
        if name in behind:
            yield (
                f'the overflow box of "{name}" is not in the plan: what it holds above its lowest '
                "inlet comes down too; give it as a vessel of its own, with a weir into it"
            )
    if not all(each.falls.at_rest for each in ended):
        yield "after eight hours some level was still moving"
