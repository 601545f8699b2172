"""`balance close PLAN --stuck VALVE`, from the words of the command line to its exit code."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.cli.session import run

LAGOON = str(Path(__file__).parents[2] / "pump_curves_demo" / "lagoon.toml")


def test_the_page() -> None:
    ran = run("close", LAGOON, "--stuck", "Lagoon Left")
    assert (ran.code, ran.err) == (0, "")
    assert ran.out.startswith("Lagoon and seagrass system: the valve of lagoon left stuck")


def test_a_name_that_is_not_there() -> None:
    ran = run("close", LAGOON, "--stuck", "lagoon lift")
    assert (ran.code, ran.out) == (2, "")
    assert ran.err == 'balance: no valve is called "lagoon lift"; try "lagoon left"\n'


@pytest.mark.parametrize("words", [("refugium",), ("--pairs",), ("--matrix",), ("--to", "30 deg")])
def test_it_is_a_question_of_its_own(words: tuple[str, ...]) -> None:
    ran = run("close", LAGOON, "--stuck", "lagoon left", *words)
    assert (ran.code, ran.out) == (2, "")
    assert "leave out names and other options" in ran.err


def test_a_valve_may_be_named_by_its_stretch() -> None:
    """As for --set: that of the one free valve in it."""
    assert run("close", LAGOON, "--stuck", "lagoon siphon").code == 0
