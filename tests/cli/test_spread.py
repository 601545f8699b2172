"""`balance spread`, from the words of the command line to its page."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.cli.session import run

DEMO = Path(__file__).parents[2] / "pump_curves_demo"
LAGOON, FISH_ROOM = str(DEMO / "lagoon.toml"), str(DEMO / "fish-room.toml")
FEW = ("--systems", "500")


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (FEW, 0),
        ((*FEW, "--settings"), 0),
        ((*FEW, "--clog", "carbon reactor=30 %"), 0),
        ((*FEW, "--clog", "carbon reactor"), 2),
        ((*FEW, "--clog", "carbon rector=30 %"), 2),
        (("--systems", "99"), 2),
        (("--systems", "1000001"), 2),
        ((*FEW, "--seed", "-1"), 2),
    ],
)
def test_exit_codes(words: tuple[str, ...], code: int) -> None:
    ran = run("spread", LAGOON, *words)
    assert ran.code == code
    assert bool(ran.err) == (code == 2)


@pytest.mark.parametrize("units", ["us", "imperial", "metric"])
@pytest.mark.parametrize("plan", [LAGOON, FISH_ROOM])
def test_every_page_fits_eighty_columns(
    monkeypatch: pytest.MonkeyPatch, plan: str, units: str
) -> None:
    monkeypatch.delenv("COLUMNS", raising=False)
    for words in ((), ("--settings",)):
        out = run("spread", plan, *FEW, "--units", units, *words).out
        assert max(map(len, out.splitlines())) <= 80
        assert "doubts as in [spread]" in " ".join(out.split())


def test_the_same_seed_is_the_same_answer() -> None:
    first, again, other = (
        run("spread", FISH_ROOM, *FEW, "--json", "--seed", seed).out for seed in ("3", "3", "4")
    )
    assert first == again
    assert first != other


def test_a_plan_that_misses_without_any_doubt_is_pointed_at_settings() -> None:
    words = "--settings begins there"
    assert words in " ".join(run("spread", LAGOON, *FEW).out.split())
    assert words not in " ".join(run("spread", LAGOON, *FEW, "--settings").out.split())


def test_a_clog_takes_its_share() -> None:
    def flow(*words: str) -> float:
        answer = json.loads(run("spread", LAGOON, *FEW, "--json", *words).out)
        rows = {band["name"]: band for band in answer["before"]["branches"]}
        return float(rows["carbon reactor"]["middle_l_per_h"])

    assert flow("--clog", "carbon reactor=100 %") < 0.95 * flow()
    page = " ".join(run("spread", LAGOON, *FEW, "--clog", "carbon reactor=30 %").out.split())
    assert ": how sure all this is, carbon reactor losing 30 % more Chance" in page


def test_chances_are_told_first() -> None:
    lines = run("spread", LAGOON, *FEW, "--settings").out.splitlines()
    assert lines[0] == "Lagoon and seagrass system: how sure all this is"
    assert lines[2].startswith("Chance that all 9 targets at once are within tolerance: ")
    assert lines[3].startswith("Chance that no limit is broken: ")
