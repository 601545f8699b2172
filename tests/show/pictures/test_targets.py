"""Flows against targets: figures are the answer's, nothing overlaps, names do no harm."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from balance.plan.read import read_text
from balance.plan.starter import STARTER
from balance.questions.settings import Settings, settings
from balance.questions.spread import Spread, spread
from balance.show.pictures.targets import MISSED, NARROW, NO_TARGET, WIDE, targets
from balance.show.words import bare
from balance.units import SYSTEMS
from tests.show.pictures.room import HOSTILE, faults, texts


@pytest.fixture(scope="module")
def answer() -> Settings:
    return settings(read_text(STARTER))


@pytest.fixture(scope="module")
def doubt() -> Spread:
    return spread(read_text(STARTER), systems=500, from_settings=True)


@pytest.mark.parametrize("width", [WIDE, NARROW])
def test_flows_and_bands_are_the_answers(answer: Settings, doubt: Spread, width: int) -> None:
    picture = targets(answer, doubt, width=width)
    assert picture.figure.get_size_inches()[0] * 72.0 == pytest.approx(width)
    system = SYSTEMS[answer.plan.units]
    shown = texts(picture)
    for branch, band in zip(answer.branches, doubt.before.branches, strict=True):
        if branch.flow:
            low, high = bare(system, band.low, "flow"), bare(system, band.high, "flow")
            assert f"{low}..{high}" in shown
            assert any(text.endswith(bare(system, branch.flow, "flow")) for text in shown)
            assert system.text(branch.flow, "flow") in picture.description
    assert not faults(picture)


def test_the_point_stands_at_its_share_of_the_aim(answer: Settings) -> None:
    """Between the line at 100 and the one at 150 percent, by proportion."""
    branch = next(each for each in answer.branches if each.aim)
    aim = branch.aim or 0.0
    odd = replace(branch, flow=1.25 * aim, low=aim, high=1.5 * aim, met=True, within_limits=True)
    picture = targets(replace(answer, branches=(odd,), totals=()))
    axes = picture.figure.axes[0]
    places = {text.get_text(): text.get_position()[0] for text in axes.texts}
    point = next(line for line in axes.lines if line.get_marker() == "o")
    (x,) = np.asarray(point.get_xdata(), dtype=float)
    assert x == pytest.approx((places["100"] + places["150"]) / 2.0)


def test_a_miss_is_told_in_words(answer: Settings) -> None:
    missed = tuple(replace(each, met=False) for each in answer.branches)
    picture = targets(replace(answer, branches=missed))
    assert sum(text.startswith(f"{MISSED} ") for text in texts(picture)) >= 1
    assert MISSED in picture.description
    assert not faults(picture)


@pytest.mark.parametrize("factor", [-1.0, 0.0, 50.0])
def test_flows_far_off_stay_on_the_sheet(answer: Settings, factor: float) -> None:
    odd = tuple(replace(each, flow=factor * each.flow, met=False) for each in answer.branches)
    picture = targets(replace(answer, branches=odd))
    width, height = 72.0 * picture.figure.get_size_inches()
    for line in picture.figure.axes[0].lines:
        xs, ys = (np.asarray(each, dtype=float) for each in line.get_data())
        assert ((xs >= 0.0) & (xs <= width)).all()
        assert ((ys >= 0.0) & (ys <= height)).all()
    assert not faults(picture)


@pytest.mark.parametrize("width", [WIDE, NARROW])
@pytest.mark.parametrize("number", [1, 40])
def test_odd_numbers_of_branches_and_hostile_names_do_no_harm(
    answer: Settings, width: int, number: int
) -> None:
    name = HOSTILE
    odd = tuple(replace(answer.branches[0], branch=name) for _ in range(number))
    picture = targets(replace(answer, branches=odd, totals=()), width=width)
    assert not faults(picture)
    assert name in picture.description
    page = picture.inline("targets")
    assert "<script" not in page
    assert "&lt;script&gt;" in page


def test_branches_without_targets_say_so(answer: Settings, doubt: Spread) -> None:
    free = tuple(
        replace(each, aim=None, low=None, high=None, asked="", met=True) for each in answer.branches
    )
    picture = targets(replace(answer, branches=free, totals=()), doubt)
    assert texts(picture).count(NO_TARGET) == sum(each.flow != 0.0 for each in free)
    assert not faults(picture)


def test_nothing_in_use_draws(answer: Settings) -> None:
    picture = targets(replace(answer, branches=(), totals=()))
    assert picture.description == "No branch is in use."


def test_the_same_answer_gives_the_same_bytes(answer: Settings, doubt: Spread) -> None:
    one, other = (targets(answer, doubt) for _ in range(2))
    assert one.as_file("svg") == other.as_file("svg")
