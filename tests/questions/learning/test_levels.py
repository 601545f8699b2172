"""Levels at gauges are those along the uncut way, and gauges change no flow.

The solver gives each run a least slope of its own, so that a cut run has two; that moves flows by
some 1e-8 of the largest. Here it is next to nothing, and what is left is the cut itself.
"""

from __future__ import annotations

from math import pi
from pathlib import Path

import numpy as np
import pytest

from balance.network import arrays
from balance.network.along import Along
from balance.network.arrays import network_of
from balance.network.layout import gauge_joint
from balance.network.solve import Solution, solve
from balance.parts.pumps import GRAVITY
from balance.plan.model import Branch, Plan, Run
from balance.plan.pieces import StraightPart
from balance.plan.read import read, read_text
from balance.plan.reading import GaugePlace
from balance.questions.learning.experiment import Experiment, Observation
from balance.questions.learning.handles import Stand
from balance.questions.learning.unknowns import unknowns_of
from tests.network.test_cut_runs import PLAN as RINGS
from tests.questions.learning.two_pumps import TWO_PUMPS

DEMO = Path(__file__).parents[3] / "pump_curves_demo"
SAME = 1e-9  # of the largest flow, and in metres of level
PLANS = ["lagoon", "fish-room", "two pumps", "rings"]


@pytest.fixture(autouse=True)
def _hardly_any_least_slope(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(arrays, "LEAST_SLOPE", 1e-12)


def apart(cut: Solution, uncut: Solution) -> float:
    """The most that flows of what the plan names differ, as a share of the largest."""
    names = [run.name for run in uncut.network.layout.runs if run.name == run.whole]
    largest = float(np.abs(uncut.state.flow).max())
    return max(abs(cut.flow(name) - uncut.flow(name)) for name in names) / largest


def plan_of(name: str) -> Plan:
    if name == "two pumps":
        return read_text(TWO_PUMPS)
    if name == "rings":
        return read_text(RINGS)
    return read(DEMO / f"{name}.toml")


def gauges_of(plan: Plan) -> list[tuple[Run | Branch, GaugePlace]]:
    """Every pipe and hose that a level can be read in."""
    runs = [run for run in plan.runs if run.use != "change"]
    stretches: list[Run | Branch] = [
        *runs,
        *(each for each in plan.branches if each.to is not None),
    ]
    return [
        (stretch, GaugePlace(stretch.name, place))
        for stretch in stretches
        for place, part in enumerate(stretch.parts)
        if isinstance(part, StraightPart)
    ]


def level(plan: Plan, gauge: GaugePlace) -> tuple[Solution, float]:
    """What a fit expects of a level, the unknowns being as planned, and the plan cut there."""
    network = network_of(plan, gauges=[gauge])
    joint = gauge_joint(gauge)
    run = next(row for row, laid in enumerate(network.layout.runs) if laid.end == joint)
    bore = network.layout.runs[run].stretch.bore_end
    assert bore is not None
    valves = tuple(float(opening) for opening in network.openings[:, 0])
    stand = Stand(valves, tuple(network.speeds[:, 0].tolist()), ((),) * len(valves))
    unknowns = unknowns_of(network, (), told=[False] * len(valves), supply_told=True)
    there = Observation("level", 0, run, 0.0, 1.0, joint=network.node_of[joint], bore=bore)
    experiment = Experiment(unknowns, (stand,), (there,))
    zero = np.zeros(len(unknowns.all))
    return solve(network), float(experiment.values(zero, experiment.look(zero))[0])


@pytest.mark.parametrize("name", PLANS)
def test_a_level_is_that_along_the_uncut_way(name: str) -> None:
    plan = plan_of(name)
    uncut = solve(network_of(plan))
    along = Along(uncut)
    compared = 0
    for stretch, gauge in gauges_of(plan):
        before, after = along.heads_of_parts(stretch)[gauge.part]
        cut, found = level(plan, gauge)
        assert apart(cut, uncut) < SAME, gauge
        part = stretch.parts[gauge.part]
        assert isinstance(part, StraightPart)
        flow = uncut.flow(stretch.name)
        if before is None or after is None or flow == 0.0:
            continue
        velocity = flow / (pi / 4 * part.bore_from**2)
        wanted = 0.5 * (before + after) - velocity**2 / (2.0 * GRAVITY)
        assert found == pytest.approx(wanted, abs=SAME), gauge
        compared += 1
    assert compared >= 3


@pytest.mark.parametrize("name", PLANS)
def test_many_gauges_at_once_change_no_flow(name: str) -> None:
    plan = plan_of(name)
    uncut = solve(network_of(plan))
    cut = solve(network_of(plan, gauges=[gauge for _, gauge in gauges_of(plan)]))
    assert apart(cut, uncut) < SAME


def test_behind_a_shut_valve_stands_the_level_of_its_vessel() -> None:
    text = TWO_PUMPS.replace('size = "3/4 in", open = "45 deg"', 'size = "3/4 in", open = "shut"')
    plan = read_text(text)
    _, found = level(plan, GaugePlace("reactor", 4))
    assert found == pytest.approx(plan.vessels["sump"].level, abs=SAME)


def test_before_a_shut_valve_stands_the_head_of_the_header() -> None:
    valve = '{ valve = "ball", size = "3/4 in", open = "45 deg" },'
    hose = '{ hose = "13 mm", length = "1 m" },'
    assert f"{valve}\n  {hose}" in TWO_PUMPS
    shut = valve.replace("45 deg", "shut")
    text = TWO_PUMPS.replace(f"{valve}\n  {hose}", f"{hose}\n  {shut}")
    plan = read_text(text)
    cut, found = level(plan, GaugePlace("reactor", 0))
    assert abs(cut.flow("reactor")) < 1e-20
    along = Along(solve(network_of(plan)))
    (reactor,) = (branch for branch in plan.branches if branch.name == "reactor")
    assert found == pytest.approx(along.heads_of_parts(reactor)[0][0], abs=SAME)
    assert found > plan.vessels["sump"].level + 0.5
