"""The page of what to shut so that a valve can be taken out."""

from __future__ import annotations

from pathlib import Path

import pytest

from balance.plan.model import Plan
from balance.plan.read import read
from balance.questions.close.isolation import isolate
from balance.show.isolation import show
from tests.questions.close.drawn import ring
from tests.questions.settings.manifolds import RISER_VALVE, branch, header, manifold, read_text_of

DEMO = Path(__file__).parents[2] / "pump_curves_demo"
HALF = ', parts = [{ valve = "ball", size = "1 in", name = "half" }]'


def page(plan: Plan, valve: str, capsys: pytest.CaptureFixture[str]) -> str:
    show(isolate(plan, valve))
    return capsys.readouterr().out


def flat(text: str) -> str:
    return " ".join(text.split())


def test_the_demo_in_eighty_columns(capsys: pytest.CaptureFixture[str]) -> None:
    said = page(read(DEMO / "lagoon.toml"), "lagoon left", capsys)
    assert max(map(len, said.splitlines())) <= 80
    told = flat(said)
    assert "the valve of lagoon left stuck, or taken out" in told
    assert "stop main: no valve stands between" in told
    assert "- shut lagoon right, seagrass return; at lagoon right a check valve stands too" in told
    assert "lift the outlet of lagoon left out of the water of lagoon: only a check" in told
    assert "Then no branch has flow." in told
    assert "no union and no hose stands before it in lagoon left" in told
    assert "A check valve is no protection from a flood" in told
    assert "lagoon left, lagoon right, seagrass return, carbon reactor" in told


def test_a_drain(capsys: pytest.CaptureFixture[str]) -> None:
    told = flat(page(read(DEMO / "lagoon.toml"), "lagoon siphon", capsys))
    assert "plug the inlet of lagoon siphon in lagoon box, or let its water down" in told
    assert 'what "lagoon siphon" carries must go by "lagoon trickle"' in told
    assert "without flow" not in told.partition("When")[0]
    assert "no branch has flow" not in told


def half_a_header(*branches: str) -> Plan:
    text = header("a", "b", "c").replace(
        'branch = "b", after = "4 in"', f'branch = "b", after = "4 in"{HALF}'
    )
    return read_text_of(text + "".join(branches))


def test_who_loses_and_who_gains(capsys: pytest.CaptureFixture[str]) -> None:
    said = page(half_a_header(*map(branch, "abc")), "c", capsys)
    assert "- shut half\nThen without flow: b, c." in said
    row = next(line for line in said.splitlines() if line.startswith("a "))
    _, now, then, change, sign = row.split()
    assert float(then) > float(now)
    assert change == f"+{100 * (float(then) / float(now) - 1):.0f}"
    assert sign == "%"
    assert "- half: b, c\n- a, b, c: each its own branch alone" in said


def test_two_ways(capsys: pytest.CaptureFixture[str]) -> None:
    riser = RISER_VALVE.replace("riser", "side").replace("main valve", "side valve")
    names = ("a", "b", "c")
    taps = ring(*names, valves=(*names, "close")).replace('"foot"', '"top"')
    plan = read_text_of(
        riser + taps + branch("straight", 'from = "foot"') + "".join(map(branch, names))
    )
    said = page(plan, "b", capsys)
    first, _, second = said.partition("and the most running")
    assert "with the fewest handles\n- shut side valve\nThen without flow: a, b, c." in first
    assert "- shut before b, before c\nThen without flow: b." in second
    assert "- before a: none, water comes round another way" in second


def test_a_pump_that_would_turn_without_flow_and_all_branches(
    capsys: pytest.CaptureFixture[str],
) -> None:
    plan = manifold(branch("a"), branch("b", to="tank"), riser=RISER_VALVE)
    said = page(plan, "a", capsys)
    assert "- stop main: with these shut it would turn without flow" in said
    assert "- main valve: all branches" in said
    in_riser = page(plan, "main valve", capsys)
    assert "main valve in riser stuck, or taken out" in in_riser


def test_water_that_runs_back(capsys: pytest.CaptureFixture[str]) -> None:
    plan = half_a_header(branch("a"), branch("b", to="tank"), branch("c"))
    said = page(plan, "a", capsys)
    assert "Then without flow: a." in said
    lines = said.splitlines()
    assert any(line.startswith("b ") and line.endswith("RUNS BACK") for line in lines)
    assert any(line.startswith("c ") and line.endswith("of what runs back") for line in lines)


def test_nothing_to_do(capsys: pytest.CaptureFixture[str]) -> None:
    stopped = manifold(branch("a"), branch("b")).with_speed({"main": 0.0})
    assert "nothing need be shut" in page(stopped, "a", capsys)
