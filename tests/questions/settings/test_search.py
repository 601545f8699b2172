"""The search against brute force over openings, and against back-calculation by hand."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest
from numpy.typing import NDArray

from balance.network.arrays import Network, network_of
from balance.network.settle import settle
from balance.plan.model import Plan
from balance.plan.read import read_text
from balance.questions.settings.search import Found, search
from tests.questions.settings.manifolds import (
    FREE,
    GPH,
    PLAIN,
    RISER_VALVE,
    WEAK,
    branch,
    header,
    manifold,
    read_text_of,
)

Floats = NDArray[np.float64]

POWER_AS_GOOD = 2e-6  # settings within this cost are told apart by power, not by the targets

RING = header("a", "b", extra='to = "foot"').replace(', end = "cap" }', ' },\n  { after = "6 in" }')

CASES: dict[str, Plan] = {
    "one, met": manifold(branch("a", 'target = "200 gph"'), points=PLAIN),
    "one, too much": manifold(branch("a", 'target = "900 gph"', to="tank"), points=PLAIN),
    "one, too much, free speed": manifold(
        branch("a", 'target = "900 gph"', to="tank"), points=PLAIN, speed=FREE
    ),
    "two, met": manifold(
        branch("a", 'target = "200 gph"', to="tank"), branch("b", 'target = "90 gph"'),
        points=PLAIN,
    ),
    "two, met, free speed": manifold(
        branch("a", 'target = "200 gph"', to="tank"), branch("b", 'target = "90 gph"'),
        points=PLAIN, speed=FREE,
    ),
    "two, one short": manifold(
        branch("a", 'target = "300 gph"', to="tank"), branch("b", 'target = "300 gph"'),
        points=WEAK,
    ),
    "two, one short, free speed": manifold(
        branch("a", 'target = "300 gph"', to="tank"), branch("b", 'target = "300 gph"'),
        points=WEAK, speed=FREE,
    ),
    "two, one weighs three times": manifold(
        branch("a", 'target = "300 gph"', "weight = 3", to="tank"),
        branch("b", 'target = "300 gph"', 'tolerance = "5 %"'),
        points=WEAK,
    ),
    "two, bound and range": manifold(
        branch("a", 'target = ">= 350 gph"', to="tank"), branch("b", 'target = "100..150 gph"'),
        points=WEAK,
    ),
    "three, met": manifold(
        branch("a", 'target = "200 gph"', to="tank"), branch("b", 'target = "90 gph"'),
        branch("c", 'target = "<= 60 gph"'), points=PLAIN,
    ),
    "three, short, free speed": manifold(
        branch("a", 'target = "250 gph"', to="tank"), branch("b", 'target = "250 gph"'),
        branch("c", 'target = ">= 200 gph"'), points=WEAK, speed=FREE,
    ),
    "stops": manifold(
        branch("a", 'target = "200 gph"', to="tank",
               valve='{ valve = "ball", size = "3/4 in", open = "30 deg",'
               ' stops = ["10 deg", "40 deg"] }'),
        branch("b", 'target = "90 gph"',
               valve='{ valve = "gate", size = "3/4 in", open = "2 turns", turns = 5,'
               ' stops = ["1 turn", "5 turns"] }'),
        points=PLAIN,
    ),
    "limits": manifold(
        branch("a", 'target = "200..300 gph"', 'limits = "<= 220 gph"', to="tank"),
        branch("b", 'target = "<= 120 gph"', 'limits = ">= 118 gph"'), points=PLAIN,
    ),
    "locked": manifold(
        branch("a", 'target = "200 gph"', to="tank",
               valve='{ valve = "ball", size = "3/4 in", open = "60 deg", locked = true }'),
        branch("b", 'target = "150 gph"'), points=WEAK,
    ),
    "locked, free speed": manifold(
        branch("a", 'target = "200 gph"', to="tank",
               valve='{ valve = "ball", size = "3/4 in", open = "60 deg", locked = true }'),
        branch("b", 'target = "150 gph"'), points=PLAIN, speed=FREE,
    ),
    "fed through a valve before it": manifold(
        branch("a", 'target = "200 gph"', to="tank", valve=""),
        branch("b", 'target = "90 gph"'), points=PLAIN, riser=RISER_VALVE,
    ),
    "group": manifold(
        branch("a", 'target = "100 gph"', to="tank"), branch("b", 'target = "200 gph"'),
        points=PLAIN, extra='[groups.both]\nbranches = ["a", "b"]\ntarget = "400 gph"\n',
    ),
    "group, met but not at its aim": manifold(
        branch("a", 'target = "100 gph"', to="tank"), branch("b", 'target = "200 gph"'),
        points=PLAIN, extra='[groups.both]\nbranches = ["a", "b"]\ntarget = "329 gph"\n',
    ),
    "a ring, met": read_text_of(
        RING + branch("a", 'target = "200 gph"', to="tank") + branch("b", 'target = "90 gph"'),
        points=PLAIN,
    ),
    "a ring, short, free speed": read_text_of(
        RING + branch("a", 'target = "300 gph"', to="tank") + branch("b", 'target = "300 gph"'),
        points=WEAK, speed=FREE,
    ),
}  # fmt: skip


def grid_costs(network: Network, found: Found, openings: Floats, speeds: Floats) -> Floats:
    """Cost of many openings (V, S) at speeds (P, S); endless where a limit is broken."""
    laws, shut = network.at(openings, speeds)
    state = settle(
        network.topology, laws, fixed_heads=network.fixed_heads, held=shut, draw=network.draw,
        scenarios=openings.shape[1],
    )  # fmt: skip
    assert state.converged.all()
    rows = [network.row_of[branch.name] for branch in network.plan.branches]
    flow = state.flow[rows]
    cost = found.wishes.cost(flow)
    for row, each in enumerate(network.plan.branches):
        low, high = each.limits or (None, None)
        if low is not None:
            cost[(flow[row] < low * (1 - 1e-6)) & (openings[row] > 0.0)] = np.inf
        if high is not None:
            cost[flow[row] > high * (1 + 1e-6)] = np.inf
    return cost


def best_of_grid(network: Network, found: Found) -> tuple[float, Floats, Floats]:
    """Least cost over a grid of openings and speeds, the grid around it made finer twice."""
    free = [v for v, valve in enumerate(network.valves) if not valve.part.locked]
    stops = [network.valves[v].part.stops or (0.0, 1.0) for v in free]
    pump = network.machines[0].pump
    fast = [pump.speed_range] if pump.speed_range else []
    low = np.array([low for low, _ in (*stops, *fast)])
    high = np.array([high for _, high in (*stops, *fast)])
    knobs = len(low)
    count = {1: 2001, 2: 101, 3: 25, 4: 11}[knobs]
    centre, half = (low + high) / 2, (high - low) / 2
    best, running = np.inf, centre
    for _ in range(3):
        axes = [
            np.clip(np.linspace(c - h, c + h, count), lo, hi)
            for c, h, lo, hi in zip(centre, half, low, high, strict=True)
        ]
        tried = np.array(list(product(*axes))).T
        openings = np.repeat(network.openings, tried.shape[1], axis=1)
        openings[free] = tried[: len(free)]
        speeds = np.repeat(network.speeds, tried.shape[1], axis=1)
        if fast:
            step = pump.speed_step or 0.01
            speeds[0] = np.round(tried[-1] / step) * step
        costs = grid_costs(network, found, openings, speeds)
        winner = int(costs.argmin())
        if costs[winner] < best:
            best, running = float(costs[winner]), tried[:, winner]
        centre, half = running, 3 * half / (count - 1)
    return best, running, found.openings[free, 0]


@pytest.mark.parametrize("name", CASES)
def test_brute_force_finds_nothing_better(name: str) -> None:
    network = network_of(CASES[name])
    found = search(network)
    cost = float(grid_costs(network, found, found.openings, found.speeds)[0])
    best, at, ours = best_of_grid(network, found)
    assert cost <= best + POWER_AS_GOOD, (at, ours)


BY_HAND = """
[[runs]]
name = "riser"
from = "foot"
to = "junction"
parts = [{ pipe = "25 mm bore", length = "1 m", friction_factor = 0.02 }]
"""

OF_THREE = """
[[branches]]
name = "{name}"
from = "junction"
to = "{to}"
target = "{gph} gph"
parts = [
  {{ valve = "{valve}" }},
  {{ pipe = "16 mm bore", length = "{metres} m", friction_factor = 0.02 }},
]
"""


def test_back_calculated_by_hand() -> None:
    """Four legs that meet without loss, 400 gph in all: there the pump's print says 8 ft."""
    gravity, inch, foot = 9.80665, 0.0254, 0.3048
    branches = [
        ("a", "tank", 200, 48 * inch, 0.7, "ball"),
        ("b", "sump", 120, 10 * inch, 2.0, "gate"),
        ("c", "sump", 80, 10 * inch, 1.2, "ball"),
    ]
    text = BY_HAND + "".join(
        OF_THREE.format(name=name, to=to, gph=gph, metres=metres, valve=valve)
        for name, to, gph, _, metres, valve in branches
    ).replace('"gate"', '"gate", turns = 5')
    network = network_of(read_text_of(text, points=PLAIN))
    found = search(network)

    def velocity_head(gph: float, bore: float) -> float:
        return float((gph * GPH / (np.pi * bore**2 / 4)) ** 2 / (2 * gravity))

    junction = 10 * inch + 8 * foot - 0.02 * 1.0 / 0.025 * velocity_head(400, 0.025)
    for place, (_, _, gph, level, metres, _) in enumerate(branches):
        # Friction and the whole velocity head at the submerged end; the valve takes the rest, by
        # the two terms K1/Re + K of the two-K method.
        by_hand = (junction - level) / velocity_head(gph, 0.016) - 0.02 * metres / 0.016 - 1.0
        reynolds = 4 * gph * GPH / (np.pi * 0.016 * network.water.kinematic_viscosity)
        law = network.valves[place].law
        ours = law.loss_coefficient(found.openings[place]).k[0] + law.k_laminar / reynolds
        assert ours == pytest.approx(by_hand, rel=1e-6)


def test_pumps_that_turn_together_do_so() -> None:
    """Two like pumps side by side: one setting for both, and the least that carries the aims."""
    text = """
        [vessels.sump]
        level = "10 in"
        [vessels.tank]
        level = "50 in"
        """
    for side in ("left", "right"):
        text += f"""
        [pumps.{side}]
        points = ["0 gph at 10 ft, 30 W", "500 gph at 7 ft, 45 W", "1000 gph at 0 ft, 50 W"]
        from = "sump"
        to = "{side} outlet"
        speed_range = ["20 %", "100 %"]
        [[runs]]
        name = "{side} check"
        from = "{side} outlet"
        to = "foot"
        parts = [{{ check = "swing", size = "1 in" }}]
        """
    text += "".join(
        f"""
        [[branches]]
        name = "{name}"
        from = "foot"
        to = "tank"
        target = "{target} gph"
        parts = [{{ valve = "ball", size = "1 in" }}, {{ pipe = "1 in sch 40", length = "4 ft" }}]
        """
        for name, target in (("a", 300), ("b", 400))
    )
    network = network_of(read_text(text))
    found = search(network, together=("left", "right"))
    left, right = found.speeds[:, 0]
    assert left == right
    assert not found.unmet
    one_step_less = found.space.at(found.here.flow, found.speeds - 0.01)
    assert found.here.spare.min() >= 0.0 > one_step_less.spare.min()
    flows = [found.here.state.flow[machine.run, 0] for machine in network.machines]
    assert flows[0] == pytest.approx(flows[1], rel=1e-6)
