"""Systems drawn at random and solved, block by block so that memory stays small."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from balance.network.arrays import Network
from balance.network.laws import RunLaws
from balance.network.settle import State, settle
from balance.network.solve import mismatch
from balance.questions.learning.doubts import Drawn
from balance.questions.learning.sampler import Sampler

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

BLOCK = 4096  # systems solved at once


@dataclass(frozen=True)
class Solved:
    """Drawn systems as they were solved, a column each.

    Attributes
    ----------
    laws : of the runs
    shut : (E, S) or (E, 1) runs that are shut
    state : flows and heads
    settled : (S,) systems whose flows were found
    """

    laws: RunLaws
    shut: Bools
    state: State
    settled: Bools


def solve_drawn(network: Network, drawn: Drawn, *, factor: Floats) -> Solved:
    """Solve drawn systems, handles as the plan has them but for the hand that set them.

    Parameters
    ----------
    factor : (E, 1) multiples of what runs lose clean
    """
    planned = network.openings
    # A handle at its stop is not set by eye.
    by_eye = (planned > 0.0) & (planned < 1.0)
    openings = np.where(by_eye, np.clip(planned + drawn.handles, 0.0, 1.0), planned)
    real = replace(drawn.real, passive=drawn.real.passive.lossier(factor))
    laws, shut = network.at(openings, network.speeds, real=real)
    state = settle(
        network.topology,
        laws,
        fixed_heads=drawn.fixed_heads,
        held=shut,
        draw=network.draw,
        scenarios=drawn.fixed_heads.shape[1],
    )
    settled = state.converged
    drawn_from = network.draw[:, 0] > 0.0
    if drawn_from.any():
        # A valve that is nearly shut may really be shut, and a joint that draws be cut off by it.
        settled = settled & ~network.topology.isolated(shut)[drawn_from].any(axis=0)
    return Solved(laws, shut, state, settled)


@dataclass(frozen=True)
class Block:
    """Some of the systems.

    Attributes
    ----------
    normal : (doubts, S) the numbers from which those that settled were drawn
    flow : (E, S) their flows [m³/s]
    unsettled : how many more did not settle
    worst_imbalance : of flow at any joint [m³/s]
    worst_mismatch : of head along any run [m]
    """

    normal: Floats
    flow: Floats
    unsettled: int
    worst_imbalance: float
    worst_mismatch: float


def blocks(
    network: Network,
    sampler: Sampler,
    *,
    systems: int,
    seed: int,
    factor: Floats,
    block: int = BLOCK,
) -> Iterator[Block]:
    """Draw systems and solve them.

    The numbers of a system depend on the seed and on its place in the row alone: fewer systems are
    the first of more, and the size of blocks decides nothing.

    Parameters
    ----------
    factor : (E, 1) multiples of what runs lose clean
    block : systems solved at once
    """
    random = np.random.default_rng(seed)
    for first in range(0, systems, block):
        count = min(block, systems - first)
        normal = np.ascontiguousarray(random.standard_normal((count, len(sampler.all))).T)
        solved = solve_drawn(network, sampler.drawn(normal), factor=factor)
        kept = np.flatnonzero(solved.settled)
        state = solved.state
        net = network.topology.net_inflow(state.flow) - network.draw
        missing = mismatch(network, solved.laws, state)
        yield Block(
            normal=normal.take(kept, axis=1),
            flow=state.flow.take(kept, axis=1),
            unsettled=count - len(kept),
            worst_imbalance=float(np.abs(net.take(kept, axis=1)).max(initial=0.0)),
            worst_mismatch=float(missing.take(kept, axis=1).max(initial=0.0)),
        )
