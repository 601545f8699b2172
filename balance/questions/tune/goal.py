"""Where a walk leads: flows that each turned valve is to carry, and the speeds of the pumps."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from balance.network.arrays import Network
from balance.questions.aims import Aim
from balance.questions.settings.flowspace import Control, FlowSpace
from balance.questions.settings.search import SHORT, search

Floats = NDArray[np.float64]

LEFT_OPEN = 0.03
"""Of its flow, that a valve near full would take: less is left to the step of the pump's speed;
our own choice."""


@dataclass(frozen=True)
class Goal:
    """What is to be reached.

    Attributes
    ----------
    valves : names of those that may be turned for it
    flows : (C,) through them [m³/s]
    speeds : of all pumps
    aims : what counts as met, branches and totals of groups
    unmet : names of targets that cannot be had
    """

    valves: tuple[str, ...]
    flows: tuple[float, ...]
    speeds: tuple[float, ...]
    aims: tuple[Aim, ...]
    unmet: tuple[str, ...]


def goal_of(network: Network) -> Goal:
    """The best flows that a network can give.

    Parameters
    ----------
    network : as it most likely is
    """
    found = search(network)
    return Goal(
        found.space.turned,
        tuple(float(flow) for flow in found.here.flow),
        tuple(float(speed) for speed in found.speeds[:, 0]),
        tuple(aim for aim in found.aims if aim.asked),
        found.unmet if found.missed > SHORT else (),
    )


def controls_in(network: Network, goal: Goal) -> tuple[Control, ...]:
    """The valves of a goal, with the laws that they have in a network."""
    valves = {valve.name: valve for valve in network.valves}
    return tuple(
        Control(valves[name], valves[name].run, *(valves[name].part.stops or (0.0, 1.0)))
        for name in goal.valves
    )


@dataclass(frozen=True)
class Wanted:
    """Where handles should stand, by what is known now.

    Attributes
    ----------
    openings : (V,) marks, were they set without error
    flow : (E,) of all runs then [m³/s]
    """

    openings: Floats
    flow: Floats


def wanted(network: Network, goal: Goal, *, openings: Floats) -> Wanted:
    """Marks that carry the flows of a goal.

    What cannot have its flow is left wide open, the worst first, and the rest is settled around it.

    Parameters
    ----------
    network : as it most likely is
    openings : (V,) of all valves, where those stand that are not turned
    """
    speeds = np.array(goal.speeds).reshape(-1, 1)
    controls, flows = controls_in(network, goal), np.array(goal.flows)
    while True:
        space = FlowSpace(network, controls, _opened(network, goal, controls, openings))
        held = space.at(flows, speeds)
        if (held.spare > 0.0).all():
            return Wanted(space.openings_for(held)[:, 0], held.state.flow[:, 0])
        # One at a time: what it does not take is left to the others.
        short = int(np.argmin(held.spare))
        controls = controls[:short] + controls[short + 1 :]
        flows = np.delete(flows, short)


def _opened(
    network: Network, goal: Goal, controls: tuple[Control, ...], openings: Floats
) -> Floats:
    """Openings (V, 1) with the released valves of a goal wide open."""
    column = openings[:, None].copy()
    places = {valve.name: place for place, valve in enumerate(network.valves)}
    kept = {control.valve.name for control in controls}
    for control in controls_in(network, goal):
        if control.valve.name not in kept:
            column[places[control.valve.name], 0] = control.most
    return column
