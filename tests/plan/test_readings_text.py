"""Logs as they are written: read again they give the same rows, in words that a hand writes."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from balance.errors import UsageError
from balance.plan.model import Plan
from balance.plan.read import read
from balance.plan.reading import GaugePlace, Reading, Turned
from balance.plan.readings import read_readings
from balance.plan.readings_text import readings_text, save_readings
from tests.plan.logs import STAND, VALVES, plan_of_logs, readings

LAGOON = read(Path(__file__).parents[2] / "pump_curves_demo" / "lagoon.toml")
PLAN = plan_of_logs()
HEAD = "branch,volume,seconds,flow,open,speed,head,at,watts,note\n"


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("logs")


def again(folder: Path, plan: Plan, rows: tuple[Reading, ...]) -> tuple[Reading, ...]:
    return readings(folder, readings_text(plan, rows), plan).rows


def test_a_log_is_written_as_a_hand_writes_it(tmp_path: Path) -> None:
    log = HEAD + (
        "carbon reactor,1 gal,36.2 35.8 36.4,,,,,,,as planned\n"
        "phosphate reactor,2 L,42.1,,,,,,,\n"
        "refugium,,,71.5 gph,carbon reactor=40 deg; ultraviolet=-1/8 turn,,,,,\n"
        ',,,,,60 %,45 in,riser 4,38 W,"a standpipe, ""clear"""\n'
        'spare 2,10 L,21.55,,spare 2=30 deg; ultraviolet=1 1/4 turns,62.5 %,,,,"# opened"\n'
        ",,,,,,44 in,riser,,\n"
        "spare 2,,,200 L/h,spare 2=full; carbon reactor=shut; carbon reactor=+2.5 deg,,,,,\n"
    )
    rows = readings(tmp_path, log, LAGOON).rows
    assert readings_text(LAGOON, rows) == log
    assert again(tmp_path, LAGOON, rows) == rows


def number(least: float, most: float) -> st.SearchStrategy[str]:
    thousandths = st.integers(round(1000 * least), round(1000 * most))
    return thousandths.map(lambda number: f"{number / 1000}")


def moves(unit: str, travel: float) -> st.SearchStrategy[str]:
    """Marks, and nudges that in a later row may go too far."""
    marks = number(0.2 * travel, 0.8 * travel)
    nudges = st.tuples(st.sampled_from("+-"), number(0, 0.2 * travel)).map("".join)
    return (marks | nudges).map(lambda text: f"{text} {unit}")


MOVES = {
    "carbon reactor": moves("deg", 90.0) | moves("%", 100.0) | st.sampled_from(["full", "shut"]),
    "gate": moves("turns", 5.0) | st.sampled_from(["1/8 turn", "2 1/3 turns", "+1/3 turn"]),
    "stir; slow": moves("%", 100.0),
    "return": moves("deg", 90.0),
}


@st.composite
def measured(draw: st.DrawFn) -> dict[str, str]:
    branch = draw(st.sampled_from(["carbon reactor", "REFUGIUM", "stir; slow", "held"]))
    match draw(st.sampled_from(["fill", "flow", "level", "pressure", "power"])):
        case "fill":
            first = float(draw(number(2, 100)))
            more = draw(st.lists(st.floats(1.0, 2.9), max_size=3))
            return {
                "branch": branch,
                "volume": draw(number(0.1, 20)) + draw(st.sampled_from([" gal", " L", " qt"])),
                "seconds": " ".join(str(first * factor) for factor in (1.0, *more)),
            }
        case "flow":
            unit = draw(st.sampled_from([" gph", " L/h", " m3/h"]))
            return {"branch": branch, "flow": draw(number(0, 900)) + unit}
        case "level":
            place = draw(st.sampled_from(["riser", "riser part 2", "riser 3", "Carbon Reactor 2"]))
            return {"head": draw(number(-40, 90)) + " in", "at": place}
        case "pressure":
            unit = draw(st.sampled_from([" kPa", " psi"]))
            return {"head": draw(number(-2, 9)) + unit, "at": f"riser @ {draw(number(-9, 9))} in"}
        case _:
            pump = draw(st.sampled_from(["main", "SECOND"]))
            return {"watts": f"{pump}={draw(number(0, 90))}"}


@st.composite
def rows_as_text(draw: st.DrawFn) -> str:
    cells = dict.fromkeys(HEAD.strip().split(","), "") | draw(measured())
    first = draw(st.sampled_from(["", "", "all=50 %; ", "as planned; "]))
    turned = draw(st.lists(st.sampled_from(sorted(MOVES)), unique=True, max_size=3))
    cells["open"] = first + "; ".join(f"{valve}={draw(MOVES[valve])}" for valve in turned)
    if draw(st.booleans()):
        cells["speed"] = f"main={draw(number(0, 150))} %"
    cells["note"] = draw(st.text("ab #,;'\"=é", max_size=6)).strip()
    return ",".join('"' + cell.replace('"', '""') + '"' for cell in cells.values()) + "\n"


@settings(max_examples=60, deadline=None)
@given(lines=st.lists(rows_as_text(), min_size=1, max_size=6))
def test_a_log_that_was_read_is_written_and_read_again_to_the_last_digit(
    folder: Path, lines: list[str]
) -> None:
    rows = readings(folder, HEAD + "".join(lines), PLAN, keep_going=True).rows
    if rows:
        assert again(folder, PLAN, rows) == rows


def near(some: Iterable[float], others: Iterable[float]) -> bool:
    """Tell whether numbers are as near as neighbours on a computer."""
    return all(abs(one - other) <= 1e-15 for one, other in zip(some, others, strict=True))


sizes = st.floats(1e-9, 1e3)
ratios = st.floats(0.0, 1.0)


@settings(max_examples=60, deadline=None)
@given(
    volume=sizes,
    seconds=st.lists(st.floats(1.0, 2.9), min_size=1, max_size=3),
    marks=st.tuples(ratios, ratios, ratios),
    nudged=ratios,
    speed=st.floats(0.0, 2.0),
    head=st.floats(-1e3, 1e3),
    watts=st.floats(0.0, 1e3),
)
def test_any_numbers_come_back_as_near_as_text_can_tell(
    folder: Path,
    volume: float,
    seconds: list[float],
    marks: tuple[float, float, float],
    nudged: float,
    speed: float,
    head: float,
    watts: float,
) -> None:
    turned = [Turned(*one) for one in zip(VALVES[:3], ["mark"] * 3, marks, strict=True)]  # type: ignore[arg-type]
    openings = (nudged, *marks[1:], *STAND[3:])
    row = Reading(
        line=2,
        branch="held",
        volume=volume,
        seconds=tuple(seconds),
        flow=None,
        openings=openings,
        turned=(*turned, Turned(VALVES[0], "nudge", nudged)),
        speeds=(speed, 1.0),
        head=head,
        at=GaugePlace("riser", 2),
        watts=watts,
        pump="second",
    )
    (found,) = again(folder, PLAN, (row,))
    assert near(found.openings, openings)
    assert [(one.valve, one.by) for one in found.turned] == [
        (one.valve, one.by) for one in row.turned
    ]
    assert near([one.to for one in found.turned], [one.to for one in row.turned])
    assert near(found.speeds, row.speeds)
    exact = replace(found, openings=row.openings, turned=row.turned, speeds=row.speeds)
    assert exact == row


def test_a_note_keeps_to_its_line(tmp_path: Path) -> None:
    (row,) = readings(tmp_path, HEAD + "refugium,,,9 gph,,,,,,\n", PLAN).rows
    (found,) = again(tmp_path, PLAN, (replace(row, note=" one,\ntwo\r\0\u2028 three "),))
    assert found.note == "one, two    three"


def test_a_place_is_told_from_a_stretch_of_that_name(tmp_path: Path) -> None:
    """The third stretch of this plan is called as the second part of its first would be."""
    (row,) = readings(tmp_path, "head,at\n45 in,riser\n", PLAN).rows
    parts = PLAN.runs[0].parts
    doubled = PLAN.runs[0].model_copy(update={"parts": (parts[2], *parts[1:])})
    plan = PLAN.model_copy(update={"runs": (doubled, *PLAN.runs[1:])})
    at = GaugePlace("riser", 1)
    assert "riser part 2" in readings_text(plan, [replace(row, at=at)])
    (found,) = again(tmp_path, plan, (replace(row, at=at),))
    assert found.at == at


def test_handles_that_nothing_has_turned_are_told() -> None:
    row = readings_of_one()
    moved = replace(row, openings=(0.5, *row.openings[1:]))
    with pytest.raises(UsageError) as caught:
        readings_text(PLAN, [row, moved])
    assert str(caught.value) == (
        'reading 2: "Carbon reactor" stands at 45 deg, which does not follow from the readings '
        "above it and from what this one turned"
    )


def readings_of_one() -> Reading:
    return Reading(2, "refugium", None, (), 1e-5, STAND, (), (0.85, 1.0), None, None, None, None)


def test_a_log_is_saved_whole(tmp_path: Path) -> None:
    file = tmp_path / "log.csv"
    row = readings_of_one()
    save_readings(file, PLAN, [row])
    save_readings(str(file), PLAN, [row, row])
    assert read_readings(file, PLAN).rows == (row, row)
    assert file.read_text(encoding="utf-8") == readings_text(PLAN, [row, row])
    with pytest.raises(UsageError, match="does not follow"):
        save_readings(file, PLAN, [replace(row, openings=(0.5, *STAND[1:]))])
    assert read_readings(file, PLAN).rows == (row, row)
    with pytest.raises(UsageError, match="cannot be written"):
        save_readings(tmp_path / "absent" / "log.csv", PLAN, [row])
    assert [entry.name for entry in tmp_path.iterdir()] == ["log.csv"]


def test_a_log_without_rows_is_its_headings() -> None:
    assert readings_text(PLAN, ()) == HEAD
