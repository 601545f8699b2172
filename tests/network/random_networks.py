"""Random networks as numbers: trees, loops, manifolds and grids, with what breaks solvers.

Shut valves up to half of the runs, check valves up to four fifths, loss coefficients over ten
decades, laminar to rough turbulent flow, flat and stopped pumps.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from balance.network.laws import LEAST_SLOPE, REVERSE_SLOPE, RunLaws
from balance.network.rows import placed, row_sum
from balance.network.terms import Friction, Points, Pumps, Tees, cubics
from balance.network.topology import Topology
from balance.parts.friction import friction_law
from balance.parts.pumps import PumpCurve, pump_curve
from balance.parts.tees import tee_bank, tee_table

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]
G = 9.80665


@dataclass(frozen=True)
class Draw:
    """One random network with several scenarios of valves."""

    topology: Topology
    laws: RunLaws
    fixed_heads: Floats
    held: NDArray[np.bool_]
    kind: str
    curves: tuple[PumpCurve, ...] = ()


def _tree(rng: np.random.Generator, joints: int) -> list[tuple[int, int]]:
    return [(int(rng.integers(0, j)), j) for j in range(1, joints)]


def _grid(joints: int) -> list[tuple[int, int]]:
    side = max(2, int(np.sqrt(joints)))
    edges = []
    for r in range(side):
        for c in range(side):
            here = r * side + c
            if c + 1 < side:
                edges.append((here, here + 1))
            if r + 1 < side:
                edges.append((here, here + side))
    return edges


def draw_network(rng: np.random.Generator, *, scenarios: int, tees: bool = False) -> Draw:
    """Draws one network.

    With ``tees`` joints of three legs become tees, as many as fit.
    """
    kind = str(rng.choice(["tree", "loop", "manifold", "grid"]))
    joints = int(rng.integers(2, 20))
    fixed = int(rng.integers(1, 5))
    if kind == "manifold":
        edges = [(j, j + 1) for j in range(joints - 1)]
        edges += [(j, joints + int(rng.integers(0, fixed))) for j in range(joints)]
    elif kind == "grid":
        edges = _grid(joints)
        joints = 1 + max(max(e) for e in edges)
    else:
        edges = _tree(rng, joints)
        if kind == "loop":
            for _ in range(int(rng.integers(1, joints))):
                i, j = rng.integers(0, joints, 2)
                if i != j:
                    edges.append((int(i), int(j)))
    if kind != "manifold":
        for f in range(fixed):
            edges.append((int(rng.integers(0, joints)), joints + f))
    pumps = int(rng.integers(0, 3))
    edges = [
        (joints + int(rng.integers(0, fixed)), int(rng.integers(0, joints))) for _ in range(pumps)
    ] + edges
    start = np.array([e[0] for e in edges], dtype=np.intp)
    end = np.array([e[1] for e in edges], dtype=np.intp)
    turn = rng.random(len(edges)) < 0.5
    turn[:pumps] = False
    start, end = np.where(turn, end, start), np.where(turn, start, end)
    runs = len(edges)
    bore = rng.uniform(0.008, 0.06, runs)
    area = np.pi / 4 * bore**2
    k = 10.0 ** rng.uniform(-2, 8, (runs, scenarios))
    k[rng.random(runs) < 0.6] = 10.0 ** rng.uniform(-1, 2)
    b = k / (2 * G * area[:, None] ** 2)
    shut_share = rng.uniform(0, 0.5) if rng.random() < 0.7 else 0.0
    held = rng.random((runs, scenarios)) < shut_share
    held[:pumps] = False
    checks = np.flatnonzero(rng.random(runs) < (rng.uniform(0, 0.8) if rng.random() < 0.6 else 0))
    constant = np.zeros((runs, 1))
    constant[checks, 0] = rng.choice([0.0, 0.05, 0.3], len(checks))
    nu = 10.0 ** rng.uniform(-6.2, -4.0)
    piped = np.flatnonzero(rng.random(runs) < 0.7)
    piped = piped[piped >= pumps]
    friction = None
    if len(piped):
        length = 10.0 ** rng.uniform(-1.5, 1.5, len(piped))
        d = bore[piped]
        friction = Friction(
            placed(piped),
            (4 / (np.pi * d * nu))[:, None],
            (length / d * (nu / d) ** 2 / (2 * G))[:, None],
            friction_law((rng.uniform(0, 0.01, len(piped)))[:, None]),
        )
    heads = rng.uniform(-1, 3, (fixed, scenarios))
    curves, pump_term = _pumps(rng, pumps, scenarios) if pumps else ((), None)
    unit = 1e-3
    floor = LEAST_SLOPE * 5.0 / unit
    linear = np.full((runs, 1), floor)
    linear[:, 0] += rng.uniform(0, 1000, runs) * nu / (bore * 2 * G * area)
    topology_pairs = np.zeros((0, 2), dtype=np.intp)
    tee_term = None
    if tees:
        topology_pairs, tee_term = _tees(rng, joints, start, end, area)
    laws = RunLaws(
        linear=linear,
        forward=b,
        backward=b * rng.uniform(0.7, 1.4, (runs, 1)),
        constant=constant,
        area=area[:, None],
        one_way=checks,
        reverse=REVERSE_SLOPE * 5.0 / unit,
        friction=friction,
        pumps=pump_term,
        tees=tee_term,
    )
    return Draw(
        Topology(joints, fixed, start, end, topology_pairs), laws, heads, held, kind, curves
    )


def _pumps(
    rng: np.random.Generator, pumps: int, scenarios: int
) -> tuple[tuple[PumpCurve, ...], Pumps]:
    curves = []
    for _ in range(pumps):
        q_end, h0 = 10.0 ** rng.uniform(-4, -2.3), rng.uniform(0.5, 8)
        x = np.linspace(0, q_end, int(rng.integers(4, 9)))
        y = h0 * (1 - (x / q_end) ** rng.choice([1.0, 2.0, 6.0]) * rng.uniform(0.5, 1.0))
        curves.append(pump_curve(x, y))
    speed = rng.uniform(0.3, 1.0, (pumps, scenarios))
    speed[rng.random((pumps, scenarios)) < 0.15] = 0.0
    every = np.arange(pumps)
    return tuple(curves), Pumps(
        of=every,
        pump=every,
        onto=row_sum(enumerate(range(pumps))),
        curves=cubics([Points(c.flow, c.head, c.slopes, before=c.reverse) for c in curves]),
        at_rest=np.array([[curve.head[0]] for curve in curves]),
        run_out=np.array([[curve.flow[-1]] for curve in curves]),
        speed=speed,
        weight=np.ones((pumps, 1)),
        weight_slope=np.zeros((pumps, 1)),
        head_factor=np.ones((pumps, 1)),
        flow_factor=np.ones((pumps, 1)),
    )


def _tees(
    rng: np.random.Generator, joints: int, start: Ints, end: Ints, area: Floats
) -> tuple[NDArray[np.intp], Tees | None]:
    """Tees at joints of three legs, as many as fit with each run in one pair only."""
    used: set[int] = set()
    pairs, into, tables, references, scales = [], [], [], [], []
    for joint in range(joints):
        legs = [int(e) for e in np.flatnonzero((start == joint) | (end == joint))]
        if len(legs) != 3 or any(start[e] == end[e] for e in legs):
            continue
        rng.shuffle(legs)
        free = [e for e in legs if e not in used]
        if len(free) < 2:
            continue
        reference = next((e for e in legs if e not in free), legs[int(rng.integers(0, 3))])
        others = [e for e in legs if e != reference]
        used.update(others)
        pairs.append(others)
        into.append([1.0 if end[e] == joint else -1.0 for e in others])
        ratio = float(rng.choice([0.3, 0.6, 1.0]))
        tables.append(tee_table(area_ratio=ratio, angle=float(rng.choice([90.0, 90.0, 45.0]))))
        references.append(legs.index(reference))
        scales.append(1 / (2 * G * area[legs[0]] ** 2))
    if not pairs:
        return np.zeros((0, 2), dtype=np.intp), None
    legs_array = np.array(pairs, dtype=np.intp)
    return legs_array, Tees(
        legs_array, np.array(into), tee_bank(tables, references, scales), np.ones((len(pairs), 1))
    )
