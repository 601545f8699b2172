"""Targets lowered to what a branch can have while all others get theirs."""

from __future__ import annotations

from collections.abc import Iterator

from balance.network.arrays import Network, network_of
from balance.plan.model import Branch, Plan
from balance.plan.targets import Target
from balance.questions.settings.search import Found, search
from balance.questions.speeds import top_speeds
from balance.units import SYSTEMS


def lowered_targets(network: Network, found: Found) -> Iterator[tuple[str, Plan]]:
    """Each branch that is short asked for no more than it can have, in words and as a plan."""
    plan = network.plan
    if found.dry:
        return  # not all of the others can get theirs
    for place, branch in enumerate(plan.branches):
        asked = branch.target.low if branch.target is not None else None
        if asked is None or found.flow[place] >= asked or not _is_alone(plan, branch):
            continue
        had = _had(network, place)
        least = (branch.limits or (None, None))[0]
        if not (least or 0.0) < had < asked:
            continue
        system = SYSTEMS[plan.units]
        less, wanted = system.text(had, "flow"), system.text(asked, "flow")
        yield (
            f'ask {less} of "{branch.name}" instead of {wanted}',
            _with(plan, place, target=Target("flow", had, had)),
        )


def _is_alone(plan: Plan, branch: Branch) -> bool:
    """Whether no total and no share says besides what a branch is asked for."""
    totals = (group for group in plan.groups.values() if group.target is not None)
    return branch.share is None and all(branch.name not in group.branches for group in totals)


def _had(network: Network, place: int) -> float:
    """Flow of a branch that takes all that the targets of the others leave, at top speed [m³/s]."""
    tops = zip(network.machines, top_speeds(network)[:, 0], strict=True)
    plan = network.plan.with_speed({machine.name: float(top) for machine, top in tops})
    return float(search(network_of(_with(plan, place, target=None, share=1.0))).flow[place])


def _with(plan: Plan, place: int, **keys: object) -> Plan:
    branch = plan.branches[place].model_copy(update=keys)
    branches = (*plan.branches[:place], branch, *plan.branches[place + 1 :])
    return plan.model_copy(update={"branches": branches})
