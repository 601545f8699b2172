"""All questions in one go: each answer is the one that its own question gives."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

import balance
from balance.plan.fitted import fitted_text
from balance.plan.read import read_text
from balance.plan.starter import STARTER
from balance.questions.survey import SYSTEMS, Survey, survey

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


def test_readings_are_learnt_first(tmp_path: Path) -> None:
    plan = read_text(STARTER)
    log = tmp_path / "log.csv"
    log.write_text(
        "branch,volume,seconds\nreactor,1 gal,60.0 61.0 60.5\nrefugium,1 gal,15.1 15.0 15.2\n",
        encoding="utf-8",
    )
    readings = balance.read_readings(log, plan)
    fitted = balance.fit(plan, readings)
    found = survey(plan, readings=readings)
    assert found.fit is not None
    assert found.fit.to_dict() == fitted.to_dict()
    # What was learnt counts in all that follows: the same as from the plan that `fit` writes.
    path = tmp_path / "plan.toml"
    path.write_text(fitted_text(STARTER, fitted.learnt, plan), encoding="utf-8")
    written = balance.read(path)
    assert found.settings is not None
    marks = [(handle.valve, handle.mark) for handle in found.settings.handles]
    again = balance.settings(written)
    assert marks == [(handle.valve, handle.mark) for handle in again.handles]
    for mine, other in zip(found.settings.branches, again.branches, strict=True):
        assert mine.flow == pytest.approx(other.flow, rel=1e-3)  # the file has four digits
    before = balance.settings(plan)
    assert marks != [(handle.valve, handle.mark) for handle in before.handles]


def test_it_is_plain_values_too(small: Survey) -> None:
    plain = json.loads(json.dumps(small.to_dict()))
    assert set(ALL) | {"title", "fit", "pumps", "unanswered"} == set(plain)
