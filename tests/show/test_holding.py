"""What a person reads about holding the others, at 80 columns."""

from __future__ import annotations

from pathlib import Path

import pytest

from balance.network.arrays import network_of
from balance.plan.read import read
from balance.questions.close.advice import Holding, Turn
from balance.questions.close.holding import hold
from balance.questions.settings import settings
from balance.show import terminal
from balance.show.holding import move_words, show_each, show_one
from balance.units import SYSTEMS
from tests.questions.close.shutting import cases

DEMO = Path(__file__).parents[2] / "pump_curves_demo" / "lagoon.toml"


def turn(name: str, handle: str, travel: float, stood: float, to: float, *, of: str = "") -> Turn:
    return Turn(
        name=name,
        stretch=of or name,
        handle=handle,  # type: ignore[arg-type]
        travel=travel,
        stood=stood / travel,
        to=to / travel,
        mark_before=stood,
        mark=to,
    )


@pytest.mark.parametrize(
    ("moved", "words"),
    [
        (turn("stir", "degrees", 90, 45, 38), "close stir by 7 deg, from 45 deg to 38 deg"),
        (turn("stir", "degrees", 90, 38, 90), "open stir by 52 deg, from 38 deg to full"),
        (turn("spare", "degrees", 90, 0, 35), "open spare from shut to 35 deg"),
        (turn("bleed", "percent", 100, 30, 0), "shut bleed, which stands at 30 %"),
        (
            turn("uv", "turns", 5, 1.25, 1.125),
            "close uv by 1/8 turn, from 1 1/4 turns to 1 1/8 turns",
        ),
        (turn("main", "speed", 100, 85, 72), "slow main from 85 % to 72 %"),
        (turn("main", "speed", 100, 72.5, 85), "speed up main from 72.5 % to 85 %"),
        (
            turn("gate", "percent", 100, 50, 40, of="riser"),
            "close gate (in riser) by 10 %, from 50 % to 40 %",
        ),
    ],
)
def test_a_move_in_words(moved: Turn, words: str) -> None:
    assert move_words(moved) == words


def printed_one(holding: Holding, capsys: pytest.CaptureFixture[str]) -> str:
    with terminal.page() as to:
        show_one(to, holding, SYSTEMS["us"])
    out = capsys.readouterr().out
    assert max(map(len, out.splitlines())) <= 80
    return " ".join(out.split())


def demo(*shut: str, set_first: bool) -> tuple[Holding, ...]:
    plan = read(DEMO)
    network = network_of(settings(plan).plan if set_first else plan)
    return hold(network, cases(network, *({name: 0.0} for name in shut)))


def test_one_case_leads_with_the_move(capsys: pytest.CaptureFixture[str]) -> None:
    (found,) = demo("lagoon left", set_first=True)
    said = printed_one(found, capsys)
    assert said.startswith("Holding the others - open spare 2 from shut to ")
    assert "then each is within what is wanted" in said
    assert "left alone: outside what is wanted: lagoon right, seagrass return" in said
    assert "before anything was shut" not in said
    assert found.single is not None
    rows = {r.branch: flow for r, flow in zip(found.others, found.single.flows, strict=True)}
    assert f"spare 2 0 0 {rows['spare 2'] * 3600 / 0.003785411784:.0f}" in said
    assert "spare 1" not in said  # stays shut


def test_what_was_outside_before_is_said(capsys: pytest.CaptureFixture[str]) -> None:
    (found,) = demo("carbon reactor", set_first=False)
    said = printed_one(found, capsys)
    assert "slow main from 85 % to " in said
    assert "outside before anything was shut: lagoon left, lagoon right, returns, main" in said


def test_nothing_to_do_is_said(capsys: pytest.CaptureFixture[str]) -> None:
    (found,) = demo("refugium", set_first=True)
    said = printed_one(found, capsys)
    assert "- leave the others as they are: each is within what is wanted" in said
    assert "move" not in said


def test_every_case_has_its_line(capsys: pytest.CaptureFixture[str]) -> None:
    shut = ("lagoon left", "refugium")
    with terminal.page() as to:
        show_each(to, list(zip(shut, demo(*shut, set_first=True), strict=True)))
    lines = capsys.readouterr().out.splitlines()
    left, refugium = (next(line for line in lines if line.startswith(name)) for name in shut)
    assert "spare 2: shut to" in left
    assert left.endswith("all within")
    assert "leave the others as they are" in refugium
