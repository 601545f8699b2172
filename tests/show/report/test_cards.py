"""Valve cards: the handle is drawn where it goes, and what stands there is the answer's."""

from __future__ import annotations

from dataclasses import replace
from math import atan2, degrees, hypot
from pathlib import Path

import numpy as np
import pytest

import balance
from balance.plan.model import Plan, ValvePart
from balance.plan.openings import opening_words, parse_opening
from balance.questions.survey import Survey
from balance.show.report.cards import Dial, cards, dial
from balance.units import parse

LAGOON = Path(__file__).parents[3] / "pump_curves_demo" / "lagoon.toml"


@pytest.fixture(scope="module")
def survey() -> Survey:
    plan = balance.read(LAGOON)
    found = balance.settings(plan)
    nothing = dict.fromkeys(
        (
            "check",
            "fit",
            "flows",
            "duty_points",
            "close",
            "outage",
            "spread",
            "pumps",
            "buy",
            "cut",
        )
    )
    return Survey(
        title=plan.title,
        settings=found,
        drains=balance.drains(found.plan),
        travel=balance.travel(found.plan),
        unanswered=(),
        plan=found.plan,
        **nothing,
    )


def valve_named(plan: Plan, name: str) -> ValvePart:
    (found,) = [ref.part for ref in plan.valves() if ref.name == name]
    return found


def most_of(survey: Survey, name: str) -> float:
    """What is not to be exceeded: the limit, or else the most that is wanted [m³/s]."""
    assert survey.settings is not None
    (branch,) = [each for each in survey.settings.branches if each.branch == name]
    most = branch.limits[1] if branch.limits[1] is not None else branch.high
    assert most is not None
    return most


def angle(face: Dial) -> float:
    """From the right, against the clock, as the handle is drawn [deg]."""
    return degrees(atan2(-face.y, face.x)) % 360.0


@pytest.mark.parametrize("opening", [0.0, 0.1, 53 / 90, 0.999, 1.0])
def test_a_lever_turns_from_across_the_pipe_to_along_it(opening: float) -> None:
    face = dial(opening, handle="degrees", travel=90.0)
    # The pipe is drawn upright: across it is 0 degrees from the right, along it 90.
    assert angle(face) == pytest.approx(90.0 * opening, abs=0.1)
    assert not face.is_long_way
    assert hypot(face.x, face.y) == pytest.approx(face.reach, abs=0.01)


@pytest.mark.parametrize(
    ("turns", "shown", "way", "said"),
    [
        (0.0, 90.0, "short", "0 whole and no more"),
        (0.25, 180.0, "short", "0 whole and 90 degrees more"),
        (0.875, 45.0, "long", "0 whole and 315 degrees more"),
        (2.5, 270.0, "short", "2 whole and 180 degrees more"),
        (3.0, 90.0, "short", "3 whole and no more"),
        (5.0, 90.0, "short", "5 whole and no more"),
    ],
)
def test_a_wheel_opens_against_the_clock(turns: float, shown: float, way: str, said: str) -> None:
    face = dial(turns / 5.0, handle="turns", travel=5.0)
    assert angle(face) == pytest.approx(shown, abs=0.1)
    assert ("long" if face.is_long_way else "short") == way
    assert said in face.words


@pytest.mark.parametrize("opening", [0.0, 0.4, 1.0])
def test_a_scale_goes_from_nought_at_the_right_to_full_at_the_left(opening: float) -> None:
    assert angle(dial(opening, handle="percent", travel=100.0)) == pytest.approx(
        180.0 * opening, abs=0.1
    )


def test_graduations_are_where_their_labels_say() -> None:
    lever = dial(0.5, handle="degrees", travel=90.0)
    for tick in lever.ticks:
        at = degrees(atan2(-tick.y2, tick.x2))
        assert at % 15.0 == pytest.approx(0.0, abs=0.1) or at % 15.0 == pytest.approx(15.0, abs=0.1)
        if tick.label:
            assert at == pytest.approx(float(tick.label), abs=0.1)
    wheel = dial(0.5, handle="turns", travel=4.0)
    assert [tick.label for tick in wheel.ticks if tick.label] == ["0", "1/4", "1/2", "3/4"]


def test_every_valve_has_a_card_that_says_what_the_answer_says(survey: Survey) -> None:
    found = {card.valve: card for card in cards(survey)}
    assert survey.settings is not None
    handles = {handle.valve: handle for handle in survey.settings.handles}
    assert set(handles) <= set(found)
    marks: dict[str, str] = {}
    for branch in survey.settings.branches:
        assert branch.valve is not None
        handle, facts = handles[branch.valve], dict(found[branch.valve].facts)
        mark = opening_words(handle.opening, handle=handle.handle, travel=handle.travel)
        assert found[branch.valve].mark == mark
        if branch.flow:
            assert parse(facts["flow"], "flow") == pytest.approx(branch.flow, rel=5e-3)
            assert branch.bucket in facts["bucket"]
        most = branch.limits[1] if branch.limits[1] is not None else branch.high
        if most is not None:
            flow, _, where = facts["do not exceed"].partition(", ")
            assert parse(flow, "flow") == pytest.approx(most, rel=5e-3)
            marks[branch.branch] = where
    # Each at the last mark at which the flow is still below: what travel says of it and the next.
    assert survey.travel is not None
    travels = {valve.valve: valve for valve in survey.travel.valves}
    assert marks.pop("carbon reactor") == "out of its reach"
    assert travels["carbon reactor"].flows[-1] < parse("160 gph", "flow")
    assert len(marks) == 7
    for name, where in marks.items():
        valve = travels[name]
        if where == "out of its reach":
            continue
        opening = parse_opening(where.removeprefix("at "), valve_named(survey.plan, name))
        step = valve.step_travel / valve.travel
        below, above = np.interp([opening, opening + step], valve.openings, valve.flows)
        assert below <= most_of(survey, name) < above
    assert dict(found["carbon reactor"].facts)["nor fall below"] == "60.0 gph"


def test_gates_of_siphons_have_theirs(survey: Survey) -> None:
    assert survey.drains is not None
    gates = [gate for vessel in survey.drains.vessels for gate in vessel.gates]
    found = {card.valve: card for card in cards(survey)}
    assert len(gates) == 2
    for gate in gates:
        assert found[gate.valve].mark == gate.aim.mark
        assert gate.trickle in dict(found[gate.valve].facts)["handle"]
        assert gate.dry.mark in dict(found[gate.valve].facts)["do not exceed"]


def test_without_settings_and_drains_there_are_none(survey: Survey) -> None:
    assert not list(cards(replace(survey, settings=None, drains=None)))
