"""Pressures at a temperature against print."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from balance.parts.pipes import hose, hoses, pipe, series
from balance.parts.ratings import stands, temperature_factor
from balance.parts.tables import rows
from balance.units import parse

PSI = 6894.757293168361
BAR = 1e5
MATERIALS = sorted({row["material"] for row in rows("derating")})


def at(name: str, temperature: str) -> float:
    found = stands(pipe(name), temperature=parse(temperature, "temperature"))
    assert found is not None
    return found


@pytest.mark.parametrize(
    ("name", "temperature", "psi"),
    [
        # pvc-makers and cpvc-makers: worked examples beside their factors.
        ("10 in sch 80", "120 degF", 92.0),
        ("6 in sch 80", "140 degF", 61.6),
        # Here the two tables of makers differ by a hair, 0.65 of 230.
        ("4 in sch 80 CPVC", "120 degF", 320 * 0.65),
        # astm-d2846, scope: 100 psi at 180 °F.
        ("1 in CTS CPVC", "180 degF", 100.0),
        ("1 in CTS CPVC", "140 degF", 200.0),
        ("1 in CTS CPVC", "100 degF", 328.0),
    ],
)
def test_worked_examples_of_makers(name: str, temperature: str, psi: float) -> None:
    assert at(name, temperature) / PSI == pytest.approx(psi, rel=0.01)


def test_din_8062_prints_whole_bars_at_40_degrees() -> None:
    # din-8062: series 4 and 5 stand 6 and 10 bar at 40 °C; the share is that of series 4.
    assert at("50 mm PN10", "40 degC") / BAR == pytest.approx(6.0)
    assert at("50 mm PN16", "40 degC") / BAR == pytest.approx(10.0, abs=0.5)


def test_one_in_fifty_a_degree_above_20() -> None:
    # A maker of PVC-U pipe prints a rule of its own, 2 % less for each degree above 20 °C: up to
    # 40 °C the same as a straight line between the bars of din-8062.
    assert at("50 mm PN10", "30 degC") / BAR == pytest.approx(8.0)


@pytest.mark.parametrize("kind", series())
def test_cool_water_takes_nothing_off(kind: str) -> None:
    for size in series()[kind]:
        assert stands(size, temperature=20.0) == size.rating


def test_what_is_not_known_and_what_is_no_pressure_pipe() -> None:
    assert stands(pipe("80 mm bore"), temperature=25.0) is None
    assert stands(hose("80 mm"), temperature=25.0) is None
    assert stands(pipe("2 in sch 40 ABS"), temperature=25.0) == 0.0


@given(material=st.sampled_from(MATERIALS), pair=st.tuples(st.floats(0, 120), st.floats(0, 120)))
def test_warmer_never_stands_more(material: str, pair: tuple[float, float]) -> None:
    cool, warm = (temperature_factor(material, temperature=t) for t in sorted(pair))
    assert 1.0 >= cool >= warm >= 0.0


def test_tables_cover_all_water_that_a_plan_may_hold() -> None:
    named = {size.material for sizes in series().values() for size in sizes if size.rating}
    assert named | {hose(f"1 in {kind}").material for kind in hoses()} == set(MATERIALS)
    for material in MATERIALS:
        found = [row for row in rows("derating") if row["material"] == material]
        temperatures = [parse(row["temperature"], "temperature") for row in found]
        assert all(low < high for low, high in pairwise(temperatures))
        assert temperatures[0] <= 27.0
        assert temperatures[-1] >= 45.0
        assert float(found[0]["factor"]) == 1.0


def test_soft_hose_loses_a_third_by_40_degrees() -> None:
    # hose-temperature: 4 bar at 20 °C is 2.5 bar at 40 °C, in half bars.
    rated, warm = (stands(hose("1 in braided"), temperature=t) for t in (20.0, 40.0))
    assert rated
    assert warm
    assert 4.0 * warm / rated == pytest.approx(2.5, abs=0.25)
