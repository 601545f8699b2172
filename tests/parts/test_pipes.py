"""Pipe sizes against print and against the fluids library."""

from __future__ import annotations

from fractions import Fraction

import fluids
import pytest
from fluids.piping import schedule_lookup

from balance.errors import QuantityError, UnknownNameError
from balance.parts.pipes import hose, nominal_bore, pipe

INCH = 0.0254


# Average inside diameters [in] of makers of PVC pipe: dimension sheets, schedules 40 and 80.
@pytest.mark.parametrize(
    ("name", "bore"),
    [
        ("1/2 in sch 40", 0.608),
        ("1 in sch 40", 1.033),
        ("1 1/2 in sch 40", 1.592),
        ("3/4 in sch 80", 0.724),
        ("2 in sch 80", 1.913),
    ],
)
def test_bore_is_the_makers_average(name: str, bore: float) -> None:
    assert pipe(name).bore == pytest.approx(bore * INCH, rel=1e-12)
    assert pipe(name).name == name


@pytest.mark.parametrize("schedule", ["40", "80"])
@pytest.mark.parametrize("nominal", ["1/2", "3/4", "1", "1 1/4", "1 1/2", "2", "2 1/2", "3"])
def test_wall_is_the_printed_one_and_the_bore_below_its_bore(nominal: str, schedule: str) -> None:
    # ASTM D1785 as stored in fluids 1.3.1, fluids.piping.schedule_lookup.
    size = pipe(f"{nominal} in sch {schedule}")
    value = float(sum(Fraction(part) for part in nominal.split()))
    nominals, insides, outsides, walls = schedule_lookup[f"{schedule}D1785"]
    row = nominals.index(value)
    inside, outside, wall = insides[row] / 1e3, outsides[row] / 1e3, walls[row] / 1e3
    assert size.outside == pytest.approx(outside)
    assert size.wall == pytest.approx(wall)
    assert 0.95 < size.bore / inside < 1.0
    # The rule for sizes without a printed average meets the printed ones.
    assert size.bore == pytest.approx(outside - 2.12 * wall, rel=3e-3)


def test_metric_pipe() -> None:
    # DIN 8062, a maker's table: 32 mm PN10 has a wall of 1.8 mm, PN16 of 2.4 mm.
    assert pipe("32 mm PN10").bore == pytest.approx(0.0284)
    assert pipe("32 mm pn16").bore == pytest.approx(0.0272)


@pytest.mark.parametrize(
    "text", ["1 1/4 in sch 40", "1.25 in sch 40", "1 1/4  in  schedule 40", "1 1/4 in SCH40"]
)
def test_spellings_of_one_size(text: str) -> None:
    assert pipe(text) == pipe("1 1/4 in sch 40")


def test_by_bore() -> None:
    assert pipe("80 mm bore").bore == pytest.approx(0.08)
    assert pipe("80 mm bore").wall is None
    assert hose("1/2 in").bore == pytest.approx(0.0127)
    assert hose("12 mm").name == "12 mm"


def test_nominal_bore() -> None:
    assert nominal_bore("1 in") == pipe("1 in sch 40").bore
    assert nominal_bore("32 mm") == pipe("32 mm PN10").bore
    assert nominal_bore("20 mm") == pipe("20 mm PN16").bore
    assert nominal_bore("3/4 in sch 80") == pipe("3/4 in sch 80").bore
    assert nominal_bore("15 mm bore") == pytest.approx(0.015)


def test_unknown_sizes_name_the_nearest() -> None:
    with pytest.raises(UnknownNameError, match='"1 in sch 40"'):
        pipe("1 in")
    with pytest.raises(UnknownNameError, match='"32 mm PN10"'):
        pipe("33 mm PN10")
    with pytest.raises(UnknownNameError, match='"1 in"'):
        nominal_bore("1.1 in")
    with pytest.raises(QuantityError):
        hose("wide")
    with pytest.raises(QuantityError):
        pipe("0 mm bore")


def test_roughness_is_that_of_plastic_not_cement() -> None:
    # Hydraulic Institute, Engineering Data Book, table 4.E: PVC schedule pipe 7e-6 ft.
    assert pipe("1 in sch 40").roughness == pytest.approx(7e-6 * 0.3048, rel=0.02)
    # fluids 1.3.1 keeps glass, which the Data Book lists with plastic, at 1.52e-6 m.
    assert hose("1/2 in").roughness == pytest.approx(fluids.friction._roughness["Glass"])
