"""`balance cut`, from the words of the command line to its exit code."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import pytest

from tests.cli.session import run
from tests.questions.assembly.plans import fitting, pipe, plan

DEMO = Path(__file__).parents[2] / "pump_curves_demo"
LAGOON = str(DEMO / "lagoon.toml")

ELBOW = fitting("elbow 90", more=', take_out = "11/16 in", socket = "7/8 in"')


def written(folder: Path, text: str) -> str:
    path = folder / "plan.toml"
    path.write_text(text, encoding="utf-8")
    return str(path)


def test_the_page_has_each_piece_under_its_length() -> None:
    ran = run("cut", LAGOON)
    assert (ran.code, ran.err) == (0, "")
    answer = json.loads(run("cut", LAGOON, "--json").out)
    for piece in answer["pieces"]:
        assert ran.out.count(f"{piece['label']} ") + ran.out.count(f"{piece['label']}\n") >= 1
    assert "9   1 1/4 + 15/16   11 3/16" in ran.out  # riser #1: union, 9 in seen, elbow
    said = " ".join(ran.out.split())
    assert "No way of cutting these takes fewer lengths" in said
    assert "Cut to within 1/16 in" in said
    assert "at hand, 31 in" in said
    assert "full of water" in said


def test_no_room_is_told_first_and_in_the_exit_code(tmp_path: Path) -> None:
    text = plan(parts=ELBOW + pipe("2 in") + ELBOW, top='measured = "centre"')
    ran = run("cut", written(tmp_path, text))
    assert ran.code == 1
    said = " ".join(ran.out.split())
    assert "NO ROOM for return #1, elbow 90 - elbow 90" in said
    assert "overlap by 1 1/8 in. Move their centres apart, to 3 1/8 in or more" in said
    assert "street elbow" in said
    assert "Never cut the pipe shorter" in said
    assert said.index("NO ROOM") < 150


def test_an_estimated_centre_is_told(tmp_path: Path) -> None:
    text = plan(parts=fitting("union") + pipe("20 in") + ELBOW, top='measured = "centre"')
    said = " ".join(run("cut", written(tmp_path, text)).out.split())
    assert "makers differ: union. Measure yours and write it as `take_out`" in said


def test_more_than_fifty_pieces_are_packed_by_rule_and_it_says_so(tmp_path: Path) -> None:
    parts = "".join(pipe(f"{8 + n % 7} in") + ELBOW for n in range(55))
    ran = run("cut", written(tmp_path, plan(parts=parts)))
    said = " ".join(ran.out.split())
    assert (
        "More than fifty pieces: packed by rules of thumb; no way of cutting them takes fewer"
        in said
    )


def test_csv_has_a_row_for_each_piece() -> None:
    rows = list(csv.DictReader(io.StringIO(run("cut", LAGOON, "--csv").out)))
    riser = next(row for row in rows if row["label"] == "riser #1")
    assert float(riser["cut_m"]) == pytest.approx(11.1875 * 0.0254)
    assert (riser["from"], riser["to"]) == ("union", "elbow 90")


def test_the_dry_fit_sheet_says_what_stays_open() -> None:
    ran = run("cut", LAGOON, "--dry-fit")
    assert (ran.code, ran.err) == (0, "")
    said = " ".join(ran.out.split())
    assert "stays open to the last" in said
    assert "15/16, both ends" in said
    assert "Cut to the list, not to the dry fit" in said
    assert "before water presses on it" in said
    assert ran.out.index("riser, from pump main to tee at") < ran.out.index("left header, from tee")


def test_a_bad_length_of_stock_is_a_fault_of_the_plan(tmp_path: Path) -> None:
    ran = run("cut", written(tmp_path, plan('[shop]\nstock = ["long"]\n', parts=pipe("5 in"))))
    assert (ran.code, ran.out) == (2, "")
    assert "shop > stock" in ran.err


def test_sockets_longer_than_a_stick_are_refused_in_plain_words(tmp_path: Path) -> None:
    text = plan('[shop]\nstock = ["1 in"]\n', parts=ELBOW + pipe("20 in") + ELBOW)
    ran = run("cut", written(tmp_path, text))
    assert ran.code == 2
    assert "Traceback" not in ran.err
    assert "return #1 is cut 10.8 in long, and the longest 1 in sch 40 is 1 in" in ran.err
    assert "longer `stock` in [shop]" in ran.err


@pytest.mark.parametrize("width", ["60", "100"])
@pytest.mark.parametrize("words", [(), ("--dry-fit",)])
def test_pages_fit_the_width(
    width: str, words: tuple[str, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", width)
    ran = run("cut", LAGOON, *words)
    assert max(map(len, ran.out.splitlines())) <= int(width)
