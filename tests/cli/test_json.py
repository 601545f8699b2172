"""JSON: nothing else on standard output, and keys that others may rely on."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.cli.session import run
from tests.questions.change.plans import RETURN
from tests.questions.outage.plans import BOX, PLANT

STORED = Path(__file__).with_name("json_keys.json")

ALL_OF_IT = {
    "close": ("--also", "return", "--pairs", "--hold", "--matrix"),
    "spread": ("--systems", "200", "--clog", "return=30 %"),
}


def keys(value: Any, path: str = "") -> Iterator[str]:
    """Every key with those above it, rows of lists as one."""
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from keys(inner, f"{path}.{key}".lstrip("."))
    elif isinstance(value, list) and any(isinstance(item, dict) for item in value):
        for item in value:
            yield from keys(item, f"{path}[]")
    else:
        yield path


@pytest.mark.parametrize("command", ["check", "close", "flows", "settings", "spread"])
def test_keys_are_those_that_are_stored(tall: str, command: str) -> None:
    ran = run(command, tall, "--json", *ALL_OF_IT.get(command, ()))
    assert ran.err == ""
    stored = json.loads(STORED.read_text(encoding="utf-8"))[command]
    assert sorted(set(keys(json.loads(ran.out)))) == stored


@pytest.mark.parametrize("words", [(), ("--print",)])
def test_keys_of_a_walk(tall: str, words: tuple[str, ...]) -> None:
    ran = run("tune", tall, "--json", *words)
    assert (ran.code, ran.err) == (0, "")
    stored = json.loads(STORED.read_text(encoding="utf-8"))[" ".join(("tune", *words))]
    assert sorted(set(keys(json.loads(ran.out)))) == stored


def test_keys_of_a_valve_that_is_stuck(tall: str) -> None:
    ran = run("close", tall, "--json", "--stuck", "return")
    assert (ran.code, ran.err) == (0, "")
    stored = json.loads(STORED.read_text(encoding="utf-8"))["close --stuck"]
    assert sorted(set(keys(json.loads(ran.out)))) == stored


def test_keys_of_a_water_change(tank: str) -> None:
    plan = Path(tank)
    plan.write_text(plan.read_text(encoding="utf-8") + RETURN, encoding="utf-8")
    ran = run("change", tank, "--json")
    assert (ran.code, ran.err) == (0, "")
    stored = json.loads(STORED.read_text(encoding="utf-8"))["change"]
    assert sorted(set(keys(json.loads(ran.out)))) == stored


def test_keys_of_drains() -> None:
    demo = Path(__file__).parents[2] / "pump_curves_demo" / "lagoon.toml"
    ran = run("drains", str(demo), "--json")
    assert ran.err == ""
    stored = json.loads(STORED.read_text(encoding="utf-8"))["drains"]
    assert sorted(set(keys(json.loads(ran.out)))) == stored


def test_keys_of_a_fit() -> None:
    demo = Path(__file__).parents[2] / "pump_curves_demo"
    log = str(demo / "lagoon-readings.csv")
    ran = run("fit", str(demo / "lagoon.toml"), log, "--json", "--dry-run")
    assert (ran.code, ran.err) == (0, "")
    stored = json.loads(STORED.read_text(encoding="utf-8"))["fit"]
    assert sorted(set(keys(json.loads(ran.out)))) == stored


@pytest.mark.parametrize("command", ["buy", "cut"])
def test_keys_of_the_shopping_and_the_cuts(command: str) -> None:
    demo = Path(__file__).parents[2] / "pump_curves_demo" / "lagoon.toml"
    ran = run(command, str(demo), "--json")
    assert (ran.code, ran.err) == (0, "")
    stored = json.loads(STORED.read_text(encoding="utf-8"))[command]
    assert sorted(set(keys(json.loads(ran.out)))) == stored


@pytest.mark.parametrize("command", ["check", "close", "flows"])
def test_units_of_the_page_change_no_number(starter: str, command: str) -> None:
    def numbers(*words: str) -> list[Any]:
        found = json.loads(run(command, starter, "--json", *words).out)
        return [value for value in leaves(found) if not isinstance(value, str)]

    assert numbers() == numbers("--units", "metric")


def test_units_of_the_page_turn_no_handle(starter: str) -> None:
    def handles(*words: str) -> Any:
        return json.loads(run("settings", starter, "--json", *words).out)["handles"]

    def marks(*words: str) -> list[float]:
        return [handle["mark"] for handle in handles(*words)]

    assert marks() == pytest.approx(marks("--units", "metric"), abs=1e-9)


def leaves(value: Any) -> Iterator[Any]:
    if isinstance(value, dict):
        for inner in value.values():
            yield from leaves(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from leaves(inner)
    else:
        yield value


def test_keys_of_an_outage(tmp_path: Path) -> None:
    plan = tmp_path / "plant.toml"
    plan.write_text(PLANT + BOX, encoding="utf-8")
    ran = run("outage", str(plan), "--json")
    assert (ran.code, ran.err) == (0, "")
    stored = json.loads(STORED.read_text(encoding="utf-8"))["outage"]
    assert sorted(set(keys(json.loads(ran.out)))) == stored
