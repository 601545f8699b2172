"""`balance drains`, from the words of the command line to its exit code."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from balance.plan.read import read
from balance.questions.drains import drains
from balance.show.drains import show
from tests.cli.session import run
from tests.questions.drains.plans import TANK, box, drain, siphon, trio

DEMO = Path(__file__).parents[2] / "pump_curves_demo"
LAGOON, FISH_ROOM = str(DEMO / "lagoon.toml"), str(DEMO / "fish-room.toml")

WIDE = (
    siphon(open_="2.4 turns")
    + drain("trickle", role="trickle", inlet="52 in", size="2 in")
    + drain("emergency", role="emergency", inlet="53 in", size="3 in")
)


@pytest.fixture
def safe(tmp_path: Path) -> str:
    """A plan in which no single blockage floods anything."""
    path = tmp_path / "safe.toml"
    path.write_text(TANK + box() + WIDE, encoding="utf-8")
    return str(path)


@pytest.fixture
def narrow(tmp_path: Path) -> str:
    """One whose emergency is too narrow for what the siphon carries."""
    path = tmp_path / "narrow.toml"
    path.write_text(
        TANK + box() + trio(open_="2.4 turns").replace("3 in sch 40", "1 in sch 40"),
        encoding="utf-8",
    )
    return str(path)


def test_exit_codes_and_the_verdict_first(safe: str, narrow: str) -> None:
    good = run("drains", safe, "--speed", "100 %")
    assert (good.code, good.err) == (0, "")
    assert good.out.splitlines()[2].startswith("No single blocked drain floods anything, and")
    bad = run("drains", narrow)
    assert (bad.code, bad.err) == (1, "")
    said = " ".join(bad.out.split())
    assert said.index("A single blocked drain MAY FLOOD tank.") < 250
    assert "- tank MAY FLOOD with siphon blocked, as it stands: " in bad.out


def test_what_floods_with_nothing_blocked_is_told_first(tmp_path: Path) -> None:
    path = tmp_path / "high.toml"
    path.write_text(
        TANK + box(rim="54 in") + drain("high", role="open", inlet="55 in"), encoding="utf-8"
    )
    ran = run("drains", str(path))
    assert ran.code == 1
    assert ran.out.splitlines()[2] == "box FLOODS with nothing blocked, as it stands."


def test_what_would_be_carried_running_full_is_told_beside_what_is_counted_on(
    tmp_path: Path,
) -> None:
    path = tmp_path / "thin.toml"
    path.write_text(
        TANK
        + box()
        + siphon(inlet="52 in")
        + drain("standpipe", role="open", inlet="52 in")
        + drain("emergency", role="emergency", inlet="53 in"),
        encoding="utf-8",
    )
    out = " ".join(run("drains", str(path), "--speed", "100 %").out.split())
    assert "tank MAY FLOOD" in out
    assert "more than is counted on with air; running full they would carry " in out
    assert "before it runs over, these may run full too: standpipe " in out
    assert "there is no trickle: emergency would run all the time" not in out


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--vessel", "lagon box"), '"lagoon box"'),
        (("--vessel", "sump"), '"sump" has no drains'),
        (("--set", "lagoon siphon"), "is not a valve and its opening"),
        (("--speed", "fast"), "--speed"),
    ],
)
def test_bad_words_are_told(words: tuple[str, ...], said: str) -> None:
    ran = run("drains", LAGOON, *words)
    assert (ran.code, ran.out) == (2, "")
    assert said in ran.err


def test_a_plan_without_drains_is_told(starter: str) -> None:
    ran = run("drains", starter)
    assert (ran.code, ran.out) == (2, "")
    assert "[[drains]]" in ran.err


def test_every_page_fits(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], narrow: str
) -> None:
    for file, vessel in ((LAGOON, None), (FISH_ROOM, "tank 4"), (narrow, None)):
        answer = drains(read(Path(file)), vessel=vessel)
        for width in (60, 120):
            monkeypatch.setenv("COLUMNS", str(width))
            show(answer)
            out = capsys.readouterr().out
            assert max(map(len, out.splitlines())) <= min(width, 100)
            assert "safe" in out  # the last column of the drains


def test_the_gate_is_told_with_its_window_and_when_to_stop(safe: str) -> None:
    out = " ".join(run("drains", safe).out.split())
    assert "trim until the trickle just runs" in out
    assert "its window is " in out
    assert "mm) of water" in out
    assert "the inflow may fall by " in out
    at_full_speed = " ".join(run("drains", safe, "--speed", "100 %").out.split())
    assert "it is inside the window: trickle carries" in at_full_speed
    assert "it is too far open: trickle is dry" in out
    assert "at this mark no single blocked drain floods anything" in at_full_speed


def test_what_floods_at_the_mark_that_is_told_is_said_first(narrow: str) -> None:
    out = " ".join(run("drains", narrow, "--set", "siphon=full").out.split())
    assert "- at this mark tank MAY FLOOD with nothing blocked, at full pump speed: " in out
    assert out.index("At the mark told below tank MAY FLOOD with nothing blocked, at full") < 250


def test_one_vessel_is_shown_in_full_and_many_in_brief() -> None:
    one = run("drains", FISH_ROOM, "--vessel", "tank 4").out
    every = run("drains", FISH_ROOM).out
    assert "As it runs" in one
    assert "As it runs" not in every
    assert '--vessel "tank 4" shows that one in full.' in every
    assert all(f"tank {n}" in every for n in range(1, 7))
    # Like tanks of a tier are told once.
    assert every.count("How far the water stays below the rim") == 2
    assert "are like it; here most may come" in every
    assert "tank 5" not in one.replace("feed 5", "")


def test_json_carries_every_case_and_the_lines(narrow: str) -> None:
    answer = json.loads(run("drains", narrow, "--json").out)
    (vessel,) = answer["vessels"]
    assert len(vessel["cases"]) == 33  # 4 without the siphon, 7 in all with 3 more not full
    for case in vessel["cases"]:
        carried = sum(each["flow_l_per_h"] for each in case["drains"])
        over = case["overflow_l_per_h"]
        assert carried + over == pytest.approx(case["inflow_l_per_h"], rel=1e-8)
    for line in vessel["lines"]:
        assert len(line["inflow_l_per_h"]) == len(line["level_m"]) > 1
    assert answer["safe"] is False


def test_setting_the_gate_to_the_mark_that_is_told_puts_it_inside(narrow: str) -> None:
    gate = json.loads(run("drains", narrow, "--json").out)["vessels"][0]["gates"][0]
    turns = 6.0 * gate["aim"]["opening_percent"] / 100.0
    again = json.loads(run("drains", narrow, "--set", f"siphon={turns:.6f} turns", "--json").out)
    now = again["vessels"][0]["gates"][0]
    assert now["state"] == "inside"
    assert now["now"]["level_m"] == pytest.approx(gate["aim"]["level_m"], abs=1e-5)
