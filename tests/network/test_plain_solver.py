"""Agreement with a second, plain solver: head equations written anew, one run at a time, dense.

Nothing is shared with the solver but the coefficients: friction, pumps and the joint system are
written out here.  Which check valves are shut is taken over; that none is against its will is
checked wherever random networks are.
"""

from __future__ import annotations

from math import log10

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.interpolate import CubicHermiteSpline, PchipInterpolator

from balance.network.settle import settle
from tests.network.random_networks import Draw, draw_network

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
STEP = 1e-6
LEAST_STEP = 1e-13  # [m³/s]


def friction(reynolds: float, roughness: float) -> float:
    """f_D Re²: laminar, a cubic bridge from 2000 to 4000, Colebrook above."""

    def colebrook(re: float) -> float:
        x = 7.0
        for _ in range(60):
            x = -2 * log10(roughness / 3.7 + 2.51 * x / re)
        return (re / x) ** 2

    if reynolds <= 2000.0:
        return 64.0 * reynolds
    if reynolds >= 4000.0:
        return colebrook(reynolds)
    slope = (colebrook(4000.0 + 0.01) - colebrook(4000.0 - 0.01)) / 0.02
    bridge = CubicHermiteSpline([2000, 4000], [128_000.0, colebrook(4000.0)], [64.0, slope])
    return float(bridge(reynolds))


class Plain:
    """One scenario of a drawn network without tees."""

    def __init__(self, draw: Draw) -> None:
        self.draw = draw
        self.pumps = [
            PchipInterpolator(curve.flow, curve.head, extrapolate=False) for curve in draw.curves
        ]

    def lost(self, run: int, flow: float) -> float:
        """Head lost in a run."""
        laws = self.draw.laws
        b = laws.forward if flow >= 0.0 else laws.backward
        head = float(laws.linear[run, 0] * flow + b[run, 0] * abs(flow) * flow)
        head += float(laws.constant[run, 0])
        pipes = laws.friction
        if pipes is not None and run in pipes.at.of:
            place = int(np.flatnonzero(pipes.at.of == run)[0])
            reynolds = abs(flow) * float(pipes.reynolds_per_flow[place, 0])
            y = friction(reynolds, 3.7 * float(pipes.law.k[place, 0]))
            head += float(pipes.head[place, 0]) * float(np.copysign(y, flow))
        if run < len(self.pumps):
            head -= self.given(run, flow)
        return head

    def given(self, pump: int, flow: float) -> float:
        """Head that a pump gives: n² h(q / n), quadratics beyond either end, a loss at rest."""
        curve, law = self.draw.curves[pump], self.draw.laws.pumps
        assert law is not None
        n = float(law.speed[pump, 0])
        if flow < 0.0:
            return float(
                n**2 * curve.head[0] + n * curve.slopes[0] * flow + curve.reverse * flow**2
            )
        if n == 0.0:
            return float(-curve.reverse * flow**2)
        if flow <= n * curve.flow[-1]:
            return n**2 * float(self.pumps[pump](flow / n))
        p = -curve.slopes[-1] / (2 * curve.flow[-1])
        return float(n**2 * curve.head[-1] + p * ((n * curve.flow[-1]) ** 2 - flow**2))

    def solved(self, flow: Floats, *, held: Bools) -> Floats:
        """Flows (E,) by Newton's method with slopes by differences, from flows nearby."""
        topology = self.draw.topology
        free = [int(run) for run in np.flatnonzero(~held)]
        nodes = topology.joints + topology.fixed
        incidence = np.zeros((topology.runs, nodes))
        incidence[np.arange(topology.runs), topology.start] = 1.0
        incidence[np.arange(topology.runs), topology.end] -= 1.0
        joints = incidence[free][:, : topology.joints]
        known = incidence[free][:, topology.joints :] @ self.draw.fixed_heads[:, 0]
        q, heads = flow[free].copy(), np.zeros(topology.joints)
        for _ in range(100):
            head = np.array([self.lost(run, value) for run, value in zip(free, q, strict=True)])
            steps = np.maximum(np.abs(q) * STEP, LEAST_STEP)
            above = [self.lost(run, v + d) for run, v, d in zip(free, q, steps, strict=True)]
            below = [self.lost(run, v - d) for run, v, d in zip(free, q, steps, strict=True)]
            weight = 2 * steps / (np.array(above) - np.array(below))
            missing = joints @ heads + known - head
            system = joints.T @ (weight[:, None] * joints)
            # Keeps isolated joints where they are; no step is left to be wrong in the end.
            system += np.diag(1e-13 * np.diag(system) + 1e-30)
            move = np.linalg.solve(system, -joints.T @ (q + weight * missing))
            change = weight * (missing + joints @ move)
            heads, q = heads + move, q + change
            if np.abs(change).max(initial=0.0) <= 1e-11 * np.abs(q).max(initial=0.0):
                break
        full = np.zeros(topology.runs)
        full[free] = q
        return full


@pytest.mark.parametrize("seed", range(12))
def test_flows_agree(seed: int) -> None:
    draw = draw_network(np.random.default_rng(1000 + seed), scenarios=1)
    state = settle(draw.topology, draw.laws, fixed_heads=draw.fixed_heads, held=draw.held)
    ours = state.flow[:, 0]
    # One solution alone: the start is taken nearby only so that no step needs to be searched.
    nearby = ours * np.random.default_rng(seed).uniform(0.9, 1.1, len(ours))
    theirs = Plain(draw).solved(nearby, held=state.held[:, 0])
    assert np.abs(theirs - ours).max() <= 1e-6 * np.abs(ours).max() + 1e-12
