"""Pump curves: read in any unit, and each fault of the file told with its line and column."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from balance.errors import Fault, PlanError
from balance.plan.curves import read_curve
from balance.plan.read import read
from tests.plan.plans import spoilt

POINTS = 'points = ["0 gph at 13 ft, 35 W", "600 gph at 9 ft, 42 W", "1200 gph at 0 ft, 45 W"]'
GOOD = "flow_gph,head_ft,power_w\n0,13,35\n600,9,42\n1200,0,45\n"


def faults(tmp_path: Path, text: str) -> tuple[Fault, ...]:
    file = tmp_path / "pump.csv"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(PlanError) as caught:
        read_curve(file)
    return caught.value.faults


def test_a_curve_in_its_own_units(tmp_path: Path) -> None:
    file = tmp_path / "pump.csv"
    file.write_text(
        "# measured at the sink\nflow_lph, head_m\n\n0, 4\n1800, 2.5 # half\n3600, 0\n",
        encoding="utf-8",
    )
    curve = read_curve(file)
    assert np.allclose(curve.flow, [0.0, 0.5e-3, 1.0e-3])
    assert np.allclose(curve.head, [4.0, 2.5, 0.0])
    assert curve.power is None


def test_needed_suction_head_is_a_column_of_its_own(tmp_path: Path) -> None:
    file = tmp_path / "pump.csv"
    file.write_text("flow_lph,npsh_ft,head_m\n0,2,4\n1800,3,2.5\n3600,6,0\n", encoding="utf-8")
    need = read_curve(file).need
    assert need is not None
    assert need.head == pytest.approx([2 * 0.3048, 3 * 0.3048, 6 * 0.3048])
    file.write_text("flow_lph,head_m\n0,4\n1800,2.5\n3600,0\n", encoding="utf-8")
    assert read_curve(file).need is None


@pytest.mark.parametrize(
    ("unit", "cubic_metres_a_second"),
    [
        ("gpm", 3.785411784e-3 / 60),
        ("m3_h", 1 / 3600),
        ("m3h", 1 / 3600),
        ("imp_gph", 4.54609e-3 / 3600),
    ],
)
def test_any_unit_of_flow(tmp_path: Path, unit: str, cubic_metres_a_second: float) -> None:
    file = tmp_path / "pump.csv"
    file.write_text(f"flow_{unit},head_m\n0,3\n1,2\n2,1\n", encoding="utf-8")
    assert read_curve(file).flow[1] == pytest.approx(cubic_metres_a_second, rel=1e-12)


def test_a_family_and_a_file_beside_the_plan(tmp_path: Path) -> None:
    (tmp_path / "full.csv").write_text(GOOD, encoding="utf-8")
    (tmp_path / "slow.csv").write_text(
        GOOD.replace("13", "5").replace("9,", "3,"), encoding="utf-8"
    )
    plan = tmp_path / "plan.toml"
    plan.write_text(spoilt(POINTS, 'curve = "full.csv"'), encoding="utf-8")
    assert [points.speed for points in read(plan).pumps["main"].curve] == [1.0]
    family = (
        'curve = [{ file = "slow.csv", speed = "60 %" }, { file = "full.csv", speed = "100 %" }]'
    )
    plan.write_text(spoilt(POINTS, family), encoding="utf-8")
    assert [points.speed for points in read(plan).pumps["main"].curve] == [1.0, 0.6]


def test_faults_of_the_curve_come_with_those_of_the_plan(tmp_path: Path) -> None:
    (tmp_path / "pump.csv").write_text(GOOD.replace("600", "many"), encoding="utf-8")
    plan = tmp_path / "plan.toml"
    text = spoilt(POINTS, 'curve = "pump.csv"').replace('level = "9 in"', "level = 9")
    plan.write_text(text, encoding="utf-8")
    with pytest.raises(PlanError) as caught:
        read(plan)
    assert [(fault.file, fault.line) for fault in caught.value.faults] == [
        ("plan.toml", 11),
        ("pump.csv", 3),
    ]


@pytest.mark.parametrize(
    ("text", "line", "path", "problem", "remedy"),
    [
        (GOOD.replace("9,", "nine,"), 3, "column 2 (head_ft)", '"nine" is not a number', "12.5"),
        (GOOD.replace("9,", "NaN,"), 3, "column 2 (head_ft)", '"NaN" is not a number', "12.5"),
        (GOOD.replace("9,", ","), 3, "column 2 (head_ft)", "the cell is empty", "12.5"),
        (GOOD.replace("9,", "1e999,"), 3, "column 2 (head_ft)", "is not a number", "12.5"),
        (GOOD.replace("9,", "9 ft,"), 3, "column 2 (head_ft)", "is not a number", "header row"),
        (GOOD.replace("1200", "500"), 4, "column 1 (flow_gph)", "does not rise", "sort the rows"),
        (GOOD.replace("1200", "600"), 4, "column 1 (flow_gph)", "does not rise", "once"),
        (GOOD.replace("1200,0,45\n", ""), 3, "", "at least three points", "add points"),
        ("flow_gph,head_ft\n", 1, "", "there are none", "add points"),
        (GOOD.replace("13", "-13"), 2, "column 2 (head_ft)", "negative", ""),
        (GOOD.replace("_gph", ""), 1, "column 1", '"flow" is no column heading', "flow_gph"),
        (GOOD.replace("_gph", "_ft"), 1, "column 1 (flow_ft)", "no unit of flow", "flow_gph"),
        (GOOD.replace("head_ft", "lift_ft"), 1, "column 2", "no column heading", "head_ft"),
        (
            GOOD.replace("power_w", "npsh_psi"),
            1,
            "column 3 (npsh_psi)",
            "no unit of head",
            "head_ft",
        ),
        (
            GOOD.replace("power_w", "npsh_ft").replace("35", "-3"),
            2,
            "column 3 (npsh_ft)",
            "negative",
            "",
        ),
        (GOOD.replace("600,", "600;"), 3, "", "2 cells below 3 headings", "decimal point"),
        ("flow_gph,power_w\n0,1\n1,2\n2,3\n", 1, "", "no column of head", "head_ft"),
        ("0,13\n600,9\n1200,0\n", 1, "", '"0,13" holds no column heading', "first row"),
        ("", None, "", "the file is empty", "flow_gph"),
    ],
)
def test_fault(
    tmp_path: Path, text: str, line: int | None, path: str, problem: str, remedy: str
) -> None:
    found = faults(tmp_path, text)
    match = [f for f in found if f.path == path and problem in f.problem]
    assert match, [str(fault) for fault in found]
    assert match[0].line == line
    assert match[0].file == "pump.csv"
    assert remedy in match[0].remedy


def test_several_faults_in_one_go(tmp_path: Path) -> None:
    found = faults(tmp_path, "flow_gph,head_ft\n0,x\n1,2\ny,3\n")
    assert [fault.line for fault in found] == [2, 4]


@pytest.mark.parametrize("content", [b"\xff\xfe\0\xd8", b"\0\1,\2\n\0\n"])
def test_a_curve_that_is_no_text(tmp_path: Path, content: bytes) -> None:
    file = tmp_path / "pump.csv"
    file.write_bytes(content)
    with pytest.raises(PlanError, match="not a text file"):
        read_curve(file)


@pytest.mark.parametrize(("letters", "said"), [(100_000, " ..."), (200_000, "far too large")])
def test_a_file_without_end_is_told_in_few_words(tmp_path: Path, letters: int, said: str) -> None:
    (fault, *_) = faults(tmp_path, "a" * letters)
    assert said in fault.problem
    assert len(fault.problem) < 120
