"""Every way to write a valve and its handle, from the plan through `--set` to the page."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from balance.parts.valves import kinds, valve
from tests.cli.conftest import changed
from tests.cli.session import run

BALL = '{ valve = "ball", size = "1 in", open = "full" }'
OWN = {
    "deg": "open_deg,cv\n20,1.5\n45,8\n90,40\n",
    "percent": "open_percent,cv\n22.222222222222222,1.5\n50,8\n100,40\n",
    "turns": "open_turns,cv\n1.3333333333333333,1.5\n3,8\n6,40\n",
}


def stands(plan: str, words: str) -> tuple[str, float]:
    """Mark and flow of the branch "return" with its valve turned so."""
    ran = run("flows", plan, "--json", "--set", f"return={words}")
    assert ran.code == 0, ran.err
    (branch,) = (each for each in json.loads(ran.out)["branches"] if each["branch"] == "return")
    return branch["mark"], branch["flow_l_per_h"]


def same(one: float, other: float) -> bool:
    return one == pytest.approx(other, rel=1e-9)


@pytest.mark.parametrize("kind", kinds())
def test_every_kind_by_its_handle(starter: str, kind: str) -> None:
    handle = valve(kind, bore=0.025).handle
    turns = ", turns = 6" if handle == "turns" else ""
    changed(starter, BALL, f'{{ valve = "{kind}", size = "1 in"{turns} }}')
    share, flow = stands(starter, "50 %")
    own = {"degrees": "45 deg", "turns": "3 turns", "percent": "50 %"}[handle]
    assert share == own
    assert same(stands(starter, own)[1], flow)
    assert stands(starter, "shut") == ("shut", 0.0)
    assert stands(starter, "full")[1] > flow > 0.0


def test_a_spindle_without_turns_is_read_in_percent(starter: str) -> None:
    changed(starter, BALL, '{ valve = "gate", size = "1 in", open = "30 %" }')
    assert stands(starter, "12.5 %")[0] == "12.5 %"
    ran = run("flows", starter, "--set", "return=3 turns")
    assert ran.code == 2
    assert "add turns = 6" in ran.err


@pytest.mark.parametrize(
    ("of", "turns", "half"),
    [("deg", "", "45 deg"), ("percent", "", "45 deg"), ("turns", ", turns = 6", "3 turns")],
)
def test_a_valve_of_ones_own_from_a_file(starter: str, of: str, turns: str, half: str) -> None:
    Path("mine.csv").write_text(OWN[of], encoding="utf-8")
    plan = Path(starter).read_text(encoding="utf-8")
    changed(starter, BALL, f'{{ valve = "mine", size = "1 in"{turns}, table = "mine.csv" }}')
    mark, flow = stands(starter, "50 %")
    assert mark == half
    assert same(stands(starter, half)[1], flow)
    # The same valve, written into the plan.
    Path(starter).write_text(plan, encoding="utf-8")
    rows = '[["20 deg", "cv 1.5"], ["50 %", "cv 8"], ["full", "cv 40"]]'
    changed(starter, BALL, f'{{ valve = "mine", size = "1 in", table = {rows} }}')
    assert same(stands(starter, "45 deg")[1], flow)


def test_degrees_in_the_table_of_a_spindle_are_refused(starter: str) -> None:
    rows = '[["20 deg", "cv 1.5"], ["6 turns", "cv 40"]]'
    own = f'{{ valve = "mine", size = "1 in", turns = 6, table = {rows} }}'
    changed(starter, BALL, own)
    ran = run("flows", starter)
    assert ran.code == 2
    assert "more than a quarter turn" in ran.err


def test_fully_open_a_valve_loses_what_its_plan_says(starter: str) -> None:
    _, handbook = stands(starter, "full")
    changed(starter, BALL, '{ valve = "ball", size = "1 in", k = 8 }')
    _, stated = stands(starter, "full")
    assert stated < 0.99 * handbook


def test_a_smaller_valve_loses_more_fully_open(starter: str) -> None:
    _, large = stands(starter, "full")
    changed(starter, BALL, '{ valve = "ball", size = "1/2 in" }')
    assert stands(starter, "full")[1] < 0.95 * large
