"""The page of what one mark of each handle does."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from balance.plan.model import Plan
from balance.plan.read import read
from balance.questions.close.interaction import interaction
from balance.show import terminal
from balance.show.interaction import show
from tests.questions.settings.manifolds import (
    FREE,
    PLAIN,
    RISER_VALVE,
    branch,
    manifold,
    read_text_of,
)

DEMO = Path(__file__).parents[2] / "pump_curves_demo"


def page(plan: Plan, capsys: pytest.CaptureFixture[str]) -> str:
    with terminal.page() as to:
        show(to, interaction(plan))
    return capsys.readouterr().out


def test_the_demo_in_eighty_columns(capsys: pytest.CaptureFixture[str]) -> None:
    plan = read(DEMO / "lagoon.toml")
    said, answer = page(plan, capsys), interaction(plan)
    assert max(map(len, said.splitlines())) <= 80
    rows = re.findall(r"^(\d) (\D+?) +([-+\[].*)$", said, re.MULTILINE)
    assert [name for _, name, _ in rows] == list(answer.branches)
    for (number, _, cells), change in zip(rows, answer.change, strict=True):
        figures = cells.split()
        assert len(figures) == len(change) == 9
        assert figures[int(number) - 1].startswith("[")
        shown = [float(figure.strip("[]")) for figure in figures]
        assert shown == pytest.approx([100 * value for value in change], rel=0.06, abs=0.006)
    assert "9: main, 1 % speed more." in said
    assert "A mark is 1 deg of the handle; 1/8 turn on ultraviolet." in said
    assert "Left out, shut: spare 1, spare 2." in said
    order = " ".join(said.split()).partition("then begin again: ")[2]
    assert answer.trimming is not None
    assert order.startswith(", ".join(answer.trimming.order))


def test_many_handles_come_in_pieces(capsys: pytest.CaptureFixture[str]) -> None:
    names = [f"branch {n}" for n in range(1, 15)]
    said = page(read_text_of("".join(branch(name, 'from = "foot"') for name in names)), capsys)
    assert said.count("percent of flow") == 2
    assert said.count("\n14 branch 14") == 2
    assert said.count("[") == 14
    assert max(map(len, said.splitlines())) <= 80


def test_handles_of_runs_pumps_and_ends_of_travel(capsys: pytest.CaptureFixture[str]) -> None:
    gate = '{ valve = "gate wedge", size = "3/4 in", turns = 5, open = "full", name = "inlet" }'
    plan = manifold(branch("a", valve=gate), branch("b"), riser=RISER_VALVE, speed=FREE)
    said = page(plan.with_openings({"main valve": 0.5}), capsys)
    assert "1: valve inlet; 3: valve main valve; 4: main, 1 % speed more." in said
    assert "At its end, so that it can only be turned back: inlet." in said
    assert re.search(r"main valve moves all of them one way, by [\d.]+ to [\d.]+ %", said)


def test_where_any_order_will_do(capsys: pytest.CaptureFixture[str]) -> None:
    flat = ("0 gph at 9 ft", "4000 gph at 8.9 ft", "8000 gph at 0 ft")
    narrow = '{ valve = "ball", size = "3/4 in", open = "20 deg" }'
    text = "".join(branch(name, 'from = "foot"', valve=narrow) for name in ("a", "b", "c"))
    said = " ".join(page(read_text_of(text, points=flat), capsys).split())
    assert "the branches hardly disturb one another" in said
    assert "trim each once, in any order" in said
    assert "begin again" not in said


def test_a_single_branch(capsys: pytest.CaptureFixture[str]) -> None:
    said = page(manifold(branch("a"), points=PLAIN), capsys)
    assert "there are no two branches" in said


def test_nothing_flows(capsys: pytest.CaptureFixture[str]) -> None:
    shut = manifold(branch("a"), branch("b"), riser=RISER_VALVE).with_openings({"main valve": 0.0})
    _, _, *lines = page(shut, capsys).splitlines()
    assert lines == [
        "As they stand, no handle moves any flow.",
        "Left out, shut: main valve.",
        "Left out, nothing flows through it: a, b.",
    ]


def test_rounds_that_hardly_come_to_rest(capsys: pytest.CaptureFixture[str]) -> None:
    """A pump of a fixed flow: of n branches all but one can be set."""
    fixed = ("0 gph at 400 ft", "499.9 gph at 399 ft", "500 gph at 0 ft")
    names, slow = ("a", "b", "c"), "so rounds hardly come to rest"
    asked = 'target = "160 gph"'
    assert slow in flat(page(manifold(*(branch(n, asked) for n in names), points=fixed), capsys))
    two = (branch("a", asked), branch("b", asked), branch("c"))
    assert slow not in flat(page(manifold(*two, points=fixed), capsys))


def flat(text: str) -> str:
    return " ".join(text.split())
