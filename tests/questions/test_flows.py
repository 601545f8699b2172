"""What flows as a plan stands, and the numbers that are drawn from it."""

from __future__ import annotations

import json
from dataclasses import FrozenInstanceError

import pytest

from balance.plan.model import Plan
from balance.plan.openings import opening_words
from balance.plan.read import read_text
from balance.plan.starter import STARTER
from balance.questions.duty import SHAFT_SHARE
from balance.questions.flows import BranchState, Flows, flows
from balance.questions.handles import mark, valve_of


def plan(*changes: tuple[str, str]) -> Plan:
    text = STARTER
    for old, new in changes:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    return read_text(text)


def branch(answer: Flows, name: str) -> BranchState:
    return next(state for state in answer.branches if state.branch == name)


def test_flows_of_the_branches_add_up_to_the_pump() -> None:
    answer = flows(plan())
    (pump,) = answer.pumps
    assert sum(state.flow for state in answer.branches) == pytest.approx(pump.flow, rel=1e-9)
    assert sum(state.share for state in answer.branches) == pytest.approx(1.0)
    assert answer.worst_imbalance <= 1e-9 * pump.flow
    assert answer.worst_mismatch <= 1e-6


def test_head_at_a_tap_is_above_the_source_and_falls_along_the_way() -> None:
    answer = flows(plan())
    (pump,) = answer.pumps
    heads = {joint.joint: joint.head for joint in answer.joints}
    assert heads["riser foot"] == pytest.approx(13 * 0.0254 + pump.head)
    start = heads["manifold start"]
    assert start is not None
    assert start < 13 * 0.0254 + pump.head
    for state in answer.branches:
        assert state.head_at_tap is not None
        assert 0.0 < state.head_at_tap < pump.head


def test_what_counts_as_met_is_target_and_tolerance() -> None:
    as_it_stands = flows(plan())
    state = branch(as_it_stands, "return")
    assert (state.low, state.high) == pytest.approx(
        (0.85 * 400 * 3.785411784e-3 / 3600, 1.15 * 400 * 3.785411784e-3 / 3600)
    )
    assert state.met is False
    untold = flows(plan(('target = "400 gph"\ntolerance = "15 %"\n', "")))
    assert branch(untold, "return").met is None


def test_a_limit_counts_for_a_branch_that_is_open() -> None:
    limited = plan(('target = "100 gph"', 'target = "100 gph"\nlimits = ["80 gph", "110 gph"]'))
    assert not branch(flows(limited), "reactor").within_limits
    shut = flows(limited.with_openings({"reactor": 0.0}))
    assert branch(shut, "reactor").flow == 0.0
    assert branch(shut, "reactor").within_limits


def test_everything_shut_is_an_answer_that_warns() -> None:
    shut = flows(plan().with_openings({"reactor": 0.0, "refugium": 0.0, "return": 0.0}))
    (pump,) = shut.pumps
    assert (pump.flow, pump.in_useful_range) == (0.0, False)
    assert pump.head == pytest.approx(13 * 0.3048, rel=1e-6)
    assert {state.share for state in shut.branches} == {0.0}
    assert any("dead-headed" in note for note in shut.notes)


def test_a_stopped_pump_lets_the_tank_run_back() -> None:
    stopped = flows(plan().with_speed({"main": 0.0}))
    assert branch(stopped, "return").flow < 0.0
    assert 'water runs backwards through "return"' in stopped.notes
    assert stopped.pumps[0].useful_range is None


def test_power_heat_and_cost_of_a_pump() -> None:
    priced = plan(("[[runs]]", '[power]\nprice = 0.25\ncurrency = "EUR"\nhours = 12\n\n[[runs]]'))
    (pump,) = flows(priced).pumps
    assert pump.power is not None
    assert pump.heat == pump.power  # it stands in the water
    assert pump.energy == pytest.approx(pump.power * 12 * 365 / 1000)
    assert pump.cost == pytest.approx(0.25 * pump.power * 12 * 365 / 1000)
    # wire to water, with salt water of 35 g/kg at 25 degC: 1023.3 kg/m³ (EOS-80)
    lifted = 1023.3 * 9.80665 * pump.flow * pump.head
    assert pump.efficiency == pytest.approx(lifted / pump.power, rel=1e-4)


def test_an_external_pump_keeps_its_motors_heat() -> None:
    (pump,) = flows(plan(('speed = "100 %"\n', "external = true\n"))).pumps
    assert pump.power is not None
    assert pump.heat == pytest.approx(SHAFT_SHARE * pump.power)


def test_a_curve_without_power_leaves_power_out() -> None:
    watts = [", 30 W", ", 38 W", ", 45 W", ", 50 W", ", 51 W"]
    (pump,) = flows(plan(*((text, "") for text in watts))).pumps
    assert (pump.power, pump.efficiency, pump.heat, pump.energy) == (None, None, None, None)
    assert (pump.useful_range, pump.in_useful_range) == (None, None)


def test_answers_are_frozen_and_plain_values_without_surprises() -> None:
    answer = flows(plan())
    with pytest.raises(FrozenInstanceError):
        answer.title = "other"  # type: ignore[misc]
    assert json.loads(json.dumps(answer.to_dict())) == answer.to_dict()
    table = answer.to_frame()
    assert list(table["branch"]) == ["reactor", "refugium", "return"]
    assert table["flow_l_per_h"].sum() == pytest.approx(answer.pumps_frame()["flow_l_per_h"].sum())


@pytest.mark.parametrize(
    ("opening", "handle", "travel", "said"),
    [
        (0.0, "degrees", 90.0, "shut"),
        (1.0, "turns", 6.0, "full"),
        (48 / 90, "degrees", 90.0, "48 deg"),
        (0.3, "percent", 100.0, "30 %"),
        (3.125 / 6, "turns", 6.0, "3 1/8 turns"),
        (0.5 / 6, "turns", 6.0, "1/2 turn"),
        (1 / 6, "turns", 6.0, "1 turn"),
        (1.3 / 6, "turns", 6.0, "1.3 turns"),
    ],
)
def test_a_handle_is_read_as_a_hand_reads_it(
    opening: float, handle: str, travel: float, said: str
) -> None:
    assert opening_words(opening, handle=handle, travel=travel) == said  # type: ignore[arg-type]


def test_the_valve_of_a_branch_is_the_one_to_turn() -> None:
    two = plan(
        (
            '{ valve = "ball", size = "1 in", open = "full" },',
            '{ valve = "ball", locked = true }, { valve = "gate", open = "30 %", name = "fine" },',
        )
    )
    ref = valve_of(two, "return")
    assert ref is not None
    assert ref.name == "fine"
    assert mark(ref.part) == "30 %"  # nobody said how many turns it has
    assert valve_of(two, "riser") is None
