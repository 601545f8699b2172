"""`balance close`, from the words of the command line to its exit code."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from balance.plan.read import read
from balance.questions.settings import settings
from tests.cli.session import run

DEMO = Path(__file__).parents[2] / "pump_curves_demo"
LAGOON, FISH_ROOM = str(DEMO / "lagoon.toml"), str(DEMO / "fish-room.toml")


@pytest.mark.parametrize(
    ("words", "code"),
    [
        ((LAGOON,), 1),  # the steriliser rises above its limit with lagoon right shut
        ((LAGOON, "carbon reactor"), 0),
        ((LAGOON, "lagoon right"), 1),
        ((FISH_ROOM, "--pairs"), 0),
        ((LAGOON, "--matrix"), 0),
        ((LAGOON, "carbon rector"), 2),
        ((LAGOON, "ultraviolet", "--to", "30 deg"), 2),
        ((LAGOON, "--clog", "carbon reactor"), 2),
        ((LAGOON, "--clog", "carbon reactor=much"), 2),
        ((LAGOON, "--clog", "carbon reactor=50 %"), 0),
    ],
)
def test_exit_codes(words: tuple[str, ...], code: int) -> None:
    ran = run("close", *words)
    assert ran.code == code
    assert bool(ran.err) == (code == 2)


def test_bad_clogs_say_what_to_write() -> None:
    ran = run("close", LAGOON, "--clog", "carbon reactor")
    assert 'write --clog "carbon reactor=50 %"' in ran.err
    assert run("close", LAGOON, "--clog", "x=50 gph").err.startswith('balance: --clog "x=50 gph"')


def test_every_page_fits_eighty_columns(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("COLUMNS", raising=False)
    for words in (
        (LAGOON, "--pairs"),
        (FISH_ROOM,),
        (LAGOON, "riser"),
        (LAGOON, "--also", "returns"),
    ):
        out = run("close", *words).out
        assert max(map(len, out.splitlines())) <= 80


def test_clogs_may_be_several_in_one_and_stand_beside_names() -> None:
    clogs = "carbon reactor=50 %, refugium=20 %"
    ran = run("close", LAGOON, "sump stir", "--clog", clogs, "--json")
    (case,) = json.loads(ran.out)["cases"]
    done = {each["name"]: (each["what"], each["more_percent"]) for each in case["done"]}
    assert done == {
        "sump stir": ("shut", None),
        "carbon reactor": ("clogged", 50.0),
        "refugium": ("clogged", pytest.approx(20.0)),
    }


def test_json_has_every_pair_and_the_page_the_worst() -> None:
    pairs = json.loads(run("close", FISH_ROOM, "--pairs", "--json").out)["pairs"]
    assert len(pairs) == 15
    page = run("close", FISH_ROOM, "--pairs").out
    assert "All 15 pairs are solved; none of them breaks anything. The worst:" in page
    rises = [max(branch["by_percent"] for branch in pair["branches"]) for pair in pairs]
    assert rises == sorted(rises, reverse=True)


def test_from_settings_begins_at_the_marks() -> None:
    answer = json.loads(run("close", LAGOON, "refugium", "--settings", "--json").out)
    (case,) = answer["cases"]
    marks = settings(read(LAGOON))
    before = [branch["before_l_per_h"] for branch in case["branches"]]
    assert before == pytest.approx([branch.flow * 3.6e6 for branch in marks.branches], abs=1e-6)


def test_a_riser_that_is_shut_tells_of_the_tank_that_runs_back() -> None:
    page = run("close", LAGOON, "riser").out
    assert "- seagrass return runs BACKWARDS, 203 gph" in page
    assert "- main turns and moves no water, at 8.3 ft of head" in page


def test_two_pumps_have_a_table_of_their_own(tmp_path: Path) -> None:
    text = (DEMO / "lagoon.toml").read_text("utf-8").replace('"demo-', f'"{DEMO.as_posix()}/demo-')
    second = """[pumps.second]
curve = "{}/demo-dc-40.csv"
from = "sump"
to = "riser foot"
speed = "80 %"

"""
    text = text.replace("[power]", second.format(DEMO.as_posix()) + "[power]")
    plan = tmp_path / "two.toml"
    plan.write_text(text, encoding="utf-8")
    out = run("close", str(plan)).out
    assert "\nPumps\n" in out
    assert "main" in out
    assert "second" in out
    assert "BACK through it: a check valve\n  behind it is missing" in out


def test_holding_is_told_where_branches_are_named_or_it_is_asked_for() -> None:
    def told(*words: str) -> list[bool]:
        cases = json.loads(run("close", LAGOON, *words, "--json").out)["cases"]
        return [case["holding"] is not None for case in cases]

    assert told("carbon reactor") == [True]
    assert told() == [False] * 8
    assert told("--hold") == [True] * 8


def test_marks_are_those_that_holding_moves_to() -> None:
    words = ("lagoon left", "--settings", "--marks", "4 deg", "--json")
    (case,) = json.loads(run("close", LAGOON, *words).out)["cases"]
    (turn,) = case["holding"]["single"]["turns"]
    assert turn["handle"] == "degrees"
    assert turn["mark"] / 4.0 == pytest.approx(round(turn["mark"] / 4.0))


def test_settings_begin_at_the_marks_that_are_asked_for() -> None:
    words = ("refugium", "--settings", "--marks", "5 deg", "--json")
    (case,) = json.loads(run("close", LAGOON, *words).out)["cases"]
    (done,) = case["done"]
    assert done["name"] == "refugium"
    degrees = 0.9 * done["stood_percent"]
    assert degrees / 5.0 == pytest.approx(round(degrees / 5.0))


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--marks", "5"), '"5" is no distance between marks'),
        (("--to", "30"), 'write "45 deg"'),
        (("--to", "120 deg"), 'the most is "90 deg"'),
    ],
)
def test_marks_are_refused_without_names_as_with_them(words: tuple[str, ...], said: str) -> None:
    ran = run("close", LAGOON, *words)
    assert (ran.code, ran.out) == (2, "")
    assert said in ran.err
