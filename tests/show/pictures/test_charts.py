"""Charts of duty points and of travel: what they show, and that nothing in them collides."""

from __future__ import annotations

from pathlib import Path

import pytest

import balance
from balance.plan.model import Plan
from balance.plan.read import read
from balance.questions.duty_points import DutyPoints, duty_points
from balance.questions.travel import Travel, travel
from balance.show.pictures import duty
from balance.show.pictures import travel as travels
from balance.show.pictures.chart import ticks
from balance.show.words import percent, speed
from balance.units import SYSTEMS
from tests.questions.test_duty_points import two_pumps
from tests.questions.test_travel import only_plan
from tests.show.pictures.room import faults, texts

DEMO = Path(__file__).parents[3] / "pump_curves_demo"


@pytest.fixture(scope="module", params=["lagoon", "fish-room"])
def plan(request: pytest.FixtureRequest) -> Plan:
    return balance.settings(read(DEMO / f"{request.param}.toml")).plan


@pytest.fixture(scope="module")
def points(plan: Plan) -> DutyPoints:
    return duty_points(plan)


@pytest.fixture(scope="module")
def handles(plan: Plan) -> Travel:
    return travel(plan)


def with_main(**changes: object) -> Plan:
    plan = read(DEMO / "lagoon.toml")
    main = plan.pumps["main"].model_copy(update=changes)
    return plan.model_copy(update={"pumps": {**plan.pumps, "main": main}})


ODD = {
    "stopped": with_main(speed=0.0),
    "many speeds": with_main(speed=0.9, speed_range=(0.05, 1.2)),
    "off its range": with_main(speed=1.0, useful_range=(0.1, 0.2)),
    "one speed": with_main(speed=0.6, speed_range=None),
    "in a row": two_pumps(in_a_row=True),
    "in a row, shut": two_pumps(in_a_row=True, open_="shut"),
    "side by side": two_pumps(in_a_row=False),
    "one pushes the other back": two_pumps(in_a_row=False, open_="shut"),
}


def test_a_duty_is_told_in_figures(points: DutyPoints) -> None:
    system = SYSTEMS[points.plan.units]
    (point,) = points.pumps
    picture = duty.duty(points, "main")
    flow, head = system.text(point.duty.flow, "flow"), system.text(point.duty.head, "head")
    assert f"{flow}\n{head}" in texts(picture)
    assert flow in picture.description
    assert head in picture.description
    assert speed(point.duty.speed) in texts(picture)
    assert duty.USEFUL in texts(picture)
    assert duty.PLUMBING in texts(picture)
    assert faults(picture) == []


@pytest.mark.parametrize("name", ODD)
def test_odd_pumps_are_drawn_without_a_collision(name: str) -> None:
    answer = duty_points(ODD[name])
    for point in answer.pumps:
        picture = duty.duty(answer, point.pump)
        assert faults(picture) == []
        assert (duty.PLUMBING in texts(picture)) == (point.system is not None)
        known = point.duty.speed > 0.0 and point.duty.useful_range is not None
        assert (duty.USEFUL in texts(picture)) == (known or name == "stopped")
        assert (duty.STOPPED in texts(picture)) == (point.duty.speed == 0.0)
        assert point.why_no_system in picture.description


def test_every_handle_is_drawn_with_its_figures(handles: Travel) -> None:
    system = SYSTEMS[handles.plan.units]
    for each in handles.valves:
        picture = travels.travel(handles, each.valve)
        assert faults(picture) == []
        (words,) = [
            text
            for text in texts(picture)
            if text.split("\n")[0] in (travels.SHUT, system.text(each.flow, "flow"))
        ]
        if each.flow_per_step is not None:
            assert percent(each.flow_per_step, 3) in words
            assert percent(each.flow_per_step, 3) in picture.description
        axes = picture.figure.axes[1]
        low, top = axes.get_ylim()
        unit = system.units["flow"][1]
        assert low == 0.0
        assert top >= max(each.flows) / unit
        assert axes.get_xlim() == (0.0, each.travel)


@pytest.mark.parametrize("open_", ["shut", "3 deg", "12 deg", "45 deg", "full"])
def test_a_handle_anywhere_is_drawn_without_a_collision(open_: str) -> None:
    answer = travel(only_plan(f'{{ valve = "ball", bore = "25 mm", open = "{open_}" }}'))
    picture = travels.travel(answer, "way")
    assert faults(picture) == []
    assert (travels.SHUT in texts(picture)) == (open_ == "shut")


@pytest.mark.parametrize("target", ["9000 gph", ">= 5 gph", "<= 100 gph", "2..3 gph"])
def test_a_target_that_is_missed_is_on_the_axis(target: str) -> None:
    answer = travel(
        only_plan('{ valve = "ball", bore = "25 mm", open = "50 deg" }', f'target = "{target}"')
    )
    picture = travels.travel(answer, "way")
    (each,) = answer.valves
    unit = SYSTEMS[answer.plan.units].units["flow"][1]
    top = picture.figure.axes[1].get_ylim()[1]
    assert all(bound / unit <= top for bound in (each.low, each.high) if bound is not None)
    assert faults(picture) == []


def test_a_hostile_name_does_no_harm() -> None:
    answer = travel(only_plan('{ valve = "ball", bore = "25 mm", name = "<script>$x_1$" }'))
    svg = travels.travel(answer, "<script>$x_1$").inline("valve")
    assert "<script>" not in svg
    assert "&lt;script&gt;$x_1$" in svg


def test_the_same_answer_gives_the_same_bytes(points: DutyPoints, handles: Travel) -> None:
    valve = handles.valves[0].valve
    once, again = ((duty.duty(points, "main"), travels.travel(handles, valve)) for _ in range(2))
    for one, other in zip(once, again, strict=True):
        assert one.as_file("svg") == other.as_file("svg")
        assert one.inline("one") == other.inline("one")


@pytest.mark.parametrize("high", [0.0, 0.4, 1.0, 7.3, 99.0, 123.0, 5e3])
def test_ticks_are_round_and_hold_the_ends(high: float) -> None:
    found = ticks(0.0, high, most=4)
    assert found[0] == 0.0
    assert found[-1] >= high
    assert 2 <= len(found) <= 6
