"""What must hold of any solved network, whatever solved it."""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from balance.network.laws import RunLaws
from balance.network.settle import State
from balance.network.topology import Topology
from balance.parts import pumps
from balance.parts.pumps import PumpCurve

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

BALANCE = 1e-9  # of the largest flow
CLOSING = 1e-6  # [m]
NOTHING = 1e-12  # [m³/s], beside which a balance means nothing


def check_laws(
    topology: Topology, laws: RunLaws, state: State, *, shut: Bools, draw: Floats | None = None
) -> None:
    """Flows balance, heads close along every run, what is shut is exactly shut.

    Parameters
    ----------
    shut : (E, S) or (E, 1) runs that were given as shut
    draw : (joints, S) or (joints, 1) flow taken out at joints [m³/s]
    """
    assert state.converged.all()
    # Written anew: not by the solver's own way of adding up.
    net = np.zeros_like(state.heads)
    np.add.at(net, topology.end, state.flow)
    np.subtract.at(net, topology.start, state.flow)
    net = net[: topology.joints] - (0.0 if draw is None else draw)
    largest = np.maximum(np.abs(state.flow).max(axis=0, initial=0.0), NOTHING)
    assert np.all(np.abs(net) <= BALANCE * largest)
    drop = state.heads[topology.start] - state.heads[topology.end]
    missing = np.where(state.held, 0.0, drop - laws(state.flow).head)
    assert np.abs(missing).max(initial=0.0) <= CLOSING
    assert np.all(np.where(shut, state.flow, 0.0) == 0.0)


def check_loops(topology: Topology, laws: RunLaws, state: State, *, scenario: int = 0) -> None:
    """Drops added up along a tree of open runs meet again at each run outside it.

    Reads no head but the fixed ones.
    """
    lost = laws(state.flow).head[:, scenario]
    free = [int(run) for run in np.flatnonzero(~state.held[:, scenario])]
    around: dict[int, list[tuple[int, int, float]]] = {}
    for run in free:
        i, j = int(topology.start[run]), int(topology.end[run])
        around.setdefault(i, []).append((run, j, -lost[run]))
        around.setdefault(j, []).append((run, i, lost[run]))
    fixed = range(topology.joints, topology.joints + topology.fixed)
    head = {node: float(state.heads[node, scenario]) for node in fixed}
    tree: set[int] = set()
    for root in (*fixed, *range(topology.joints)):
        head.setdefault(root, 0.0)  # a joint that nothing ties to a fixed head
        queue = deque([root])
        while queue:
            here = queue.popleft()
            for run, there, rise in around.get(here, []):
                if there not in head:
                    head[there] = head[here] + rise
                    tree.add(run)
                    queue.append(there)
    for run in free:
        if run not in tree:
            i, j = int(topology.start[run]), int(topology.end[run])
            assert abs(head[i] - head[j] - lost[run]) <= CLOSING


def pull_on_shut_checks(topology: Topology, laws: RunLaws, state: State, *, shut: Bools) -> Floats:
    """Head (S,) that pulls the worst check valve open that the solver shut [m].

    Beyond its opening head, and what a tee at its end makes of the flow that passes.
    Where one side of it is tied to no fixed head nothing can be said, and nothing is.
    """
    rows = laws.one_way
    isolated = np.zeros(state.heads.shape, dtype=np.bool_)
    isolated[: topology.joints] = topology.isolated(state.held)
    known = ~(isolated[topology.start[rows]] | isolated[topology.end[rows]])
    wanted = np.broadcast_to(shut, state.held.shape)[rows]
    closed = state.held[rows] & ~wanted & known
    pull = (topology.drop(state.heads) - laws(state.flow).head)[rows]
    return np.asarray(np.where(closed, pull, 0.0).max(axis=0, initial=0.0))


def check_check_valves(topology: Topology, laws: RunLaws, state: State, *, shut: Bools) -> None:
    """No flow backwards, and none is shut that would open."""
    assert (state.flow[laws.one_way] >= 0.0).all()
    assert np.all(pull_on_shut_checks(topology, laws, state, shut=shut) <= CLOSING)


def check_pumps(
    topology: Topology, laws: RunLaws, state: State, *, curves: Sequence[PumpCurve]
) -> None:
    """Each pump adds the head of its curve at its flow, less what its own run loses.

    Its run may hold a check valve and losses of a stated coefficient, but no pipe and no tee.
    """
    if laws.pumps is None:
        return
    for row, curve, speed in zip(laws.pumps.of, curves, laws.pumps.speed, strict=True):
        flow = state.flow[row]
        added = state.heads[topology.end[row]] - state.heads[topology.start[row]]
        quadratic = np.where(flow >= 0.0, laws.forward[row], laws.backward[row])
        spent = (laws.linear[row] + quadratic * np.abs(flow)) * flow + laws.constant[row]
        free = ~state.held[row]
        wanted = pumps.head(curve, flow, speed).value - spent
        assert np.abs(added - wanted)[free].max(initial=0.0) <= CLOSING
