"""Networks that the benchmarks share, and how they take time."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from statistics import median
from time import perf_counter

import numpy as np
from numpy.typing import NDArray

from balance.network.arrays import Network, network_of
from balance.network.laws import LEAST_SLOPE, REVERSE_SLOPE, RunLaws
from balance.network.rows import placed
from balance.network.settle import State, settle
from balance.network.terms import Friction
from balance.network.topology import Topology
from balance.parts.friction import friction_law
from balance.plan.read import read_text

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

G = 9.80665
BRANCHES = 14

_TOP = """
title = "Fourteen branches"
units = "us"

[vessels.sump]
level = "12 in"

[vessels.tank]
level = "50 in"

[pumps.main]
points = ["0 gph at 22 ft", "2000 gph at 19 ft", "4000 gph at 12 ft", "6000 gph at 0 ft"]
from = "sump"
to = "foot"

[[runs]]
name = "riser"
from = "foot"
to = "header"
parts = [{ pipe = "2 in sch 40", length = "20 in" }, { fitting = "elbow 90", size = "2 in" }]
"""


def manifold(*, tees: bool) -> Network:
    """A pump, a riser, fourteen pieces of header and fourteen branches: 30 runs in all."""
    names = [f"branch {n}" for n in range(BRANCHES)]
    taps = ", ".join(
        f'{{ branch = "{name}", after = "4 in", side_size = "3/4 in"'
        + (', end = "elbow" }' if name == names[-1] else " }")
        for name in names
    )
    text = _TOP + '[[headers]]\nname = "main header"\nfrom = "header"\npipe = "2 in sch 40"\n'
    text += f"taps = [{taps}]\n"
    for n, name in enumerate(names):
        text += f"""
[[branches]]
name = "{name}"
to = "{("tank", "sump")[n % 2]}"
parts = [
  {{ valve = "ball", size = "3/4 in", open = "{45 + n} deg" }},
  {{ pipe = "3/4 in sch 40", length = "{20 + 3 * n} in" }},
  {{ fitting = "elbow 90", size = "3/4 in", count = 2 }},
  {{ outlet = "submerged" }},
]
"""
    network = network_of(read_text(text))
    if tees:
        return network
    return replace(
        network,
        topology=network.topology.without_tees,
        passive=replace(network.passive, tees=None),
    )


@dataclass(frozen=True)
class Setting:
    """A network at openings (V, S) and speeds (P, S)."""

    network: Network
    openings: Floats
    speeds: Floats

    @property
    def scenarios(self) -> int:
        return len(self.openings.T)

    def at(self) -> tuple[RunLaws, Bools]:
        """The laws of the runs."""
        return self.network.at(self.openings, self.speeds)

    def settled(self, laws: RunLaws, shut: Bools, *, near: State | None = None) -> State:
        """All scenarios solved."""
        return settle(
            self.network.topology,
            laws,
            fixed_heads=self.network.fixed_heads,
            held=shut,
            near=near,
            scenarios=self.scenarios,
        )


def scattered(network: Network, scenarios: int) -> Setting:
    """Valves and speed different in each scenario."""
    rng = np.random.default_rng(1)
    return Setting(
        network,
        rng.uniform(0.3, 1.0, (len(network.valves), scenarios)),
        rng.uniform(0.6, 1.0, (len(network.machines), scenarios)),
    )


@dataclass(frozen=True)
class Large:
    """A large network of pipes in numbers alone."""

    topology: Topology
    laws: RunLaws
    fixed_heads: Floats

    def settled(self) -> State:
        """Solved from nothing."""
        return settle(
            self.topology,
            self.laws,
            fixed_heads=self.fixed_heads,
            held=np.zeros((self.topology.runs, 1), dtype=np.bool_),
        )


def tree(runs: int) -> Large:
    """A branching tree with its root at one vessel and all of its leaves at another."""
    joints = max(2, round(runs * 2 / 3))
    rng = np.random.default_rng(runs)
    edges = [(joints, 0)] + [(int(rng.integers(j // 3, j)), j) for j in range(1, joints)]
    inner = {start for start, _ in edges}
    edges += [(j, joints + 1) for j in range(joints) if j not in inner]
    return _pipes(edges, joints, rng)


def grid(runs: int) -> Large:
    """A square grid fed at one corner and drained at the opposite one."""
    side = max(2, round((runs / 2) ** 0.5))
    joints = side * side
    edges = [(joints, 0), (joints - 1, joints + 1)]
    for j in range(joints):
        if (j + 1) % side:
            edges.append((j, j + 1))
        if j + side < joints:
            edges.append((j, j + side))
    return _pipes(edges, joints, np.random.default_rng(runs))


def _pipes(edges: list[tuple[int, int]], joints: int, rng: np.random.Generator) -> Large:
    runs = len(edges)
    bore = rng.uniform(0.015, 0.05, runs)[:, None]
    area = np.pi / 4 * bore**2
    length = rng.uniform(0.5, 5.0, runs)[:, None]
    fittings = rng.uniform(0.5, 20.0, runs)[:, None] / (2 * G * area**2)
    nu = 1e-6
    start, end = (np.array(ends, dtype=np.intp) for ends in zip(*edges, strict=True))
    laws = RunLaws(
        linear=np.full((runs, 1), LEAST_SLOPE * 5.0 / 1e-3),
        forward=fittings,
        backward=fittings,
        constant=np.zeros((runs, 1)),
        area=area,
        one_way=np.zeros(0, dtype=np.intp),
        reverse=REVERSE_SLOPE * 5.0 / 1e-3,
        friction=Friction(
            placed(range(runs)),
            4 / (np.pi * bore * nu),
            length / bore * (nu / bore) ** 2 / (2 * G),
            friction_law(1.5e-6 / bore),
        ),
    )
    return Large(Topology(joints, 2, start, end), laws, np.array([[5.0], [0.0]]))


def seconds(action: Callable[[], object], *, repeats: int = 7) -> float:
    """Median time of an action that has run once before [s]."""
    action()
    taken = []
    for _ in range(repeats):
        before = perf_counter()
        action()
        taken.append(perf_counter() - before)
    return median(taken)
