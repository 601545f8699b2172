"""What a trial says, held against the laws of the network and against the other questions."""

from __future__ import annotations

import math
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import settings as settings_of_hypothesis
from hypothesis import strategies as st

from balance.network.arrays import Network, network_of
from balance.network.solve import settled
from balance.plan.candidates import read_candidates
from balance.plan.model import Arrangement, Candidate, Plan
from balance.plan.read import read, read_text
from balance.plan.starter import STARTER
from balance.questions.flows import flows
from balance.questions.pumps import Pumps, pumps
from balance.questions.pumps.answer import PumpTrial
from balance.questions.pumps.arrangements import arranged
from balance.questions.settings import settings
from balance.questions.settings.changes import Trials
from tests.laws import check_check_valves, check_laws, check_loops, check_pumps
from tests.questions.pumps.invented import LPH, Parabola, bare, candidate, trial_of
from tests.questions.settings.manifolds import FREE, RISER_VALVE, branch, manifold
from tests.test_demo import CURVES, DEMO

G = 9.80665


def set_as_tried(plan: Plan, trial: PumpTrial) -> Plan:
    """The plan with handles and speeds where a trial put them."""
    return plan.with_openings(
        {handle.valve: handle.opening for handle in trial.handles}
    ).with_speed({duty.pump: duty.speed for duty in trial.pumps})


def check_network(network: Network) -> None:
    laws, shut = network.at(network.openings, network.speeds)
    state = settled(network, laws, held=shut)
    check_laws(network.topology, laws, state, shut=shut, draw=network.draw)
    check_loops(network.topology, laws, state)
    check_check_valves(network.topology, laws, state, shut=shut)
    curves = [machine.curves[0].curve for machine in network.machines]
    check_pumps(network.topology, laws, state, curves=curves)


def agrees(plan: Plan, trial: PumpTrial) -> None:
    """`flows` of the plan as tried says what the trial says."""
    found = flows(plan)
    for mine, duty in zip(trial.pumps, found.pumps, strict=True):
        assert mine.pump == duty.pump
        assert mine.flow == pytest.approx(duty.flow, rel=1e-6, abs=1e-10)
        assert mine.head == pytest.approx(duty.head, rel=1e-6, abs=1e-8)
        if mine.power is None:
            assert duty.power is None
        else:
            assert mine.power == pytest.approx(duty.power, rel=1e-6)
        assert mine.in_useful_range == duty.in_useful_range
    branches = {row.branch: row.flow for row in found.branches}
    for missed in trial.shortfalls:
        if missed.name in branches:
            assert missed.flow == pytest.approx(branches[missed.name], rel=1e-5, abs=1e-9)


@cache
def lagoon() -> Pumps:
    return pumps(read(DEMO / "lagoon.toml"))


def test_every_trial_of_the_demo_keeps_the_laws_and_agrees_with_flows() -> None:
    answer = lagoon()
    plan = answer.plan
    for each in plan.candidates:
        name = each.label if each.arrangement == "single" else f"{each.label} x2 parallel"
        trial = trial_of(answer, name)
        asked = set_as_tried(arranged(plan, each, replaces=("main",)).plan, trial)
        check_network(network_of(asked))
        agrees(asked, trial)
    own = next(trial for trial in answer.trials if trial.as_planned)
    agrees(set_as_tried(plan, own), own)


@pytest.mark.parametrize("arrangement", ["single", "parallel", "series", "both ends"])
@pytest.mark.parametrize("target", ["150 gph", "700 gph"])
def test_every_arrangement_keeps_the_laws(arrangement: Arrangement, target: str) -> None:
    plan = manifold(
        branch("a", f'target = "{target}"', to="tank"), branch("b", f'target = "{target}"')
    )
    asked = candidate(
        [0, 1000, 2000, 3000], [3.0, 2.7, 1.8, 0.0], [20, 24, 27, 28], arrangement=arrangement
    )
    (trial,) = [each for each in pumps(plan, [asked]).trials if not each.as_planned]
    there = set_as_tried(arranged(plan, asked, replaces=("main",)).plan, trial)
    check_network(network_of(there))
    agrees(there, trial)
    assert trial.flow == pytest.approx(sum(row.flow for row in flows(there).branches), rel=1e-6)


@given(
    targets=st.lists(
        st.sampled_from(["20 gph", "120 gph", "600 gph", ">= 50 gph", "50..80 gph"]),
        min_size=1,
        max_size=4,
    ),
    homes=st.lists(st.sampled_from(["sump", "tank", "loft"]), min_size=4, max_size=4),
    shut_off=st.floats(0.3, 6.0),
    most=st.floats(500.0, 6000.0),
    arrangement=st.sampled_from(["single", "parallel", "series", "both ends"]),
    riser=st.sampled_from(["", RISER_VALVE]),
    speeds=st.sampled_from([None, (0.4, 1.0)]),
)
@settings_of_hypothesis(max_examples=25)
def test_whatever_is_asked_of_whatever_pump(
    targets: list[str],
    homes: list[str],
    shut_off: float,
    most: float,
    arrangement: Arrangement,
    riser: str,
    speeds: tuple[float, float] | None,
) -> None:
    plan = manifold(
        *(
            branch(name, f'target = "{target}"', to=home)
            for name, target, home in zip("abcd", targets, homes, strict=False)
        ),
        riser=riser,
    )
    asked = Parabola(shut_off, most * LPH).candidate(speeds=speeds, arrangement=arrangement)
    (trial,) = [each for each in pumps(plan, [asked]).trials if not each.as_planned]
    agrees(set_as_tried(arranged(plan, asked, replaces=("main",)).plan, trial), trial)
    assert trial.meets == (not trial.shortfalls)
    assert 0.0 <= trial.fouling_loss <= 1.0
    assert trial.reach is None or trial.reach >= 0.0
    assert all(math.isfinite(value) for value in leaves(trial.to_dict()))


def leaves(value: object) -> Iterator[float]:
    if isinstance(value, dict):
        value = list(value.values())
    if isinstance(value, list):
        for inner in value:
            yield from leaves(inner)
    elif isinstance(value, float):
        yield value


def in_place(plan: Plan, asked: Candidate) -> Plan:
    return arranged(plan, asked, replaces=tuple(plan.pumps)).plan


@pytest.fixture
def without_advice(monkeypatch: pytest.MonkeyPatch) -> None:
    """Settings take long over advice that nobody asks for here."""
    question = "balance.questions.settings.question"
    monkeypatch.setattr(f"{question}.bleed", lambda _: None)
    monkeypatch.setattr(f"{question}.single_changes", lambda *_, wanting: Trials((), wanting))


@pytest.mark.usefixtures("without_advice")
@pytest.mark.parametrize("speeds", ["fixed", "40 %..100 %"])
@pytest.mark.parametrize("name", ["lagoon", "fish-room"])
def test_what_settings_meets_is_met_here_and_the_other_way_round(name: str, speeds: str) -> None:
    plan = read(DEMO / f"{name}.toml")
    asked = read_candidates([str(path) for path in CURVES], plan=plan, speeds=speeds).candidates
    answer = pumps(plan, asked)
    tried = {each.label: each for each in asked}
    for trial in answer.trials:
        there = plan if trial.as_planned else in_place(plan, tried[trial.name])
        found = settings(there)
        assert found.met == trial.meets
        if not trial.meets:
            continue
        for mine, duty in zip(trial.pumps, found.pumps, strict=True):
            # A step of speed and no more; and the marks of ten handles, of which one step of the
            # coarsest, a gate's eighth of a turn, moves a fifth of all water by 13 %.
            assert mine.speed == pytest.approx(duty.speed, abs=0.0101)
            assert mine.flow == pytest.approx(duty.flow, rel=0.05)
            assert mine.power == pytest.approx(duty.power, rel=0.05)


@pytest.mark.usefixtures("without_advice")
@pytest.mark.parametrize("name", [path.stem for path in CURVES])
def test_what_falls_short_here_settings_does_not_meet(name: str) -> None:
    plan = manifold(
        *(branch(each, 'target = "260 gph"', to="tank") for each in "ab"),
        branch("c", 'target = "300 gph"'),
    )
    (asked,) = read_candidates([str(DEMO / f"{name}.csv")], plan=plan, speeds="fixed").candidates
    trial = next(each for each in pumps(plan, [asked]).trials if not each.as_planned)
    assert settings(in_place(plan, asked)).met == trial.meets


def test_the_pump_that_is_there_is_told_as_settings_tells_it() -> None:
    plan = manifold(
        branch("a", 'target = "200 gph"'), branch("b", 'target = "100 gph"', to="tank"), speed=FREE
    )
    own = pumps(plan, [Parabola(3.0, 3000 * LPH).candidate()])
    trial = next(each for each in own.trials if each.as_planned)
    found = settings(plan)
    exact = {handle.valve: handle.exact for handle in found.handles}
    for handle in trial.handles:
        assert handle.opening == pytest.approx(exact[handle.valve], abs=1e-6)


# --- heat, energy, cost ----------------------------------------------------------------------


def costed(**keys: object) -> Plan:
    told = "\n".join(f"{key} = {value}" for key, value in keys.items())
    return bare(target="1000 L/h", rest=f"[power]\n{told}\n")


def test_watts_make_kilowatt_hours_and_money() -> None:
    pump = Parabola(4.0, 4000 * LPH, watts=50.0)
    asked = pump.candidate().model_copy(update={"price": 120.0})
    plan = costed(price=0.25, hours=12, years=3, currency='"EUR"')
    answer = pumps(plan, [asked], rank="cost")
    trial = trial_of(answer, "parabola")
    # All but standby goes with the density of the water: 1000 over 998.2, in which it was tested.
    drawn = 3.0 + 47.0 * 1000.0 / 998.2
    assert trial.power == pytest.approx(drawn)
    assert trial.energy == pytest.approx(drawn * 12 * 365 / 1000)
    assert trial.cost == pytest.approx(drawn * 12 * 365 / 1000 * 0.25)
    assert trial.total_cost == pytest.approx(120.0 + 3 * drawn * 12 * 365 / 1000 * 0.25)
    assert (answer.years, answer.currency) == (3, "EUR")
    assert trial.heat == trial.power
    head = trial.pumps[0].head
    assert trial.efficiency == pytest.approx(1000.0 * G * 1000 * LPH * head / drawn, rel=1e-6)


def test_of_two_pumps_everything_counts_twice() -> None:
    asked = Parabola(4.0, 4000 * LPH, watts=50.0).candidate().model_copy(update={"price": 120.0})
    answer = pumps(costed(price=0.25), [asked, asked.model_copy(update={"arrangement": "series"})])
    one, two = trial_of(answer, "parabola"), trial_of(answer, "parabola x2 series")
    assert two.price == 240.0
    assert two.power == pytest.approx(2 * one.power)  # type: ignore[operator]
    assert two.cost == pytest.approx(2 * one.cost)  # type: ignore[operator]
    assert two.heat == pytest.approx(2 * one.heat)  # type: ignore[operator]


def test_of_a_pump_that_stands_in_air_its_motor_warms_the_room() -> None:
    # 70 % of its power is the shaft's: common practice, no source.
    asked = Parabola(4.0, 4000 * LPH).candidate().model_copy(update={"external": True})
    trial = trial_of(pumps(costed(price=0.25), [asked]), "parabola")
    assert trial.power is not None
    assert trial.heat == pytest.approx(0.7 * trial.power)


def test_without_a_price_there_is_no_cost_and_the_page_is_told() -> None:
    asked = Parabola(4.0, 4000 * LPH).candidate()
    answer = pumps(bare(target="1000 L/h"), [asked], rank="cost")
    trial = trial_of(answer, "parabola")
    assert (trial.cost, trial.total_cost, trial.price) == (None, None, None)
    assert any("electricity has no price" in note for note in answer.notes)
    assert any("no pump has a price" in note for note in answer.notes)
    dear = asked.model_copy(update={"price": 10.0, "name": "dear"})
    (note, *_) = pumps(costed(price=0.25), [dear], rank="cost").notes
    assert note == "no price is given for main: their cost is not known"


def test_how_fast_the_first_pump_warms_a_hundred_litres() -> None:
    plan = bare(target="1800 L/h", rest='[heat]\nvolume = "100 L"\nchiller = "100 BTU/h"\n')
    answer = pumps(plan, [Parabola(4.0, 4000 * LPH, watts=50.0).candidate()])
    found, first = answer.warming, answer.trials[0]
    assert found is not None
    assert first.heat is not None
    assert found.heat == first.heat
    # 100 kg of water at about 4 kJ/(kg K); that of the plan's salt water at 25 degC: teos-10.
    assert found.rise * 100.0 * 3998.5 == pytest.approx(first.heat, rel=2e-3)
    # 1 W is 3.412 BTU/h
    assert found.share == pytest.approx(first.heat * 3.412 / 100.0, rel=1e-4)


def test_the_small_pumps_that_branches_replace() -> None:
    answer = lagoon()
    found = answer.replaced
    assert found is not None
    # As the plan lists them; 0.30 USD a kWh, all day and all year.
    watts = sum(p.count * p.watts for b in answer.plan.branches for p in b.replaces)
    assert found.watts == pytest.approx(watts)
    assert found.heat == pytest.approx(watts)
    assert found.energy == pytest.approx(watts * 24 * 365 / 1000)
    assert found.cost == pytest.approx(watts * 24 * 365 / 1000 * 0.30)
    assert pumps(bare(target="1000 L/h"), [Parabola(4.0, 4000 * LPH).candidate()]).replaced is None


def test_the_starter_can_be_asked() -> None:
    plan = read_text(STARTER, folder=Path.cwd())
    answer = pumps(plan, [candidate([0, 1000, 2000, 4000], [3.5, 3.0, 2.2, 0.0])])
    assert len(answer.trials) == 2
    assert len(answer.to_frame()) == 2
    assert np.isfinite(answer.to_frame()["flow_l_per_h"]).all()
