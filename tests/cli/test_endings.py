"""Exit codes, and which stream says what."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from balance.errors import SolveError
from tests.cli.conftest import changed
from tests.cli.session import run

ROOT = Path(__file__).parents[2]
ANSI = re.compile(r"\x1b\[")


@pytest.mark.parametrize("command", ["check", "flows", "settings"])
def test_an_answer_ends_with_0_on_standard_output_alone(starter: str, command: str) -> None:
    ran = run(command, starter)
    assert (ran.code, ran.err) == (0, "")
    assert ran.out.startswith("My tank and its sump: ")
    assert not ANSI.search(ran.out)
    assert all(len(line) <= 80 and line == line.rstrip() for line in ran.out.splitlines())


@pytest.mark.parametrize("command", ["check", "flows", "settings"])
@pytest.mark.parametrize("units", ["us", "imperial", "metric"])
def test_units_of_the_page(starter: str, command: str, units: str) -> None:
    ran = run(command, starter, "--units", units)
    assert ran.code == 0
    words = {"us": "gph", "imperial": "imp gph", "metric": "L/h"}
    assert words[units] in ran.out
    assert ("gph" in ran.out) == (units != "metric")


def test_targets_out_of_reach_end_with_1_and_say_what_is_missing(greedy: str) -> None:
    ran = run("settings", greedy)
    assert (ran.code, ran.err) == (1, "")
    assert "What cannot be met" in ran.out
    assert "What stands in the way" in ran.out


def test_what_is_not_safe_ends_with_1(starter: str) -> None:
    plan = changed(
        starter,
        '{ outlet = "submerged", depth = "0.75 in" }',
        '{ outlet = "submerged", height = "59 in" }',
    )
    ran = run("check", plan)
    assert (ran.code, ran.err) == (1, "")
    assert "NOT SAFE" in ran.out


def test_a_column_that_breaks_ends_with_1(starter: str) -> None:
    plan = changed(starter, 'name = "return"\n', 'name = "return"\nhigh_point = "40 ft"\n')
    ran = run("flows", plan)
    assert (ran.code, ran.err) == (1, "")
    assert "THE COLUMN BREAKS" in ran.out
    assert "not to be believed" in ran.out


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["flows", "nowhere.toml"], "there is no such file"),
        (["flows", "plan.toml", "--set", "retrn=30 deg"], 'try "return"'),
        (["flows", "plan.toml", "--set", "return=95 deg"], "beyond full"),
        (["flows", "plan.toml", "--set", "return"], 'write --set "reactor=30 deg"'),
        (["flows", "plan.toml", "--set", "=30 deg"], "not a valve and its opening"),
        (["flows", "plan.toml", "--speed", "mian=70 %"], 'try "main"'),
        (["flows", "plan.toml", "--speed", "70"], "has no unit"),
        (["flows", "plan.toml", "--speed", "900 %"], "is no speed"),
        (["settings", "plan.toml", "--marks", "5 gal"], "no distance between marks"),
        (["settings", "plan.toml", "--volume", "5 ft"], "is a length"),
        (["flows", "plan.toml", "--units", "roman"], "roman"),
        (["flows", "plan.toml", "--unit", "us"], "--units"),
        (["flow", "plan.toml"], "flows"),
        (["flows"], "PLAN"),
        (["new", "plan.toml"], "--force"),
        (["new", "no folder/plan.toml"], "cannot be written"),
    ],
)
def test_bad_words_end_with_2_on_standard_error(starter: str, words: list[str], said: str) -> None:
    ran = run(*words)
    assert (ran.code, ran.out) == (2, "")
    assert said in ran.err
    assert "Traceback" not in ran.err


def test_a_bad_plan_ends_with_2_and_tells_every_fault(starter: str) -> None:
    changed(starter, 'target = "400 gph"', 'target = "400"')
    changed(starter, 'rim = "58 in"', 'rimm = "58 in"')
    ran = run("check", starter, "--json")
    assert (ran.code, ran.out) == (2, "")
    assert ran.err.count("plan.toml:") == 2


def test_a_solve_that_fails_ends_with_3(starter: str, monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(_: object) -> None:
        raise SolveError("riser", 0.25, 60)

    monkeypatch.setattr("balance.questions.flows.flows", fail)
    ran = run("flows", starter)
    assert (ran.code, ran.out) == (3, "")
    assert "riser" in ran.err


def test_a_draw_that_nothing_feeds_ends_with_3(starter: str) -> None:
    changed(starter, "[[headers]]", '[joints."manifold start"]\ndraw = "50 gph"\n\n[[headers]]')
    changed(starter, '{ pipe = "1 in sch 40", length = "20 in" },', '{ valve = "ball" },')
    ran = run(
        "flows", starter, "--set", "riser=shut", "--set", "reactor=shut,refugium=shut,return=shut"
    )
    assert (ran.code, ran.out) == (3, "")
    assert "manifold start" in ran.err


def test_what_nobody_foresaw_is_one_plain_message(
    starter: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(_: object) -> None:
        raise ZeroDivisionError("by zero")

    monkeypatch.setattr("balance.questions.flows.flows", fail)
    ran = run("flows", starter)
    assert (ran.code, ran.out) == (3, "")
    assert "ZeroDivisionError: by zero" in ran.err
    assert "Traceback" not in ran.err
    monkeypatch.setenv("BALANCE_DEBUG", "1")
    assert "Traceback" in run("flows", starter).err


def test_an_interrupt_ends_with_130(starter: str, monkeypatch: pytest.MonkeyPatch) -> None:
    def stop(_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("balance.questions.flows.flows", stop)
    ran = run("flows", starter)
    assert (ran.code, ran.out) == (130, "")


def spawned(words: list[str], cwd: Path, **environment: str) -> subprocess.Popen[bytes]:
    return subprocess.Popen(
        [sys.executable, "-m", "balance", *words],
        cwd=cwd,
        env={**os.environ, "PYTHONPATH": str(ROOT), **environment},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    )


def test_a_reader_that_leaves_is_met_with_silence(starter: str, tmp_path: Path) -> None:
    process = spawned(["flows", starter, "--json"], tmp_path)
    assert process.stdout is not None
    process.stdout.close()
    _, err = process.communicate(timeout=60)
    assert (process.returncode, err) == (0, b"")


def test_a_character_that_the_stream_lacks_is_replaced(starter: str, tmp_path: Path) -> None:
    changed(starter, 'title = "My tank and its sump"', 'title = "Mein Becken, größer"')
    process = spawned(["settings", starter], tmp_path, PYTHONIOENCODING="ascii")
    out, err = process.communicate(timeout=60)
    assert (process.returncode, err) == (0, b"")
    assert out.startswith(b"Mein Becken, gr??er")


def test_help_is_help() -> None:
    for words in (["--help"], ["-h"], ["settings", "-h"]):
        ran = run(*words)
        assert (ran.code, ran.err) == (0, "")
        assert "Usage: balance" in ran.out


def test_version() -> None:
    ran = run("--version")
    assert ran.code == 0
    assert re.fullmatch(r"\d+\.\d+\.\d+\n|not installed.*\n", ran.out)
