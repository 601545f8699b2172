"""A plan that holds what was learnt is the network of its fit."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from balance.network import arrays
from balance.network.along import Along
from balance.network.arrays import Network, network_of
from balance.network.solve import solve
from balance.plan.learnt import Learnt as LearntTable
from balance.plan.model import Plan
from balance.plan.read import read, read_text
from balance.plan.reading import GaugePlace
from balance.plan.readings import read_readings
from balance.questions.fit import fit
from balance.questions.learning import numbers
from balance.questions.learning.learn import Learnt, learn
from balance.questions.learning.numbers import table_of
from balance.questions.pumps.arrangements import arranged
from balance.questions.settings.candidates import candidates
from tests.questions.learning.test_levels import level
from tests.questions.learning.two_pumps import TWO_PUMPS

DEMO = Path(__file__).parents[3] / "pump_curves_demo"
LOGS = {
    "lagoon": (DEMO / "lagoon-readings.csv").read_text(encoding="utf-8"),
    "two pumps": (
        "branch,flow,open,head,at,watts\n"
        "return,460 lph,all=full,,,\nreactor,395 lph,,,,\nstir,4300 lph,,,,\n"
        "return,410 lph,return=60 deg,,,\nreactor,350 lph,reactor=50 deg,,,\n"
        "reactor,260 lph,reactor=38 deg,,,\nstir,3300 lph,stir=1.5 turns,,,\n"
        ",,,1.5 m,first riser,\n,,,,,first=32 W\n"
    ),
}


def fitted(name: str, folder: Path) -> tuple[Plan, Learnt]:
    plan = read_text(TWO_PUMPS) if name == "two pumps" else read(DEMO / f"{name}.toml")
    file = folder / "log.csv"
    file.write_text(LOGS[name], encoding="utf-8")
    log = read_readings(file, plan)
    places = [row.at for row in log.rows if row.at is not None]
    return plan, learn(network_of(plan, gauges=places), log.rows)


def with_all(plan: Plan, learnt: Learnt, monkeypatch: pytest.MonkeyPatch) -> Plan:
    """The plan with every number, those that readings told next to nothing of too."""
    monkeypatch.setattr(numbers, "TOLD", 2.0)
    return plan.model_copy(update={"learnt": table_of(learnt, readings=None)})


def openings_of(network: Network, seed: int) -> np.ndarray:
    rng = np.random.default_rng(seed)
    openings = rng.uniform(0.4, 1.0, (len(network.valves), 1))
    openings[[bool(network.capped[valve.run, 0]) for valve in network.valves]] = 0.0
    return openings


@pytest.mark.parametrize("name", LOGS)
def test_it_solves_as_the_network_of_the_fit(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # The least slope that the solver gives each run is no loss, and not learnt.
    monkeypatch.setattr(arrays, "LEAST_SLOPE", 1e-12)
    plan, learnt = fitted(name, tmp_path)
    places = {row.at for row in read_readings(tmp_path / "log.csv", plan).rows if row.at}
    there = network_of(with_all(plan, learnt, monkeypatch), gauges=places)
    assert np.abs(learnt.z[: learnt.unknowns.first_setting]).max() > 0.05
    for seed in range(3):
        openings = openings_of(there, seed)
        mine, theirs = (solve(each, openings=openings) for each in (there, learnt.network))
        largest = np.abs(theirs.state.flow).max()
        assert np.abs(mine.state.flow - theirs.state.flow).max() < 1e-9 * largest
        assert mine.state.heads == pytest.approx(theirs.state.heads, abs=1e-8)


def test_watts_of_its_pumps_are_those_of_the_fit(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    plan, learnt = fitted("two pumps", tmp_path)
    there = network_of(with_all(plan, learnt, monkeypatch))
    for place, machine in enumerate(there.machines):
        planned = learnt.unknowns.network.machines[place]
        strength = float(np.exp(learnt.z[learnt.unknowns.rows["pump", machine.name]]))
        for speed in (1.0, 0.6):
            flow, speeds = np.linspace(0.0, 1e-3, 7), np.full(7, speed)
            mine = machine.power(flow, speeds, density=1020.0)
            theirs = planned.power(flow, speeds, density=1020.0, strength=strength)
            assert mine is not None
            assert theirs is not None
            assert mine == pytest.approx(theirs, rel=1e-12)


def test_heads_along_the_way_are_those_of_the_fit(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    plan, learnt = fitted("two pumps", tmp_path)
    there = with_all(plan, learnt, monkeypatch)
    along = Along(solve(network_of(there)))
    for name, part in (("first riser", 1), ("return", 1), ("return", 3), ("reactor", 4)):
        (stretch,) = (each for each in along.stretches() if each.name == name)
        before, after = along.heads_of_parts(stretch)[part]
        assert before is not None
        assert after is not None
        section = next(
            each
            for each in along.sections(stretch)
            if each.head == pytest.approx(before, abs=1e-12)
        )
        _, found = level(there, GaugePlace(name, part))
        velocity_head = section.head - section.standing
        assert found == pytest.approx(0.5 * (before + after) - velocity_head, abs=1e-7)


def test_numbers_that_are_left_out_change_little(tmp_path: Path) -> None:
    """Of what readings told next to nothing the plan holds nothing, and can well do without."""
    plan, learnt = fitted("lagoon", tmp_path)
    answer = fit(plan, read_readings(tmp_path / "log.csv", plan))
    there = network_of(plan.model_copy(update={"learnt": answer.learnt}))
    assert len(answer.learnt.numbers) < learnt.unknowns.first_setting
    openings = np.array([learnt.log.last.openings]).T
    speeds = np.array([learnt.log.last.speeds]).T
    mine, theirs = (
        solve(each, openings=openings, speeds=speeds) for each in (there, learnt.network)
    )
    for branch in plan.branches:
        assert mine.flow(branch.name) == pytest.approx(theirs.flow(branch.name), rel=2e-3)


def with_strength(plan: Plan) -> Plan:
    of_pump = {"of": "pump", "name": "main", "value": "90 %", "sure": "1 %"}
    of_branch = {"of": "loss", "name": "refugium", "value": "120 %", "sure": "9 %", "with": [0.3]}
    mains = {"of": "mains", "value": "110 %", "sure": "9 %", "with": [0.1, 0.2]}
    table = LearntTable.model_validate({"numbers": [of_pump, of_branch, mains]})
    return plan.model_copy(update={"learnt": table})


def test_another_pump_inherits_nothing_of_the_one_it_replaces() -> None:
    plan = with_strength(read(DEMO / "lagoon.toml"))
    candidate = plan.candidates[0]
    there = arranged(plan, candidate, replaces=("main",)).plan
    assert there.learnt is not None
    assert [number.of for number in there.learnt.numbers] == ["loss", "mains"]
    assert there.learnt.numbers[1].with_ == (0.2,)
    curves = network_of(there).machines[0].curves
    assert (curves[0].curve.head == candidate.curve[0].curve.head).all()
    assert (curves[0].curve.flow == candidate.curve[0].curve.flow).all()
    assert plan.learnt is not None
    assert len(plan.learnt.numbers) == 3


def test_nor_does_a_pump_that_settings_tries_but_a_faster_one_keeps_its_strength() -> None:
    plan = with_strength(read(DEMO / "lagoon.toml"))
    slow = plan.pumps["main"].model_copy(update={"speed_range": None})
    plan = plan.model_copy(update={"pumps": {"main": slow}})
    tried = dict(candidates(network_of(plan), ("refugium",), dry=()))
    other = next(there for words, there in tried.items() if words.startswith("pump "))
    faster = next(there for words, there in tried.items() if words.startswith('run pump "main"'))
    assert other.learnt is not None
    assert other.learnt.value("pump", "main", default=1.0) == 1.0
    assert other.learnt.value("loss", "refugium", default=1.0) == 1.2
    assert faster.learnt is not None
    assert faster.learnt.value("pump", "main", default=1.0) == 0.9
