"""Pipe sizes and friction against print and against the fluids library."""

from __future__ import annotations

from fractions import Fraction

import fluids
import numpy as np
import pytest
from fluids.friction import Colebrook
from fluids.piping import schedule_lookup

from balance.errors import BalanceError, QuantityError, UnknownNameError
from balance.parts.pipes import friction, friction_law, hose, nominal_bore, pipe

INCH = 0.0254
ROUGH = np.array([0.0, 1e-6, 5.6e-5, 1e-3, 0.01, 0.05])[:, None]


def darcy(reynolds: float, relative_roughness: float = 0.0) -> float:
    y = friction(np.array([reynolds]), friction_law(relative_roughness)).y[0]
    return float(y / reynolds**2)


# F. M. White, Fluid Mechanics, table of smooth-pipe friction factors by Prandtl's law; from memory.
@pytest.mark.parametrize(
    ("reynolds", "printed"),
    [(4e3, 0.0399), (1e4, 0.0309), (1e5, 0.0180), (1e6, 0.0116), (1e7, 0.0081), (1e8, 0.0059)],
)
def test_smooth_pipe_by_prandtl(reynolds: float, printed: float) -> None:
    assert round(darcy(reynolds), 4) == printed


def test_colebrook_value_of_the_fluids_manual() -> None:
    # fluids 1.3.1, docstring of fluids.friction.Colebrook: Re 1e5, e/D 1e-4.
    assert darcy(1e5, 1e-4) == pytest.approx(0.018513866077471, rel=1e-9)


def test_colebrook_against_fluids_on_a_grid() -> None:
    # fluids 1.3.1, fluids.friction.Colebrook, its solution by Lambert's function.
    reynolds = np.geomspace(4000.0, 1e8, 60)
    ours = friction(np.tile(reynolds, (len(ROUGH), 1)), friction_law(ROUGH)).y / reynolds**2
    theirs = [[Colebrook(re, eD) for re in reynolds.tolist()] for eD in ROUGH.ravel().tolist()]
    np.testing.assert_allclose(ours, theirs, rtol=1e-9)


def test_colebrook_satisfies_its_own_equation() -> None:
    rough = np.concatenate([[0.0], np.geomspace(1e-8, 0.05, 80)])[:, None]
    reynolds = np.tile(np.geomspace(4000.0, 1e9, 200), (81, 1))
    x = reynolds / np.sqrt(friction(reynolds, friction_law(rough)).y)
    exact = x
    for _ in range(60):
        exact = -2.0 * np.log10(rough / 3.7 + 2.51 * exact / reynolds)
    np.testing.assert_allclose((exact / x) ** 2, 1.0, rtol=1e-9)


def test_laminar() -> None:
    reynolds = np.array([0.0, 1e-9, 1.0, 1999.9])
    term = friction(reynolds, friction_law(0.01))
    np.testing.assert_allclose(term.y, 64.0 * reynolds, rtol=1e-14)
    np.testing.assert_allclose(term.slope, 64.0)


def test_the_bridge_rises_and_joins_smoothly() -> None:
    reynolds = np.tile(np.linspace(1990.0, 4010.0, 4041), (len(ROUGH), 1))
    term = friction(reynolds, friction_law(ROUGH))
    assert (np.diff(term.y) > 0.0).all()
    assert (term.slope > 0.0).all()
    for joint in (2000.0, 4000.0):
        both = np.tile([joint * (1.0 - 1e-12), joint * (1.0 + 1e-12)], (len(ROUGH), 1))
        at = friction(both, friction_law(ROUGH))
        np.testing.assert_allclose(at.y[:, 0], at.y[:, 1], rtol=1e-10)
        np.testing.assert_allclose(at.slope[:, 0], at.slope[:, 1], rtol=1e-8)


def test_slope_against_central_differences() -> None:
    reynolds = np.tile(
        np.concatenate([np.linspace(10.0, 1900.0, 5), np.linspace(2100, 3900, 9), [4100.0, 1e5]]),
        (len(ROUGH), 1),
    )
    law, step = friction_law(ROUGH), 1e-4 * reynolds
    ahead, behind = friction(reynolds + step, law).y, friction(reynolds - step, law).y
    slope = friction(reynolds, law).slope
    np.testing.assert_allclose(slope, (ahead - behind) / (2.0 * step), rtol=2e-6)


def test_blocks_and_shapes_change_nothing() -> None:
    rough = np.linspace(0.0, 0.04, 11)[:, None]
    reynolds = np.geomspace(1.0, 1e6, 11 * 3000).reshape(11, 3000)
    whole = friction(reynolds, friction_law(rough))
    for row in (0, 5, 10):
        one = friction(reynolds[row], friction_law(rough[row]))
        np.testing.assert_array_equal(one.y, whole.y[row])
        np.testing.assert_array_equal(one.slope, whole.slope[row])
    assert friction(reynolds[:, :1], friction_law(rough)).y.shape == (11, 1)
    assert friction(np.empty((0, 7)), friction_law(0.0)).y.shape == (0, 7)


@pytest.mark.parametrize("rough", [-1e-9, 0.051, np.nan])
def test_refuses_what_is_no_roughness(rough: float) -> None:
    with pytest.raises(BalanceError, match=r"between 0 and 0\.05"):
        friction_law(rough)


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
