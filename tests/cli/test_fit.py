"""`balance fit`, from the words of the command line to the fitted plan."""

from __future__ import annotations

import json
import re
import shutil
import tomllib
from pathlib import Path

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from balance.plan.read import read
from balance.plan.readings import read_readings
from tests.cli.session import Ran, run

ROOT = Path(__file__).parents[2]
DEMO = ROOT / "pump_curves_demo"
ROW = "lagoon left,2 gal,29.0 28.0 28.0,all=full; spare 1=shut; spare 2=shut\n"
HEAD = "branch,volume,seconds,open\n"


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The demo, in which the command runs."""
    shutil.copytree(DEMO, tmp_path, dirs_exist_ok=True)
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("COLUMNS", raising=False)
    return tmp_path


def fit(*words: str, log: str | None = None) -> Ran:
    if log is not None:
        Path("log.csv").write_text(log, encoding="utf-8")
    return run("fit", "lagoon.toml", "lagoon-readings.csv" if log is None else "log.csv", *words)


def test_a_new_name_each_time_and_nothing_is_overwritten(folder: Path) -> None:
    before = {path.name: path.read_bytes() for path in folder.iterdir()}
    for name in ("lagoon-fitted.toml", "lagoon-fitted-2.toml", "lagoon-fitted-3.toml"):
        ran = fit()
        assert (ran.code, ran.err) == (0, "")
        assert f"Written: {name}" in ran.out
        assert (folder / name).is_file()
    for name, content in before.items():
        assert (folder / name).read_bytes() == content
    assert len(list(folder.iterdir())) == len(before) + 3


def test_the_fitted_plan_is_the_plan_with_what_was_learnt(folder: Path) -> None:
    answer = json.loads(fit("--json").out)
    assert answer["written"] == "lagoon-fitted.toml"
    text = (folder / "lagoon-fitted.toml").read_text(encoding="utf-8")
    fitted = tomllib.loads(text)
    learnt = fitted.pop("learnt")
    assert fitted == tomllib.loads((folder / "lagoon.toml").read_text(encoding="utf-8"))
    assert learnt["readings"] == "lagoon-readings.csv"
    told = [(each["of"], each["name"]) for each in answer["numbers"] if each["told"]]
    assert [(each["of"], each.get("name", "")) for each in learnt["numbers"]] == told
    assert run("flows", "lagoon-fitted.toml").err == ""
    # A fit of the fitted plan counts no reading twice.
    again = json.loads(run("fit", "lagoon-fitted.toml", "lagoon-readings.csv", "--json").out)
    assert again["written"] == "lagoon-fitted-2.toml"
    assert again["numbers"] == answer["numbers"]


@pytest.mark.parametrize("there", ["lagoon.toml", "lagoon-readings.csv", "mine.toml"])
def test_a_file_that_is_there_stays(folder: Path, there: str) -> None:
    (folder / "mine.toml").write_text("# mine\n", encoding="utf-8")
    before = {path.name: path.read_bytes() for path in folder.iterdir()}
    ran = fit("--out", there)
    assert ran.code == 2
    assert f"{there} is there already and stays as it is; choose another name" in ran.err
    assert {path.name: path.read_bytes() for path in folder.iterdir()} == before


def test_a_name_of_ones_own_and_a_folder_that_is_not_the_plan_s(folder: Path) -> None:
    (folder / "elsewhere").mkdir()
    ran = fit("--out", "elsewhere/mine.toml")
    assert ran.code == 2
    assert "is not in the folder of lagoon.toml" in ran.err
    assert "Written: mine.toml" in fit("--out", "mine.toml").out
    assert (folder / "mine.toml").is_file()


def test_a_dry_run_writes_nothing(folder: Path) -> None:
    before = sorted(path.name for path in folder.iterdir())
    ran = fit("--dry-run")
    assert ran.code == 0
    assert "Written" not in ran.out
    assert json.loads(fit("--dry-run", "--json").out)["written"] is None
    assert sorted(path.name for path in folder.iterdir()) == before


@pytest.mark.parametrize(
    ("log", "said"),
    [
        ("", "log.csv"),
        (HEAD, "log.csv:1: no reading stands below the headings"),
        (HEAD + "# nothing yet\n", "log.csv:1: no reading stands below the headings"),
        (HEAD + "lagon left,2 gal,28,\n", 'log.csv:2: branch: there is no branch "lagon left"'),
        (HEAD + ROW + "refugium,1 gal,-3,\n", "log.csv:3: seconds: "),
        (HEAD + "spare 1,1 gal,30,\n", '"spare 1" is capped'),
    ],
)
def test_what_is_wrong_with_a_log_is_said(folder: Path, log: str, said: str) -> None:
    ran = fit(log=log)
    assert (ran.code, ran.out) == (2, "")
    assert said in ran.err
    assert not list(folder.glob("*-fitted*"))


def test_rows_with_faults_are_left_out_if_asked(folder: Path) -> None:
    log = HEAD + ROW + "refugium,1 gal,-3,\nlagon right,2 gal,34.4,\nlagoon right,2 gal,34.4,\n"
    assert fit(log=log).code == 2
    ran = fit("--keep-going", log=log)
    assert ran.code == 0
    out = " ".join(ran.out.split())
    assert "what 2 readings told" in out
    assert "Rows left out" in out
    assert "log.csv:3" in out
    assert "log.csv:4" in out
    none = fit("--keep-going", log=HEAD + "lagon right,2 gal,34.4,\n")
    assert none.code == 2
    assert "log.csv has no reading that can be used" in none.err


def test_a_plan_that_is_not_there(folder: Path) -> None:
    ran = run("fit", "none.toml", "lagoon-readings.csv")
    assert (ran.code, ran.out) == (2, "")
    assert "none.toml" in ran.err


def test_a_log_of_levels_alone(folder: Path) -> None:
    ran = fit(log="head,at\n44 in,riser\n43.5 in,riser 4\n")
    assert (ran.code, ran.err) == (0, "")
    assert "riser, part 2" in ran.out
    assert "riser, part 4" in ran.out


def test_levels_meters_and_watts_stand_with_their_units(folder: Path) -> None:
    log = "branch,flow,head,at,watts\nlagoon left,250 gph,,,\n,,44 in,riser,\n,,,,55 W\n"
    ran = fit(log=log)
    assert (ran.code, ran.err) == (0, "")
    assert "250 gph" in ran.out
    assert "44.0 in" in ran.out
    assert "55.0 W" in ran.out
    numbers = json.loads(fit("--json", log=log).out)["numbers"]
    assert "mains" in [number["of"] for number in numbers]


def test_a_flow_where_by_the_plan_there_is_none(folder: Path) -> None:
    ran = fit(log=HEAD + "refugium,1 gal,33,refugium=shut\n")
    assert (ran.code, ran.out) == (3, "")
    assert 'by the plan no water flows there, yet some was read: line 2, "refugium"' in ran.err


def test_a_slip_is_named_with_what_to_look_at(folder: Path) -> None:
    text = (folder / "lagoon-readings.csv").read_text(encoding="utf-8")
    again = "carbon reactor,1 gal,32.5 32.1 32.6,,,\n"
    log = text + again + "carbon reactor,1 gal,22.5 22.1 22.6,,,\n" + again
    ran = fit(log=log)
    assert ran.code == 0
    stray = " ".join(ran.out.split("Does not fit the rest")[1].split("What was learnt")[0].split())
    assert stray.startswith("- line 19, carbon reactor")
    assert "Read it again, or look what was written" in stray
    table = ran.out.split("Does not fit the rest")[0]
    assert [line.split()[0] for line in table.splitlines() if "does not fit" in line] == ["19"]


@pytest.mark.parametrize("units", ["us", "imperial", "metric"])
def test_the_page_fits_eighty_columns(folder: Path, units: str) -> None:
    out = fit("--dry-run", "--units", units).out
    assert max(map(len, out.splitlines())) <= 80
    said = " ".join(out.split())
    assert "Mains electricity stands beside salt water" in said
    assert "Give or take, and known to: two cases of three lie within so much" in said


def test_the_columns_that_the_page_shows_are_read(folder: Path) -> None:
    page = (ROOT / "docs" / "wet_test.md").read_text(encoding="utf-8")
    (example,) = re.findall(r"^```csv\n(.*?)^```$", page, re.MULTILINE | re.DOTALL)
    (folder / "log.csv").write_text(example, encoding="utf-8")
    rows = read_readings(folder / "log.csv", read(folder / "lagoon.toml")).rows
    assert len(rows) == len(example.splitlines()) - 1


CELLS = {
    "branch": ["", "lagoon left", "refugium", "spare 2", "sump stir"],
    "flow": ["", "100 gph", "0.001 gph", "90000 gph"],
    "open": ["", "all=full", "all=shut", "refugium=11 deg", "sump stir=+3 deg", "as planned"],
    "speed": ["", "0 %", "5 %", "100 %"],
    "head": ["", "45 in", "-3 in", "4000 in"],
    "at": ["", "riser", "lagoon left 4", "refugium"],
    "watts": ["", "1 W", "55 W", "100000 W"],
}


@example(rows=[("refugium", "100 gph", "refugium=11 deg", "0 %", "45 in", "refugium", "")])
@given(rows=st.lists(st.tuples(*map(st.sampled_from, CELLS.values())), min_size=1, max_size=5))
@settings(
    max_examples=8, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
def test_no_log_ends_in_a_traceback(folder: Path, rows: list[tuple[str, ...]]) -> None:
    log = ",".join(CELLS) + "\n" + "".join(",".join(row) + "\n" for row in rows)
    ran = fit("--keep-going", "--dry-run", log=log)
    assert ran.code in (0, 2, 3), ran.err
    assert "should not" not in ran.err
