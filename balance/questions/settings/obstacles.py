"""What stands in the way of targets that are missed, in words."""

from __future__ import annotations

import numpy as np

from balance.network.solve import solve
from balance.questions.settings.answer import BranchFlow
from balance.questions.settings.at_marks import AtMarks
from balance.questions.settings.speeds import top_speeds
from balance.units import SYSTEMS


def dry_words(at: AtMarks) -> tuple[str, ...]:
    """Each branch out of reach with its lift and what the pump has at rest."""
    network, found = at.network, at.found
    system = SYSTEMS[network.plan.units]
    if not found.out_of_reach:
        return ()
    names = {branch.name for branch in network.plan.branches}
    rest = solve(
        network,
        # What several branches are fed through stands open, or none of them would feel the pump.
        openings=np.array(
            [
                [valve.part.open if valve.part.locked else (valve.part.stops or (0.0, 1.0))[1]]
                if valve.stretch not in names
                else [0.0]
                for valve in network.valves
            ]
        ).reshape(-1, 1),
        speeds=top_speeds(network),
    )
    words = []
    for name in found.out_of_reach:
        row = network.row_of[name]
        start, end = network.topology.start[row], network.topology.end[row]
        top, goal = float(rest.state.heads[start, 0]), float(rest.state.heads[end, 0])
        words.append(
            f'"{name}" is out of reach: its water must stand at {system.text(goal, "head")} '
            f"above the datum, and the pump at its top speed lifts to {system.text(top, 'head')} "
            "with all else shut; a pump with more head, or a lower outlet"
        )
    return tuple(words)


def binding(at: AtMarks, branches: tuple[BranchFlow, ...]) -> tuple[str, ...]:
    """What binds: the pump, wide-open valves, branches without a valve to turn, limits."""
    network, found = at.network, at.found
    if all(branch.met and branch.within_limits for branch in branches):
        return ()
    words = []
    for place, machine in enumerate(network.machines):
        speed = float(found.speeds[place, 0])
        top = machine.pump.speed_range[1] if machine.pump.speed_range else speed
        if found.tight and speed >= top - 1e-9:
            words.append(
                f'pump "{machine.name}" runs at {100 * speed:.0f} %, the most it may, '
                "and more head would help"
            )
    if found.tight:
        names = ", ".join(f'"{name}"' for name in found.tight)
        words.append(f"wide open and still wanting more: {names}")
    locked = {valve.stretch for valve in network.valves if valve.part.locked} - {
        control.valve.stretch for control in found.space.controls
    }
    for branch in branches:
        if not branch.met and branch.valve is None and branch.branch not in found.out_of_reach:
            why = "its valve is locked" if branch.branch in locked else "no valve sets it"
            words.append(f'"{branch.branch}" takes what it gets: {why}')
        low, high = branch.limits
        if not branch.within_limits:
            words.append(f'"{branch.branch}" cannot be kept within its limits')
        elif not branch.met and (
            (high is not None and branch.low is not None and high < branch.low)
            or (low is not None and branch.high is not None and low > branch.high)
        ):
            words.append(f'"{branch.branch}": its limits forbid its target')
    return tuple(words)
