"""What one pump can do: against print, closed forms, and figures worked by hand."""

from __future__ import annotations

import math
import re

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from balance.errors import UsageError
from balance.parts.families import CurvePoints
from balance.parts.pumps import PumpCurve, pump_curve
from balance.questions.curve import Curve, curve
from balance.questions.curve.answer import AtSpeed
from balance.units import parse

Floats = NDArray[np.float64]
GPM, FOOT, HP, GPH = 231 * 0.0254**3 / 60.0, 0.3048, 745.699872, 231 * 0.0254**3 / 3600.0

FLOW = np.array([0.0, 1000.0, 2000.0, 3000.0, 4000.0, 4600.0]) / 3.6e6
HEAD = np.array([4.0, 3.8, 3.3, 2.4, 1.1, 0.0])
POWER = np.array([25.0, 31.0, 36.0, 40.0, 42.0, 43.0])


def single(made: PumpCurve, *, at: float = 1.0) -> tuple[CurvePoints, ...]:
    return (CurvePoints(made, at),)


def demo() -> tuple[CurvePoints, ...]:
    return single(pump_curve(FLOW, HEAD, POWER, name="demo"))


def row_at(answer: Curve, speed: float) -> AtSpeed:
    (found,) = [row for row in answer.speeds if math.isclose(row.speed, speed)]
    return found


def head_at(answer: Curve, speed: float, flow: float) -> float:
    """Head on the line drawn for a speed."""
    (line,) = [line for line in answer.lines if math.isclose(line.speed, speed)]
    return float(np.interp(flow, line.flow, line.head))


def test_speeds_by_crane() -> None:
    # crane-tp410, example 7.33: 400 gpm, 126 ft, 17.5 hp at 3500 rpm; asked for at 1700 rpm, where
    # it gives 194.29 gpm, 29.726 ft, 2.0053 hp. Power is held at 17.5 hp over all of the curve, of
    # which 3 W are taken for standby that does not fall with speed, 0.2 % of the 2 hp.
    made = pump_curve(
        np.array([0.0, 400.0, 800.0]) * GPM,
        np.array([160.0, 126.0, 0.0]) * FOOT,
        np.full(3, 17.5 * HP),
    )
    speed = 1700.0 / 3500.0
    answer = curve(single(made), speeds=[speed])
    assert head_at(answer, speed, 194.29 * GPM) / FOOT == pytest.approx(29.726, rel=1e-3)
    power = row_at(answer, speed).best_power
    assert power is not None
    assert power / HP == pytest.approx(2.0053, rel=2.5e-3)


def test_speeds_by_fox_and_mcdonald() -> None:
    # fox-mcdonald, example 10.7: 1170 to 1750 rpm, shut-off 25 ft, best efficiency at 300 gpm and
    # 21.9 ft; answers 448.7 gpm, 49.0 ft, shut-off 55.9 ft. Power is such that efficiency is best
    # at 300 gpm: in proportion to flow times head there, and more to either side.
    flow = np.array([0.0, 150.0, 300.0, 450.0, 600.0])
    heads = np.array([25.0, 24.2, 21.9, 17.0, 8.0])
    lifted = 998.2 * 9.80665 * flow * GPM * heads * FOOT
    watts = np.array([500.0, lifted[1] / 0.55, lifted[2] / 0.8, lifted[3] / 0.55, lifted[4] / 0.3])
    answer = curve(
        single(pump_curve(flow * GPM, heads * FOOT, watts)), speeds=[1.0, 1750.0 / 1170.0]
    )
    full, fast = row_at(answer, 1.0), row_at(answer, 1750.0 / 1170.0)
    assert fast.shut_off / FOOT == pytest.approx(55.9, abs=0.05)
    assert head_at(answer, fast.speed, 448.7 * GPM) / FOOT == pytest.approx(49.0, abs=0.05)
    assert full.best_flow is not None
    assert fast.best_flow is not None
    assert fast.best_flow / full.best_flow == pytest.approx(448.7 / 300.0, rel=1e-3)
    assert full.best_flow / GPM == pytest.approx(300.0, rel=0.03)  # where the cubic peaks


@pytest.mark.parametrize("speed", [1.0, 0.7, 0.4])
def test_a_parabola_of_constant_power_is_best_at_one_over_the_root_of_three(speed: float) -> None:
    # Head H (1 - (q/Q)²) at constant power lifts most where d(q - q³/Q²)/dq = 0: at q = Q/√3, with
    # two thirds of H. A cubic through 41 points errs by less than the square of their spacing.
    shut_off, most, watts = 5.0, 2e-3, 100.0
    flow = np.linspace(0.0, most, 41)
    made = pump_curve(flow, shut_off * (1.0 - (flow / most) ** 2), np.full(41, watts))
    row = row_at(curve(single(made), speeds=[speed]), speed)
    assert row.best_flow == pytest.approx(speed * most / math.sqrt(3.0), rel=2e-3)
    assert row.best_head == pytest.approx(speed**2 * shut_off * 2.0 / 3.0, rel=2e-3)
    drawn = 3.0 + speed**3 * (watts - 3.0)  # all but standby falls with the cube of speed
    assert row.best_power == pytest.approx(drawn)
    lifted = 998.2 * 9.80665 * most / math.sqrt(3.0) * shut_off * 2.0 / 3.0 * speed**3
    assert row.best_efficiency == pytest.approx(lifted / drawn, rel=1e-3)
    assert row.useful_range is not None
    assert row.best_flow is not None
    assert row.useful_range == pytest.approx((0.7 * row.best_flow, 1.2 * row.best_flow))
    assert row.run_out == pytest.approx(speed * most)


def test_efficiency_by_hand_at_even_flows() -> None:
    # At 3/4 of 4000 L/h: 998.2 x 9.80665 x 8.333e-4 m³/s x 2.4 m = 19.58 W of 40 W.
    flow = np.array([0.0, 1000.0, 2000.0, 3000.0, 4000.0]) / 3.6e6
    answer = curve(single(pump_curve(flow, [4.0, 3.8, 3.3, 2.4, 1.1], POWER[:5])))
    shares = [row.share for row in answer.flows]
    assert shares == pytest.approx(np.linspace(0.0, 1.0, 11))
    assert [row.flow for row in answer.flows] == pytest.approx(np.linspace(0.0, flow[-1], 11))
    half = answer.flows[5]
    assert (half.head, half.power) == pytest.approx((3.3, 36.0))
    assert half.efficiency == pytest.approx(998.2 * 9.80665 * 2000.0 / 3.6e6 * 3.3 / 36.0)
    assert half.efficiency == pytest.approx(0.4986, abs=1e-4)
    assert answer.flows[0].efficiency == 0.0


def test_dead_head_pressure_is_that_of_the_column_of_water() -> None:
    # 2.3094 ft of fresh water a psi; salt water of 35 g/kg at 25 degC is 2.5 % heavier.
    answer = curve(single(pump_curve(FLOW, HEAD * 2.3094 * FOOT / 4.0)))
    assert answer.dead_head_pressure / 6894.757 == pytest.approx(1.0, rel=1e-3)
    assert answer.dead_head_pressure_salt / answer.dead_head_pressure == pytest.approx(
        1023.3 / 998.2, rel=1e-3
    )


@given(st.floats(0.2, 1.5))
def test_a_family_made_by_affinity_is_its_curve_at_every_speed(n: float) -> None:
    family = tuple(
        CurvePoints(pump_curve(m * FLOW, m**2 * HEAD, name=f"x-{m}"), m) for m in (0.6, 1.0, 0.4)
    )
    made, alone = curve(family, speeds=[n]), curve(demo(), speeds=[n])
    (of_family,), (of_one,) = made.speeds, alone.speeds
    assert of_family.shut_off == pytest.approx(of_one.shut_off)
    assert of_family.run_out == pytest.approx(of_one.run_out)
    for flow in np.linspace(0.0, of_one.run_out, 7):
        assert head_at(made, round(n, 9), flow) == pytest.approx(
            head_at(alone, round(n, 9), flow), abs=1e-6
        )
    assert any("no other shut-off head and no other run-out flow" in text for text in made.laws)


def test_each_speed_says_on_what_it_stands() -> None:
    half = CurvePoints(pump_curve(0.5 * FLOW, 0.24 * HEAD, 0.2 * POWER, name="x-50"), 0.5)
    answer = curve((half, *demo()), speeds=[0.5, 1.0, 0.75, 0.3, 1.1])
    assert [(row.speed, row.basis) for row in answer.speeds] == [
        (1.1, "affinity"),
        (1.0, "measured"),
        (0.75, "between"),
        (0.5, "measured"),
        (0.3, "affinity"),
    ]
    laws = " ".join(answer.laws)
    assert "4 % less shut-off head and no other run-out flow" in laws
    assert "below 50 % nothing was measured" in laws
    assert "third of full speed" in laws
    assert answer.name == "demo, x-50"
    assert [line.speed for line in answer.lines] == [1.1, 1.0, 0.75, 0.5, 0.3]


def test_a_curve_measured_slower_is_carried_up_too() -> None:
    slow = single(pump_curve(0.6 * FLOW, 0.36 * HEAD, name="slow"), at=0.6)
    answer, alone = curve(slow), curve(demo())
    assert answer.full.basis == "affinity"
    assert answer.full.shut_off == pytest.approx(alone.full.shut_off)
    assert answer.full.run_out == pytest.approx(alone.full.run_out)
    assert "measured at 60 % alone" in answer.laws[0]
    assert row_at(answer, 0.6).basis == "measured"


@pytest.mark.parametrize("written", ["70 %", "55 %", "33.3 %", "114 %"])
def test_a_measured_speed_is_one_with_that_asked_for_however_it_is_written(written: str) -> None:
    at = parse(written, "speed ratio")
    answer = curve(single(pump_curve(at * FLOW, at**2 * HEAD), at=at), speeds=[0.7, 0.55, 1.14])
    assert sum(line.speed == answer.measured[0].speed for line in answer.lines) == 1
    assert len(answer.lines) == (4 if written == "33.3 %" else 3)


def test_speeds_that_nobody_asked_for() -> None:
    assert [row.speed for row in curve(demo()).speeds] == [1.0, 0.9, 0.8, 0.7, 0.6, 0.5, 0.4]


def test_points_lie_as_far_off_as_smoothing_moved_them() -> None:
    heads = [4.0, 4.04, 3.3, 2.4, 1.1, 0.2]
    answer = curve(single(pump_curve(FLOW, heads, name="read")))
    (measured,) = answer.measured
    assert [point.head for point in measured.points] == heads
    assert [point.used_head for point in measured.points[:2]] == pytest.approx([4.02, 4.02], 1e-5)
    assert [point.off for point in measured.points] == pytest.approx(
        [-0.02 / 4.02, 0.02 / 4.02, 0, 0, 0, 0], abs=2e-6
    )
    assert measured.furthest_off == pytest.approx(0.02 / 4.02, rel=1e-3)
    assert any("smoothed, which moves points by up to 0.5" in note for note in answer.notes)


def test_a_hump_is_told_with_its_two_flows() -> None:
    # Measured 3.0 m at rest, 3.6 m at 2000 L/h: against 3.3 m on the straight from 0 to 2000 L/h
    # half way, and past the peak where the curve as used meets 3.3 m.
    made = pump_curve(FLOW, [3.0, 3.3, 3.6, 2.4, 1.1, 0.2], POWER)
    answer = curve(single(made), units="metric")
    (example,) = [note for note in answer.notes if "it can settle at" in note]
    assert "against 3.3 m" in example
    low, high = (float(word) for word in re.findall(r"(\d+) L/h", example))
    assert low == pytest.approx(1000.0, abs=1.0)
    assert 2000.0 < high < 3000.0
    assert float(np.interp(high / 3.6e6, *line_of(answer))) == pytest.approx(3.3, abs=0.01)
    (measured,) = answer.measured
    assert measured.peak == pytest.approx(FLOW[2])
    assert measured.points[0].off == pytest.approx((3.0 - 3.6 * 1.005) / (3.6 * 1.005))
    assert not any("flat" in note for note in answer.notes)


def line_of(answer: Curve) -> tuple[tuple[float, ...], tuple[float, ...]]:
    return answer.lines[0].flow, answer.lines[0].head


@pytest.mark.parametrize(
    ("flow", "heads", "said"),
    [
        (FLOW, [4.0, 4.0, 3.3, 2.4, 1.1, 0.0], "head stays level between 0 % and 22 %"),
        (FLOW, [4.0, 3.99, 3.95, 2.4, 1.1, 0.0], "the curve is flat: up to 4"),
        (FLOW, [4.0, 3.8, 3.3, 2.4, 1.1, 0.2], "the curve ends at 0.66 ft"),
        (FLOW[1:], HEAD[1:], "starts above zero flow"),
        (FLOW, HEAD, "no power was measured"),
    ],
)
def test_what_is_doubtful_in_a_curve_is_noted(
    flow: Floats, heads: list[float] | Floats, said: str
) -> None:
    answer = curve(single(pump_curve(flow, heads)))
    assert any(said in note for note in answer.notes), answer.notes
    assert answer.full.best_flow is None
    assert answer.full.best_efficiency is None
    assert answer.full.useful_range is None


def test_a_good_curve_has_no_notes() -> None:
    assert curve(demo()).notes == ()


def test_what_no_pump_can_do_is_noted() -> None:
    (note,) = curve(single(pump_curve(FLOW, HEAD, POWER / 10))).notes
    assert "no pump can" in note
    swapped = (
        CurvePoints(pump_curve(FLOW, HEAD, name="x-60"), 1.0),
        CurvePoints(pump_curve(1.5 * FLOW, 2.0 * HEAD, name="x-100"), 0.6),
    )
    found = " ".join(curve(swapped).notes)
    assert "x-100 at 60 % gives more head than x-60 at 100 %: are their speeds swapped?" in found
    assert "more flow" in found


def test_a_family_says_whose_note_it_is_and_which_curve_lacks_power() -> None:
    noisy = CurvePoints(pump_curve(0.5 * FLOW, [1.0, 1.01, 0.8, 0.6, 0.3, 0], name="x-50"), 0.5)
    notes = curve((*demo(), noisy)).notes
    assert notes[0].startswith("x-50: head rises")
    assert "x-50 without power" in notes[-1]
    assert curve((*demo(), noisy)).full.best_efficiency is not None


@pytest.mark.parametrize(
    ("family", "more", "said"),
    [
        ((), {}, "no curve is given"),
        ((*demo(), *demo()), {}, "two curves are given for one speed"),
        (demo(), {"speeds": []}, "no speed is asked for"),
        (demo(), {"speeds": [1.0, 0.0]}, "does not turn at 0 % speed"),
        (demo(), {"speeds": [3.0]}, "does not turn at 300 % speed"),
        (demo(), {"units": "roman"}, '"roman" are no units'),
    ],
)
def test_refuses_what_makes_no_sense(
    family: tuple[CurvePoints, ...], more: dict[str, list[float]], said: str
) -> None:
    with pytest.raises(UsageError, match=said):
        curve(family, **more)  # type: ignore[arg-type]


def test_as_tables() -> None:
    answer = curve(demo())
    speeds, flows = answer.to_frame(), answer.flows_frame()
    assert speeds["speed_percent"].tolist() == pytest.approx([100, 90, 80, 70, 60, 50, 40])
    assert speeds["shut_off_m"].iloc[0] == pytest.approx(4.0)
    assert flows["head_m"].iloc[-1] == pytest.approx(0.0, abs=1e-9)
    assert len(flows) == 11


def test_a_smaller_unit_changes_no_figure() -> None:
    assert curve(demo()).to_dict() == curve(demo(), units="metric").to_dict()
