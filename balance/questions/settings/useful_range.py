"""The useful range of the pumps: kept where every branch stays as well met as it is."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from balance.network.arrays import Network
from balance.questions.aims import Wishes
from balance.questions.settings.compromise import RANGE_MARGIN, Compromise
from balance.questions.settings.flowspace import FlowRange, FlowSpace, Held
from balance.questions.speeds import Drive, next_step, step_of

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

MOST_SPEEDS = 6  # above the one found, to bring a pump up into its useful range
UNBROKEN = 1e-6
AS_WELL_MET = 1e-7


def into_useful_range(
    space: FlowSpace, here: Held, wishes: Wishes, drives: tuple[Drive, ...]
) -> Held:
    """The same within the pumps' useful ranges, if no target is missed by more for it.

    Parameters
    ----------
    drives : speeds that may be set
    """
    network = space.network
    if len(kept_ranges(network, here)) == len(_ranges(network, here.speed)):
        return here
    before = _missed(space, here, wishes)
    met = _met(space, here, wishes)
    for speeds in _speeds(network, here, drives):
        problem = Compromise(space, wishes, (), speeds, _ranges(network, speeds), met)
        found = problem.minimum([here.flow])
        trial = problem.held(found)
        if found.broken < UNBROKEN and _missed(space, trial, wishes) <= before + AS_WELL_MET:
            return trial
    return here


def kept_ranges(network: Network, here: Held) -> tuple[FlowRange, ...]:
    """Those of the useful ranges that the flows keep."""
    return tuple(
        each
        for each in _ranges(network, here.speed)
        if each.low * (1 - 1e-9) <= float(here.state.flow[each.row, 0]) <= each.high * (1 + 1e-9)
    )


def _ranges(network: Network, speeds: Floats) -> tuple[FlowRange, ...]:
    """Useful ranges of the pumps that have one, at some speeds."""
    return tuple(
        FlowRange(machine.run, *useful)
        for p, machine in enumerate(network.machines)
        if (useful := machine.useful_range(float(speeds[p, 0]))) is not None
    )


def _missed(space: FlowSpace, here: Held, wishes: Wishes) -> float:
    return float(wishes.missed(here.state.flow[space.branch_rows])[0])


def _met(space: FlowSpace, here: Held, wishes: Wishes) -> tuple[int, ...]:
    """Places of the wishes that are met."""
    totals = wishes.rows @ here.state.flow[space.branch_rows, 0]
    judged = zip(wishes.aims, totals, strict=True)
    return tuple(place for place, (aim, total) in enumerate(judged) if aim.judged(float(total)))


def _speeds(network: Network, here: Held, drives: tuple[Drive, ...]) -> list[Floats]:
    """Speeds at which to look for flows within the useful ranges, the likeliest first.

    The ranges grow with speed.  A pump beyond its range therefore comes back, its flows as they
    are, at the speed whose range reaches that far, and nothing slower does as well.  For one below
    its range more speed only lets the flows rise within their tolerances.
    """
    beyond = max(
        (
            float(here.state.flow[each.row, 0]) / (each.high * (1 - RANGE_MARGIN))
            for each in _ranges(network, here.speed)
        ),
        default=0.0,
    )
    first = here.speed.copy()
    if beyond > 1.0:
        for drive in drives:
            speed = float(first[drive.pumps[0], 0])
            first[drive.pumps, 0] = next_step(drive.machine, speed * beyond)
    tried = [first]
    while drives and len(tried) < MOST_SPEEDS:
        faster = tried[-1].copy()
        for drive in drives:
            speed = float(faster[drive.pumps[0], 0])
            faster[drive.pumps, 0] = next_step(drive.machine, speed + step_of(drive.machine))
        if np.array_equal(faster, tried[-1]):
            break
        tried.append(faster)
    return tried
