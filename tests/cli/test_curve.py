"""`balance curve`: a page that fits wherever it is printed, and faults told all at once."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from balance.plan.curve_words import curve_family
from balance.questions.curve import curve
from tests.cli.session import run
from tests.cli.test_endings import ANSI, spawned
from tests.cli.test_json import STORED, keys

DEMO = Path(__file__).parents[2] / "pump_curves_demo"
RATED = "flow_gph,head_ft,power_w\n0,11,26\n600,9.2,45\n1200,4,57\n1500,0,60\n"
SLOW = "flow_gph,head_ft\n0,3.8\n360,3.2\n700,1.4\n880,0\n"
HUMP = "flow_gph,head_ft\n0,10\n200,11.5\n400,12\n900,9\n1500,1\n"


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("COLUMNS", raising=False)
    for name, text in (("full", RATED), ("slow", SLOW), ("hump", HUMP), ("my@pump", RATED)):
        (tmp_path / f"{name}.csv").write_text(text, encoding="utf-8")
    return tmp_path


@pytest.mark.parametrize(
    "words",
    [
        ["full.csv"],
        ["full.csv", "slow.csv@60%"],
        ["hump.csv", "--units", "metric"],
        ["full.csv", "slow.csv@60%", "--units", "imperial"],
        ["my@pump.csv", "--speeds", "100 %, 62.5%"],
    ],
)
@pytest.mark.parametrize("columns", ["", "60", "80", "100"])
def test_the_page_is_plain_text_as_wide_as_it_may_be(
    folder: Path, monkeypatch: pytest.MonkeyPatch, words: list[str], columns: str
) -> None:
    if columns:
        monkeypatch.setenv("COLUMNS", columns)
    ran = run("curve", *words)
    assert (ran.code, ran.err) == (0, "")
    assert not ANSI.search(ran.out)
    width = int(columns or 80)
    assert [line for line in ran.out.splitlines() if len(line) > width] == []
    assert all(line == line.rstrip() for line in ran.out.splitlines())


@pytest.mark.parametrize("name", sorted(path.name for path in DEMO.glob("demo-*.csv")))
def test_every_demo_curve(folder: Path, name: str) -> None:
    ran = run("curve", str(DEMO / name))
    assert (ran.code, ran.err) == (0, "")
    assert ran.out.startswith(f"{name.removesuffix('.csv')}: what this pump can do\n")
    assert "passes through all points as measured" in ran.out
    assert "Notes" not in ran.out


def test_the_page_says_what_matters(folder: Path) -> None:
    out = " ".join(run("curve", "full.csv").out.split())
    for said in (
        "shut-off head 11.0 ft, run-out 1500 gph",
        "presses with 4.8 psi",
        "(wire to water); it runs well from",
        "head, ft ⠤⠤⠤ used ··· at 70 % +++ at 40 % ● as measured",
        "all but 2.6 W of standby",
        "ISO 9906 grade 3B",
        "dead-headed pump heats",
    ):
        assert said in out
    assert "by the laws" not in out  # all but one row would say so
    assert "Points as measured" not in out


def test_a_family_shows_its_curves_and_what_each_speed_stands_on(folder: Path) -> None:
    out = run("curve", "full.csv", "slow.csv@60%", "--speeds", "100 %,80 %,60 %,40 %").out
    assert "● measured at 100 %   ○ measured at 60 %" in out
    rows = [line.split() for line in out.splitlines() if re.match(r" *\d+ % .*[a-z]$", line)]
    assert [(row[0], " ".join(row[-2:])) for row in rows] == [
        ("100", "% measured"),
        ("80", "between two"),
        ("60", "% measured"),
        ("40", "the laws"),
    ]


def test_a_hump_shows_what_was_measured_beside_what_is_used(folder: Path) -> None:
    out = " ".join(run("curve", "hump.csv").out.split())
    assert "shut-off head 12.1 ft as used, 10.0 ft as measured (see Notes)" in out
    assert "0 10.0 12.1 -17.1 %" in out
    assert "400 12.0 12.0 0 900 9.0 9.0 0" in out
    assert "it can settle at" in out


def test_a_curve_from_above_zero_flow_promises_no_dead_head(folder: Path) -> None:
    (folder / "late.csv").write_text("flow_gph,head_ft\n300,11.5\n600,10\n900,7\n1200,3\n")
    out = " ".join(run("curve", "late.csv").out.split())
    assert "shut-off head about 11.9 ft, at least the 11.5 ft measured at 300 gph" in out


def test_json_has_the_keys_that_are_stored(folder: Path) -> None:
    ran = run("curve", "full.csv", "slow.csv@60%", "--json")
    assert (ran.code, ran.err) == (0, "")
    found = json.loads(ran.out)
    assert sorted(set(keys(found))) == json.loads(STORED.read_text(encoding="utf-8"))["curve"]
    assert found == curve(curve_family(["full.csv", "slow.csv@60%"])).to_dict()
    assert json.loads(run("curve", "full.csv", "--json", "--units", "metric").out) == json.loads(
        run("curve", "full.csv", "--json").out
    )


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["gone.csv"], "gone.csv: there is no such file"),
        (["sub"], "sub: this is a folder"),
        (["binary.csv"], "binary.csv: this is not a text file"),
        (["wide.csv"], "wide.csv:1: column 2 (head_gph)"),
        (["short.csv"], "short.csv:3: a curve needs at least three points"),
        (["rising.csv"], "rises to its last point"),
        (["full.csv", "slow.csv"], 'a second curve at 100 % speed, beside "full.csv"'),
        (["full.csv@60"], '"60" has no unit'),
        (["full.csv@60 ft"], "is a length"),
        (["full.csv@"], "no speed beside its @"),
        (["full.csv", "--speeds", "80"], '--speeds "80": "80" has no unit'),
        (["full.csv", "--speeds", "80 %,"], '--speeds ""'),
        (["full.csv", "--speeds", "0 %"], "does not turn at 0 %"),
        (["full.csv", "--units", "roman"], "roman"),
        ([], "FILE"),
    ],
)
def test_bad_words_and_files_end_with_2(folder: Path, words: list[str], said: str) -> None:
    (folder / "sub").mkdir()
    (folder / "binary.csv").write_bytes(b"\x7fELF\0\0\1\2")
    (folder / "wide.csv").write_text("flow_gph,head_gph\n0,1\n")
    (folder / "short.csv").write_text("flow_gph,head_ft\n0,3\n9,1\n")
    (folder / "rising.csv").write_text("flow_gph,head_ft\n0,3\n9,4\n20,5\n")
    ran = run("curve", *words)
    assert (ran.code, ran.out) == (2, "")
    assert said in ran.err
    assert "Traceback" not in ran.err


def test_all_faults_of_all_files_come_at_once(folder: Path) -> None:
    (folder / "a.csv").write_text(RATED.replace("600", "many"))
    (folder / "b.csv").write_text(SLOW.replace("360,3.2", "360").replace("700", "100"))
    ran = run("curve", "a.csv", "b.csv@60%", "gone.csv@40%")
    assert ran.code == 2
    places = re.findall(r"^(?:balance: )?(\S+csv[:\d]*): ", ran.err, re.MULTILINE)
    assert places == ["a.csv:3", "b.csv:3", "gone.csv"]


def test_ascii_alone_where_the_stream_has_no_more(folder: Path) -> None:
    process = spawned(["curve", "full.csv"], folder, PYTHONIOENCODING="ascii")
    out, err = process.communicate(timeout=60)
    assert (process.returncode, err) == (0, b"")
    assert out.isascii()
    assert b"?" not in out
    assert b"... used" in out
    assert b"o as measured" in out


def test_a_reader_that_leaves_is_met_with_silence(folder: Path) -> None:
    process = spawned(["curve", "full.csv"], folder)
    assert process.stdout is not None
    process.stdout.close()
    _, err = process.communicate(timeout=60)
    assert (process.returncode, err) == (0, b"")
