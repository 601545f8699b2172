"""`balance buy`, from the words of the command line to its exit code."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import pytest

from tests.cli.session import run
from tests.questions.assembly.plans import fitting, pipe, plan

DEMO = Path(__file__).parents[2] / "pump_curves_demo"
LAGOON, PRICES = str(DEMO / "lagoon.toml"), str(DEMO / "lagoon-prices.csv")


@pytest.fixture
def small(tmp_path: Path) -> str:
    path = tmp_path / "small.toml"
    parts = fitting("union") + pipe("12 in") + fitting("elbow 90") + pipe("5 in")
    path.write_text(plan(parts=parts), encoding="utf-8")
    return str(path)


def test_the_page_has_its_bags_its_rule_and_what_was_forgotten() -> None:
    ran = run("buy", LAGOON)
    assert (ran.code, ran.err) == (0, "")
    lines = ran.out.splitlines()
    assert [line for line in lines if line.strip() in ("1/2 in", "3/4 in", "1 in", "2 in")]
    said = " ".join(ran.out.split())
    assert (
        "Spares: 20 % of fittings and hose clamps, whole ones, and at least one of each elbow"
        in said
    )
    assert "no second valve: change drain (" in said
    assert "each union has its seal in it: 1 of 1 1/4 in, 4 of 1 in, 3 of 3/4 in" in said
    assert "plastics-manual" in said
    assert "Cement and primer: windows open" in said
    assert "local codes" in said


def test_the_demo_s_price_list_names_only_what_is_on_the_list() -> None:
    ran = run("buy", LAGOON, "--prices", PRICES)
    assert "in the price list, but not on this one" not in ran.out
    answer = json.loads(run("buy", LAGOON, "--prices", PRICES, "--json").out)
    costs = [item["cost"] for item in answer["items"] if item["cost"] is not None]
    assert answer["total"] == pytest.approx(sum(costs))
    assert f"Together {sum(costs):.2f} USD" in " ".join(ran.out.split())
    assert len(costs) > 35


def test_csv_goes_into_a_spreadsheet_and_back(small: str, tmp_path: Path) -> None:
    ran = run("buy", small, "--csv")
    assert (ran.code, ran.err) == (0, "")
    rows = list(csv.DictReader(io.StringIO(ran.out)))
    assert [row["item"] for row in rows][:2] == ["elbow 90, 1 in sch 40", "union, 1 in"]
    filled = tmp_path / "filled.csv"
    with filled.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, rows[0].keys())
        writer.writeheader()
        writer.writerows({**row, "price": "2"} for row in rows)
    answer = json.loads(run("buy", small, "--prices", str(filled), "--json").out)
    assert answer["total"] == 2 * sum(int(row["buy"]) for row in rows)
    assert answer["without_price"] == 0


def test_a_bad_price_list_is_told_with_its_lines(small: str, tmp_path: Path) -> None:
    bad = tmp_path / "bad.csv"
    bad.write_text("item,price\nunion,cheap\ntee,-2\n", encoding="utf-8")
    ran = run("buy", small, "--prices", str(bad))
    assert (ran.code, ran.out) == (2, "")
    assert 'bad.csv:2: "cheap" is no price' in ran.err
    assert 'bad.csv:3: "-2" is no price' in ran.err
    assert run("buy", small, "--prices", str(tmp_path / "none.csv")).code == 2


def test_units_change_tins_and_hose_and_no_count(small: str) -> None:
    us, metric = (run("buy", small, "--units", units).out for units in ("us", "metric"))
    assert "solvent cement 4 fl oz" in us
    assert "solvent cement 125 mL" in metric


def test_a_plan_without_plumbing_has_a_short_list(tmp_path: Path) -> None:
    bare = tmp_path / "bare.toml"
    bare.write_text('[vessels.sump]\nlevel = "9 in"\n', encoding="utf-8")
    ran = run("buy", str(bare))
    assert (ran.code, ran.err) == (0, "")
    assert "There is nothing to buy" in ran.out
    assert "There is no pipe to cut" in run("cut", str(bare)).out


@pytest.mark.parametrize("width", ["50", "60", "100"])
def test_no_number_breaks_on_a_narrow_page(width: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", width)
    ran = run("buy", LAGOON, "--prices", PRICES)
    assert max(map(len, ran.out.splitlines())) <= int(width)
    assert "160.00" in ran.out


def test_one_format_at_a_time(small: str) -> None:
    for command in ("buy", "cut"):
        ran = run(command, small, "--csv", "--json")
        assert (ran.code, ran.out) == (2, "")
        assert "keep one of them" in ran.err
