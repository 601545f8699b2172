"""Curves named on a command line: a family from its files, and all their faults at once."""

from __future__ import annotations

from pathlib import Path

import pytest

from balance.errors import Fault, PlanError, QuantityError
from balance.plan.curve_words import curve_family, family_words, split_word

GOOD = "flow_gph,head_ft,power_w\n0,13,35\n600,9,42\n1200,0,45\n"


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    for name in ("full.csv", "slow.csv", "my@pump.csv"):
        (tmp_path / name).write_text(GOOD, encoding="utf-8")
    return tmp_path


def faults(*words: str) -> tuple[Fault, ...]:
    with pytest.raises(PlanError) as caught:
        curve_family(words)
    return caught.value.faults


@pytest.mark.parametrize(
    ("word", "file", "speed"),
    [
        ("full.csv", "full.csv", None),
        ("full.csv@60%", "full.csv", 0.6),
        ("full.csv@ 60 %", "full.csv", 0.6),
        ("elsewhere/x.csv@112.5 %", "elsewhere/x.csv", 1.125),
        ("my@pump.csv", "my@pump.csv", None),
        ("my@pump.csv@60%", "my@pump.csv", 0.6),
        ("your@pump.csv", "your@pump.csv", None),  # is not there, but is no speed either
    ],
)
def test_a_word_is_a_file_and_perhaps_a_speed(
    folder: Path, word: str, file: str, speed: float | None
) -> None:
    assert split_word(word) == (Path(file), speed)


def test_a_file_that_is_there_by_the_whole_word_is_that_file(folder: Path) -> None:
    (folder / "full.csv@60%").write_text(GOOD, encoding="utf-8")
    assert split_word("full.csv@60%") == (Path("full.csv@60%"), None)


@pytest.mark.parametrize(
    ("word", "said"),
    [
        ("full.csv@", "no speed beside its @"),
        ("@60%", "no file beside its @"),
        ("full.csv@60", "has no unit"),
        ("full.csv@60 gph", "is a flow"),
        ("full.csv@0 %", "no speed of a pump that turns"),
        ("full.csv@-60 %", "no speed of a pump that turns"),
        ("full.csv@900 %", "no speed of a pump that turns"),
    ],
)
def test_what_is_no_speed_says_how_it_is_written(folder: Path, word: str, said: str) -> None:
    with pytest.raises(QuantityError, match=said) as caught:
        split_word(word)
    assert caught.value.remedy.endswith('.csv@60%"')


def test_a_family_comes_by_falling_speed(folder: Path) -> None:
    family = curve_family(["slow.csv@40 %", "full.csv", "my@pump.csv@70%"])
    assert [points.speed for points in family] == pytest.approx([1.0, 0.7, 0.4])
    assert [points.curve.name for points in family] == ["full", "my@pump", "slow"]


def test_two_curves_at_one_speed_are_refused_with_the_way_out(folder: Path) -> None:
    (fault,) = faults("full.csv", "my@pump.csv@100 %")
    assert fault.problem == 'a second curve at 100 % speed, beside "full.csv"'
    assert '"my@pump.csv@60%"' in fault.remedy
    assert "several pumps are compared by `balance pumps PLAN FILE...`" in fault.remedy


def test_many_curves_at_one_speed_are_one_fault(folder: Path) -> None:
    (fault,) = faults("full.csv", "slow.csv", "my@pump.csv", "full.csv")
    assert fault.problem == 'a second curve at 100 % speed, beside "full.csv" and 2 more'


@pytest.mark.parametrize(
    ("word", "files"),
    [
        ("full.csv", ["full.csv"]),
        ("full.csv+slow.csv@60%", ["full.csv", "slow.csv@60%"]),
        ("slow.csv@60%+full.csv", ["slow.csv@60%", "full.csv"]),
        ("slow@60 % + FULL.CSV + x.csv@40%", ["slow@60 %", "FULL.CSV", "x.csv@40%"]),
        ("a+b.csv+c+d.csv@60%", ["a+b.csv", "c+d.csv@60%"]),
        ("full.csv@+60%", ["full.csv@+60%"]),
        ("one.csv+two.csv", ["one.csv+two.csv"]),  # is there
        ("slow.csv@60%+", ["slow.csv@60%", ""]),
    ],
)
def test_a_plus_stands_between_the_files_of_one_pump(
    folder: Path, word: str, files: list[str]
) -> None:
    (folder / "one.csv+two.csv").write_text(GOOD, encoding="utf-8")
    assert family_words(word) == files


def test_a_family_is_the_same_by_blanks_and_by_a_plus(folder: Path) -> None:
    for words in (["full.csv", "slow.csv@60%"], ["slow.csv@60%+full.csv"]):
        family = curve_family(words)
        assert [(points.curve.name, points.speed) for points in family] == [
            ("full", 1.0),
            ("slow", 0.6),
        ]


def test_a_plan_is_told_from_a_curve(folder: Path) -> None:
    (folder / "tank.toml").write_text('title = "Tank"\n[vessels.sump]\nlevel = "9 in"\n')
    (fault,) = faults("tank.toml")
    assert fault.problem == "this is a plan, and a pump curve is wanted"
    (gone,) = faults("gone.toml")
    assert gone.problem == "there is no such file"


def test_all_faults_of_all_words_and_files_come_at_once(folder: Path) -> None:
    (folder / "full.csv").write_text(GOOD.replace("9", "nine").replace("0,13", "x,13"))
    (folder / "slow.csv").write_text("flow_gph,head_ft\n0,13\n600,9\n")
    (folder / "sub").mkdir()
    found = faults(
        "full.csv", "slow.csv@60%", "gone.csv@50%", "sub@40%", "my@pump.csv@", "my@pump.csv@60%"
    )
    assert [(fault.file, fault.line) for fault in found] == [
        ("full.csv", 2),
        ("full.csv", 3),
        ("slow.csv", 3),
        ("gone.csv", None),
        ("sub", None),
        ("my@pump.csv@", None),
        ("my@pump.csv@60%", None),  # a second curve at 60 %
    ]
    assert found[0].path == "column 1 (flow_gph)"
    assert "three points" in found[2].problem
    assert found[3].problem == "there is no such file"
    assert found[3].remedy == "file names count from the folder you are in"
    assert found[4].problem == "this is a folder"
    assert "`balance pumps PLAN FOLDER`" in found[4].remedy


def test_files_of_one_name_are_told_apart_by_their_folders(folder: Path) -> None:
    for name in ("a", "b"):
        (folder / name).mkdir()
        (folder / name / "pump.csv").write_text("flow_gph\n", encoding="utf-8")
    files = {fault.file for fault in faults("a/pump.csv", "b/pump.csv@60%")}
    assert files == {str(Path("a/pump.csv")), str(Path("b/pump.csv"))}
