"""What a pump does beyond the targets: to spare, fouled, wide open, and as the valves stand."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from balance.network.arrays import Network
from balance.network.solve import settled, unsettled
from balance.questions.pumps.answer import Crossing
from balance.questions.settings.aimed import flows_at_aims
from balance.questions.settings.search import Found
from balance.questions.speeds import top_speeds

Floats = NDArray[np.float64]

MOST_FLOW = 4.0  # times the flows asked for: more is out of all proportion; our own choice
GRID = 9  # shares of flow tried at once
ROUNDS = 2  # of trying, each within the step in which the last one ended
ENOUGH = 1e-9  # [m] of head missing that is rounding


@dataclass(frozen=True)
class Margins:
    """What is left beyond the targets, and what the same pump does otherwise.

    Attributes
    ----------
    reach : times its flow that every branch asked for something can have at once, at top speed and
        with handles set for it; below 1: not all targets can be had.  None where one is out of
        reach
    fouled_reach : the same once everything has fouled
    fouled : flow of each branch over that before fouling, handles and speed as they are (B,)
    wide_open : flow of all water that leaves vessels, every valve wide open, at top speed [m³/s]
    crossing : where it works with the valves as the plan has them, at top speed; None where there
        are several pumps
    """

    reach: float | None
    fouled_reach: float | None
    fouled: Floats
    wide_open: float
    crossing: Crossing | None


def margins(network: Network, found: Found, *, fouling: float) -> Margins:
    """What a network with its pump has to spare where a search ended.

    Parameters
    ----------
    fouling : by which the loss at equal flow of all pipes, hoses, fittings and devices rises, as a
        share of what it was; valves and tees stay
    """
    tops = top_speeds(network)
    wide = network.openings
    for place, valve in enumerate(network.valves):
        if not valve.part.locked:
            wide[place, 0] = (valve.part.stops or (0.0, 1.0))[1]
    fouling_of = np.ones((network.topology.runs, 3))
    fouling_of[:, 0] += fouling
    laws, shut = network.fouled(fouling_of).at(
        np.hstack([found.openings, wide, network.openings]), np.hstack([found.speeds, tops, tops])
    )
    held = shut if shut.shape[1] == 3 else np.repeat(shut, 3, axis=1)
    state = settled(network, laws, held=held, near=found.here.state, scenarios=3)
    if not state.converged.all():
        raise unsettled(network, laws, state)
    rows = found.space.branch_rows
    clean, dirty = found.here.state.flow[rows, 0], state.flow[rows, 0]
    crossing = None
    if len(network.machines) == 1:
        run = network.machines[0].run
        crossing = Crossing(
            speed=float(tops[0, 0]),
            flow=float(state.flow[run, 2]),
            head=-float(network.topology.drop(state.heads)[run, 2]),
        )
    reach, fouled_reach = _reaches(network, found, tops, fouling)
    return Margins(
        reach=reach,
        fouled_reach=fouled_reach,
        fouled=np.divide(dirty, clean, out=np.ones_like(clean), where=clean > 0.0),
        wide_open=float(network.topology.taken(state.flow)[1]),
        crossing=crossing,
    )


def _reaches(
    network: Network, found: Found, tops: Floats, fouling: float
) -> tuple[float, float] | tuple[None, None]:
    """Greatest common factors on the flows asked for, clean and fouled.

    As far as every valve still has something to burn.  What is left over falls about with the
    square of the factor, so between two of those tried it is read off a straight line in that.
    """
    if found.dry or not found.space.controls:
        return None, None
    asked = flows_at_aims(found.space, found.wishes)
    if asked is None or not asked.any():
        asked = (
            found.here.flow
        )  # where aims do not settle all flows, what was found stands for them
    wanted = asked > 0.0
    if not wanted.any():
        return None, None
    factor = np.ones((network.topology.runs, 2 * GRID))
    factor[:, GRID:] += fouling
    space = replace(found.space, network=network.fouled(factor))
    low, high = np.zeros(2), np.full(2, MOST_FLOW)
    reach = high
    for _ in range(ROUNDS):
        shares = np.linspace(low, high, GRID).T
        spare = space.spares(asked, shares.ravel(), tops)
        least = spare[wanted].min(axis=0).reshape(2, GRID)
        missing = least < -ENOUGH
        beyond = np.where(missing.any(axis=1), missing.argmax(axis=1), GRID - 1)
        before = np.maximum(beyond - 1, 0)
        both = np.arange(2)
        low, high = shares[both, before], shares[both, beyond]
        left, lack = least[both, before], -least[both, beyond]
        part = np.clip(left / np.where(left + lack > 0.0, left + lack, np.inf), 0.0, 1.0)
        crossed = np.sqrt(low**2 + (high**2 - low**2) * part)
        reach = np.where(missing.any(axis=1), np.where(beyond > 0, crossed, low), high)
    return float(reach[0]), float(reach[1])
