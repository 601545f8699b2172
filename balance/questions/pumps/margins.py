"""What a pump does beyond the targets: to spare, fouled, wide open, and as the valves stand."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from balance.network.arrays import Network
from balance.network.settle import State
from balance.network.solve import settled, unsettled
from balance.questions.aims import NO_FLOW
from balance.questions.pumps.answer import Crossing
from balance.questions.settings.aimed import flows_at_aims
from balance.questions.settings.search import Found
from balance.questions.speeds import top_speeds

Floats = NDArray[np.float64]

# Times the flows asked for, tried at once: close together where it matters most, and up to where
# a pump is out of all proportion; our own choice.
SHARES = np.array(
    [0.0, 0.2, 0.4, 0.6, 0.7, 0.8, 0.9, 1.0, 1.1, 1.2, 1.35, 1.5, 1.75, 2.0, 2.5, 3.0, 4.0]
)
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


def margins(network: Network, found: Found, *, state: State, fouling: float) -> Margins:
    """What a network with its pump has to spare where a search ended.

    Parameters
    ----------
    state : that flows with its openings and speeds
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
    others = settled(network, laws, held=held, near=state, scenarios=3)
    if not others.converged.all():
        raise unsettled(network, laws, others)
    rows = found.space.branch_rows
    clean, dirty = state.flow[rows, 0], others.flow[rows, 0].clip(min=0.0)
    crossing = None
    if len(network.machines) == 1:
        run = network.machines[0].run
        crossing = Crossing(
            speed=float(tops[0, 0]),
            flow=float(others.flow[run, 2]),
            head=-float(network.topology.drop(others.heads)[run, 2]),
        )
    reach, fouled_reach = _reaches(network, found, tops, fouling)
    return Margins(
        reach=reach,
        fouled_reach=fouled_reach,
        fouled=np.divide(dirty, clean, out=np.ones_like(clean), where=clean > NO_FLOW),
        wide_open=float(network.topology.taken(others.flow)[1]),
        crossing=crossing,
    )


def _reaches(
    network: Network, found: Found, tops: Floats, fouling: float
) -> tuple[float, float] | tuple[None, None]:
    """Greatest common factors on the flows asked for, clean and fouled.

    As far as every valve still has something to burn.
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
    factor = np.ones((network.topology.runs, 2 * len(SHARES)))
    factor[:, len(SHARES) :] += fouling
    space = replace(found.space, network=network.fouled(factor))
    spare = space.spares(asked, np.tile(SHARES, 2), tops)
    clean, fouled = spare[wanted].min(axis=0).reshape(2, -1)
    return _crossed(clean), _crossed(fouled)


def _crossed(spare: Floats) -> float:
    """Share at which what is left over (S,), falling, comes to nothing; by a parabola there."""
    missing = np.flatnonzero(spare < -ENOUGH)
    if len(missing) == 0:
        return float(SHARES[-1])
    beyond = int(missing[0])
    if beyond == 0:
        return float(SHARES[0])
    low, high = float(SHARES[beyond - 1]), float(SHARES[beyond])
    near = slice(max(beyond - 2, 0), max(beyond - 2, 0) + 3)
    bend, slope, rest = np.polyfit(SHARES[near] - low, spare[near], 2)
    # The root within the step, written so that a bend of nothing does no harm.
    root = np.sqrt(max(slope * slope - 4.0 * bend * rest, 0.0))
    return float(np.clip(low + 2.0 * rest / (root - slope), low, high))
