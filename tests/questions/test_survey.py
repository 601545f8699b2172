"""All questions in one go: each answer is the one that its own question gives."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

import balance
from balance.plan.read import read_text
from balance.plan.starter import STARTER
from balance.questions.survey import SYSTEMS, Survey, survey

DEMO = Path(__file__).parents[2] / "pump_curves_demo"
ALL = (
    "check", "settings", "flows", "duty_points", "travel", "close", "drains", "outage", "spread",
    "buy", "cut",
)  # fmt: skip


@pytest.fixture(scope="module")
def small() -> Survey:
    return survey(read_text(STARTER))


def test_each_answer_is_that_of_its_question(small: Survey) -> None:
    plan = read_text(STARTER)
    found = balance.settings(plan)
    assert small.settings is not None
    assert small.settings.to_dict() == found.to_dict()
    for name in ("flows", "close", "drains", "outage", "travel", "duty_points"):
        answer = getattr(small, name)
        if answer is not None:  # at the marks
            assert answer.to_dict() == getattr(balance, name)(found.plan).to_dict()
    assert small.spread is not None
    assert small.spread.to_dict() == balance.spread(found.plan, systems=SYSTEMS).to_dict()
    for name in ("buy", "cut"):
        assert getattr(small, name).to_dict() == getattr(balance, name)(plan).to_dict()


def test_every_question_is_answered_or_says_why_not(small: Survey) -> None:
    unanswered = {each.question: each.reason for each in small.unanswered}
    for name in ALL:
        assert (getattr(small, name) is None) == (name in unanswered), name
    assert all(len(reason) > 10 for reason in unanswered.values())
    assert small.fit is None
    assert small.pumps is None  # the plan names no other


def test_one_question_without_answer_does_not_silence_the_others(small: Survey) -> None:
    reasons = {each.question: each.reason for each in small.unanswered}
    assert "no drain" in reasons["drains"]  # the small plan has none
    assert small.drains is None
    assert small.settings is not None
    assert small.outage is not None


def test_readings_are_learnt_first() -> None:
    plan = balance.read(DEMO / "lagoon.toml")
    readings = balance.read_readings(DEMO / "lagoon-readings.csv", plan)
    fitted = balance.fit(plan, readings)
    found = survey(plan, readings=readings)
    assert found.fit is not None
    assert found.fit.to_dict() == fitted.to_dict()
    assert found.settings is not None
    assert found.settings.to_dict() == balance.settings(fitted.plan).to_dict()
    assert found.pumps is not None  # the demo names others


def test_it_is_plain_values_too(small: Survey) -> None:
    plain = json.loads(json.dumps(small.to_dict()))
    assert set(ALL) | {"title", "fit", "pumps", "unanswered"} == set(plain)
