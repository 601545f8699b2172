"""Pumps compared in a picture: the answer's figures in its order, clear of each other."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import pytest

from balance.plan.read import read_text
from balance.plan.starter import STARTER
from balance.questions.pumps import Pumps, pumps
from balance.show.pictures.canvas import Picture, drawing
from balance.show.pictures.pump_costs import ALL_MET, MISSED, NOTHING, pump_comparison
from balance.units import significant


@pytest.fixture(scope="module")
def answer() -> Pumps:
    return pumps(read_text(STARTER))


def texts(picture: Picture) -> list[str]:
    return [text.get_text() for text in picture.figure.axes[0].texts]


def assert_all_have_room(picture: Picture) -> None:
    with drawing():
        picture.figure.draw_without_rendering()
        boxes = [text.get_window_extent() for text in picture.figure.axes[0].texts]
    width, height = 72.0 * picture.figure.get_size_inches()
    assert all(box.x0 >= 0.0 and box.x1 <= width for box in boxes)
    assert all(box.y0 >= 0.0 and box.y1 <= height for box in boxes)
    for one, other in combinations(boxes, 2):
        across = min(one.x1, other.x1) - max(one.x0, other.x0)
        along = min(one.y1, other.y1) - max(one.y0, other.y0)
        assert across <= 0.5 or along <= 2.5


def test_figures_are_the_answers(answer: Pumps) -> None:
    first = replace(answer.trials[0], power=61.25, total_cost=523.0, reach=1.25, meets=True)
    picture = pump_comparison(replace(answer, trials=(first,)))
    assert {significant(61.25), "523", "+25 %", ALL_MET} <= set(texts(picture))
    assert "+25 % room to spare" in picture.description
    assert_all_have_room(picture)


def test_odd_candidates_have_room(answer: Pumps) -> None:
    name = "<script>alert(1)</script> $x_1$ & " + 200 * "W"
    odd = tuple(
        replace(
            answer.trials[0], rank=rank, name=name, meets=False, reach=reach, power=None,
            total_cost=None,
        )
        for rank, reach in enumerate((None, -3.0, 0.0, 0.99, 1.0, 2.5, 40.0), start=1)
    )  # fmt: skip
    picture = pump_comparison(replace(answer, trials=odd))
    assert sum(text.endswith(MISSED) for text in texts(picture)) == len(odd)
    assert_all_have_room(picture)
    assert "<script" not in picture.inline("it")
    assert "&lt;script&gt;" in picture.inline("it")


def test_none_compared_says_so(answer: Pumps) -> None:
    assert pump_comparison(replace(answer, trials=())).description == NOTHING


def test_the_same_answer_gives_the_same_bytes(answer: Pumps) -> None:
    assert pump_comparison(answer).as_file("svg") == pump_comparison(answer).as_file("svg")
