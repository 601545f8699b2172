"""A power cut and a closing matrix in pictures: the answer's figures, clear of each other."""

from __future__ import annotations

from dataclasses import replace

import pytest

from balance.plan.read import read_text
from balance.plan.starter import STARTER
from balance.questions.close import Close, close
from balance.questions.outage import Outage, outage
from balance.show.pictures.matrix import NOTHING as NONE_SHUT
from balance.show.pictures.matrix import closing_matrix
from balance.show.pictures.vessels import (
    NO_RIM,
    NOTHING,
    SPILLS,
    STILL,
    outage_course,
    outage_levels,
)
from balance.show.words import bare
from balance.units import SYSTEMS
from tests.show.pictures.room import HOSTILE, assert_harmless, faults, texts


@pytest.fixture(scope="module")
def cut() -> Outage:
    return outage(read_text(STARTER))


@pytest.fixture(scope="module")
def shut() -> Close:
    return close(read_text(STARTER))


def test_levels_are_the_answers(cut: Outage) -> None:
    picture = outage_levels(cut)
    system = SYSTEMS[cut.plan.units]
    shown = texts(picture)
    assert cut.vessels
    for vessel in cut.vessels:
        assert vessel.vessel in shown
        assert f"highest {bare(system, vessel.highest, 'length')}" in shown
        assert f"then at {bare(system, vessel.end, 'length')}" in shown
    assert not faults(picture)


def test_a_spill_and_a_missing_rim_are_told_in_words(cut: Outage) -> None:
    first = cut.vessels[0]
    rim = first.rim or 0.0
    over = replace(first, highest=rim, end=rim, margin=-0.01, spilt=0.001)
    open_ = replace(first, rim=None, margin=None, spilt=0.0)
    picture = outage_levels(replace(cut, vessels=(over, open_)))
    assert SPILLS in texts(picture)
    assert NO_RIM in texts(picture)
    assert SPILLS in picture.description
    assert not faults(picture)


def test_no_vessel_with_a_size_and_no_moving_level_draw(cut: Outage) -> None:
    assert outage_levels(replace(cut, vessels=())).description == NOTHING
    assert outage_course(replace(cut, traces=())).description == STILL


@pytest.mark.parametrize("number", [1, 12])
def test_levels_over_time_are_named_at_their_ends(cut: Outage, number: int) -> None:
    moving = max(cut.traces, key=lambda each: max(each.level) - min(each.level))
    many = tuple(replace(moving, vessel=f"tank {place}") for place in range(number))
    picture = outage_course(replace(cut, traces=many))
    assert {each.vessel for each in many} <= set(texts(picture))
    assert not faults(picture)


def test_the_matrix_tells_each_change_once(shut: Close) -> None:
    picture = closing_matrix(shut)
    flowing = [each for each in shut.cases[0].branches if each.before]
    figures = [text for text in texts(picture) if text[0] in "+-" or text == "0"]
    assert len(figures) == len(shut.cases) * len(flowing) - len(shut.cases)
    some = next(each for each in shut.cases[0].branches if each.by and not each.part)
    assert f"{100.0 * (some.by or 0.0):+.0f}" in figures
    assert not faults(picture)


def test_a_matrix_of_forty_columns_has_room(shut: Close) -> None:
    first = shut.cases[0]
    branch = next(each for each in first.branches if each.by and not each.part)
    many = tuple(replace(branch, branch=f"branch {number}") for number in range(40))
    cases = tuple(  # as many columns, and rows enough to see how they stand below each other
        replace(first, branches=many, done=(replace(first.done[0], name=each.branch),), harms=())
        for each in many[:12]
    )
    assert not faults(closing_matrix(replace(shut, cases=cases)))


def test_a_matrix_without_cases_says_so(shut: Close) -> None:
    assert closing_matrix(replace(shut, cases=())).description == NONE_SHUT


def test_hostile_names_do_no_harm(cut: Outage, shut: Close) -> None:
    first = shut.cases[0]
    named = replace(first, done=(replace(first.done[0], name=HOSTILE),))
    traces = tuple(replace(each, vessel=HOSTILE) for each in cut.traces)
    vessels = tuple(replace(each, vessel=HOSTILE) for each in cut.vessels)
    plan = cut.plan.model_copy(
        update={"vessels": {HOSTILE: cut.plan.vessels[cut.vessels[0].vessel]}}
    )
    odd = replace(cut, traces=traces, vessels=vessels, plan=plan)
    for picture in (
        closing_matrix(replace(shut, cases=(named,))),
        outage_levels(odd),
        outage_course(odd),
    ):
        assert not faults(picture)
        assert_harmless(picture)


def test_the_same_answer_gives_the_same_bytes(cut: Outage, shut: Close) -> None:
    assert outage_levels(cut).as_file("svg") == outage_levels(cut).as_file("svg")
    assert outage_course(cut).as_file("svg") == outage_course(cut).as_file("svg")
    assert closing_matrix(shut).as_file("svg") == closing_matrix(shut).as_file("svg")
