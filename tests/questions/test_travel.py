"""Flow against the travel of handles."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

import balance
from balance.plan.model import Plan
from balance.plan.read import read, read_text
from balance.questions.flows import flows
from balance.questions.settings import Settings
from balance.questions.travel import Travel, ValveTravel, travel

DEMO = Path(__file__).parents[2] / "pump_curves_demo"


@pytest.fixture(scope="module", params=["lagoon", "fish-room"])
def settings(request: pytest.FixtureRequest) -> Settings:
    return balance.settings(read(DEMO / f"{request.param}.toml"))


@pytest.fixture(scope="module")
def found(settings: Settings) -> Travel:
    return travel(settings.plan)


def test_every_valve_that_a_hand_may_turn_is_there(found: Travel) -> None:
    drains = {drain.name for drain in found.plan.drains}
    capped = {branch.name for branch in found.plan.branches if branch.to is None}
    changes = {run.name for run in found.plan.runs if run.use == "change"}
    turned = {
        ref.name
        for ref in found.plan.valves()
        if not ref.part.locked and ref.stretch not in drains | capped | changes
    }
    assert {each.valve for each in found.valves} == turned
    assert turned


def test_flow_at_the_mark_is_that_of_flows(found: Travel) -> None:
    solved = {run.run: run.flow for run in flows(found.plan).runs}
    for each in found.valves:
        assert each.flow == pytest.approx(solved[each.stretch], rel=1e-9, abs=1e-15)
        on_line = each.flows[each.openings.index(each.opening)]
        assert on_line == pytest.approx(each.flow, rel=1e-6, abs=1e-12)


def test_flow_rises_with_opening_from_nothing(found: Travel) -> None:
    for each in found.valves:
        assert each.openings[0] == 0.0
        assert each.openings[-1] == 1.0
        assert each.flows[0] == 0.0
        assert (np.diff(each.openings) > 0.0).all()
        # Where the port is shut yet nothing passes; beyond it each position gives more.
        assert (np.diff(each.flows) > 0.0)[np.array(each.flows[1:]) > 0.0].all()
        assert each.flows[-1] > 0.0


def test_a_position_is_what_flows_says_of_a_plan_with_the_handle_there(found: Travel) -> None:
    for each in found.valves:
        place = len(each.openings) // 2
        there = found.plan.with_openings({each.valve: each.openings[place]})
        solved = {run.run: run.flow for run in flows(there).runs}
        assert each.flows[place] == pytest.approx(solved[each.stretch], rel=1e-6, abs=1e-12)


def test_slope_against_central_difference(found: Travel) -> None:
    turned = 1e-4
    for each in found.valves:
        if each.slope is None or each.opening + turned > 1.0:
            continue
        above, below = (
            {
                run.run: run.flow
                for run in flows(found.plan.with_openings({each.valve: each.opening + by})).runs
            }[each.stretch]
            for by in (turned, -turned)
        )
        # Of second order in the turn, and of the rounding of what is settled.
        assert each.slope == pytest.approx((above - below) / (2 * turned), rel=1e-3)


def test_flow_per_step_agrees_with_settings(settings: Settings, found: Travel) -> None:
    said = {branch.branch: branch for branch in settings.branches}
    compared = 0
    for each in found.valves:
        if each.stretch not in said or said[each.stretch].flow_per_step is None:
            continue
        compared += 1
        assert each.flow_per_step == pytest.approx(said[each.stretch].flow_per_step, rel=1e-6)
        assert each.step == said[each.stretch].step
        assert each.mark == pytest.approx(
            next(h.mark for h in settings.handles if h.valve == each.valve)
        )
    assert compared >= 5


def test_what_is_wanted_is_that_of_settings(settings: Settings, found: Travel) -> None:
    said = {branch.branch: branch for branch in settings.branches}
    for each in found.valves:
        if each.stretch in said and said[each.stretch].asked != "share":
            assert (each.low, each.high) == (said[each.stretch].low, said[each.stretch].high)


def test_the_line_is_dense_where_it_curves(found: Travel) -> None:
    """Drawn straight between its points, it lies near what half way between them flows."""
    each = max(found.valves, key=lambda valve: valve.slope or 0.0)
    most = max(each.flows)
    for place in range(2, len(each.openings) - 1, 4):
        half = 0.5 * (each.openings[place] + each.openings[place + 1])
        there = found.plan.with_openings({each.valve: half})
        solved = {run.run: run.flow for run in flows(there).runs}[each.stretch]
        drawn = float(np.interp(half, each.openings, each.flows))
        assert drawn == pytest.approx(solved, abs=0.01 * most)


ONE = """
[vessels.a]
level = "1 m"
[vessels.b]
level = "0 m"
[[branches]]
name = "way"
from = "a"
to = "b"
parts = [VALVE, { pipe = "32 mm PN10", length = "2 m" }]
"""


def only_plan(valve: str, more: str = "") -> Plan:
    """A plan of one branch with a valve, and more about that branch."""
    return read_text(ONE.replace("VALVE", valve) + more)


def only(valve: str) -> ValveTravel:
    (each,) = travel(only_plan(valve)).valves
    return each


def test_a_shut_valve_has_a_line_and_no_slope() -> None:
    each = only('{ valve = "ball", bore = "25 mm", open = "shut" }')
    assert each.flow == 0.0
    assert each.slope is None
    assert each.flow_per_step is None
    assert each.flows[-1] > 0.0


def test_stops_end_the_line() -> None:
    each = only('{ valve = "ball", bore = "25 mm", open = "45 deg", stops = ["30 deg", "80 deg"] }')
    assert each.openings[0] == pytest.approx(30 / 90)
    assert each.openings[-1] == pytest.approx(80 / 90)
    assert each.flows[0] > 0.0


@pytest.mark.parametrize(
    ("valve", "handle", "length", "step"),
    [
        ('{ valve = "ball", bore = "25 mm" }', "degrees", 90.0, 1.0),
        ('{ valve = "gate", bore = "25 mm", turns = 6 }', "turns", 6.0, 0.125),
        ('{ valve = "gate", bore = "25 mm", open = "40 %" }', "percent", 100.0, 1.0),
        ('{ valve = "linear", bore = "25 mm", open = "40 %" }', "percent", 100.0, 1.0),
    ],
)
def test_each_handle_is_told_in_its_unit(
    valve: str, handle: str, length: float, step: float
) -> None:
    each = only(valve)
    assert (each.handle, each.travel, each.step_travel) == (handle, length, step)


def test_a_locked_valve_is_left_out() -> None:
    plan = read_text(ONE.replace("VALVE", '{ valve = "ball", bore = "25 mm", locked = true }'))
    assert travel(plan).valves == ()


def test_a_joint_that_draws_is_not_cut_off() -> None:
    plan = read_text(
        """
[vessels.a]
level = "3 m"
[[runs]]
name = "way"
from = "a"
to = "tap"
parts = [{ valve = "ball", bore = "25 mm" }, { pipe = "32 mm PN10", length = "2 m" }]
[joints.tap]
draw = "100 L/h"
"""
    )
    (each,) = travel(plan).valves
    assert each.openings[0] > 0.0
    assert each.flows == pytest.approx([each.flow] * len(each.flows))


def test_plain_values_and_table(found: Travel) -> None:
    plain = found.to_dict()
    assert set(plain) == {"title", "valves"}
    assert plain["valves"][0]["flow_l_per_h"] == pytest.approx(3.6e6 * found.valves[0].flow)
    assert list(found.to_frame()["valve"]) == [each.valve for each in found.valves]
