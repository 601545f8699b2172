"""Pumps compared in a picture: the answer's figures in its order, clear of each other."""

from __future__ import annotations

from dataclasses import replace

import pytest

from balance.plan.read import read_text
from balance.plan.starter import STARTER
from balance.questions.pumps import Pumps, pumps
from balance.show.pictures.pump_costs import ALL_MET, MISSED, NOTHING, pump_comparison
from balance.units import significant
from tests.show.pictures.room import HOSTILE, faults, texts


@pytest.fixture(scope="module")
def answer() -> Pumps:
    return pumps(read_text(STARTER))


def test_figures_are_the_answers(answer: Pumps) -> None:
    first = replace(answer.trials[0], power=61.25, total_cost=523.0, reach=1.25, meets=True)
    picture = pump_comparison(replace(answer, trials=(first,)))
    assert {significant(61.25), "523", "+25 %", ALL_MET} <= set(texts(picture))
    assert "+25 % room to spare" in picture.description
    assert not faults(picture)


def test_odd_candidates_have_room(answer: Pumps) -> None:
    name = HOSTILE
    odd = tuple(
        replace(
            answer.trials[0], rank=rank, name=name, meets=False, reach=reach, power=None,
            total_cost=None,
        )
        for rank, reach in enumerate((None, -3.0, 0.0, 0.99, 1.0, 2.5, 40.0), start=1)
    )  # fmt: skip
    picture = pump_comparison(replace(answer, trials=odd))
    assert sum(text.endswith(MISSED) for text in texts(picture)) == len(odd)
    assert not faults(picture)
    assert "<script" not in picture.inline("it")
    assert "&lt;script&gt;" in picture.inline("it")


def test_none_compared_says_so(answer: Pumps) -> None:
    assert pump_comparison(replace(answer, trials=())).description == NOTHING


def test_the_same_answer_gives_the_same_bytes(answer: Pumps) -> None:
    assert pump_comparison(answer).as_file("svg") == pump_comparison(answer).as_file("svg")
