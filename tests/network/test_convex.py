"""Networks without tees as convex programs, solved by a general-purpose optimizer.

The flows of a network whose runs lose a q + b |q| q, with continuity at the joints and given heads
at the fixed nodes, are those of least content,

    sum of a q² / 2 + b |q|³ / 3  -  sum over fixed nodes of head x flow taken from the node

(E. C. Cherry and W. Millar on content and co-content, Philosophical Magazine 42, 1951; from
memory). Heads of joints are the multipliers of continuity.
"""

from __future__ import annotations

from typing import Any

import cvxpy
import numpy as np
import pytest
from cvxpy.atoms.affine.binary_operators import multiply
from cvxpy.atoms.affine.sum import sum as total
from cvxpy.atoms.elementwise.abs import abs as size
from cvxpy.atoms.elementwise.power import power
from numpy.typing import NDArray

from balance.network.laws import RunLaws
from balance.network.settle import settle
from balance.network.topology import Topology

Floats = NDArray[np.float64]

FLOW = 1e-3  # [m³/s] that counts as one in the program
HEADS_AGREE = 1e-6  # of the highest
# Of the largest flow: a hundredth part of it, astray in a loop by a percent, moves the content by
# less than the optimizer can see.
FLOWS_AGREE = 1e-4


def draw(rng: np.random.Generator) -> tuple[Topology, RunLaws, Floats, Floats]:
    """A connected network of quadratic runs, its fixed heads, and what is drawn at its joints."""
    joints, fixed = int(rng.integers(3, 16)), int(rng.integers(2, 5))
    edges = [(int(rng.integers(0, joint)), joint) for joint in range(1, joints)]
    edges += [(int(rng.integers(0, joints)), int(rng.integers(0, joints))) for _ in range(6)]
    edges += [(int(rng.integers(0, joints)), joints + node) for node in range(fixed)]
    edges = [edge for edge in edges if edge[0] != edge[1]]
    start, end = (np.array(column, dtype=np.intp) for column in zip(*edges, strict=True))
    turned = rng.random(len(edges)) < 0.5
    start, end = np.where(turned, end, start), np.where(turned, start, end)
    runs = len(edges)
    b = 10.0 ** rng.uniform(4.5, 7.0, (runs, 1))  # 0.03 to 10 m at 1 L/s
    laws = RunLaws(
        linear=10.0 ** rng.uniform(-1.0, 2.0, (runs, 1)),
        forward=b,
        backward=b,
        constant=np.zeros((runs, 1)),
        area=np.full((runs, 1), 5e-4),
        one_way=np.zeros(0, dtype=np.intp),
        reverse=0.0,
    )
    heads = rng.uniform(0.0, 3.0, (fixed, 1))
    drawn = np.where(rng.random((joints, 1)) < 0.3, rng.uniform(0.0, 3e-4, (joints, 1)), 0.0)
    topology = Topology(joints, fixed, start, end, np.zeros((0, 2), dtype=np.intp))
    return topology, laws, heads, drawn


def least_content(
    topology: Topology, laws: RunLaws, heads: Floats, drawn: Floats
) -> tuple[Floats, Floats]:
    """Flows of all runs and heads of all joints, from the convex program."""
    runs = np.arange(topology.runs)
    into = np.zeros((topology.joints + topology.fixed, topology.runs))
    into[topology.end, runs] += 1.0
    into[topology.start, runs] -= 1.0
    at_joints, at_fixed = into[: topology.joints], into[topology.joints :]
    flow: Any = cvxpy.Variable(topology.runs)
    a, b = laws.linear[:, 0] * FLOW, laws.forward[:, 0] * FLOW**2
    content = (
        total(multiply(a / 2, power(flow, 2)))
        + total(multiply(b / 3, power(size(flow), 3)))
        + (at_fixed.T @ heads[:, 0]) @ flow
    )
    continuity = at_joints @ flow == drawn[:, 0] / FLOW
    problem: Any = cvxpy.Problem(cvxpy.Minimize(content), [continuity])
    problem.solve(solver=cvxpy.CLARABEL, tol_gap_abs=1e-9, tol_gap_rel=1e-9, tol_feas=1e-9)
    return flow.value * FLOW, continuity.dual_value


@pytest.mark.parametrize("seed", range(12))
def test_flows_and_heads_are_those_of_least_content(seed: int) -> None:
    topology, laws, heads, drawn = draw(np.random.default_rng(seed))
    state = settle(
        topology,
        laws,
        fixed_heads=heads,
        held=np.zeros((topology.runs, 1), dtype=np.bool_),
        draw=drawn,
    )
    flow, joint_heads = least_content(topology, laws, heads, drawn)
    ours = state.flow[:, 0]
    assert state.converged.all()
    assert np.abs(ours - flow).max() < FLOWS_AGREE * np.abs(ours).max()
    assert np.abs(state.heads[: topology.joints, 0] - joint_heads).max() < HEADS_AGREE * heads.max()
