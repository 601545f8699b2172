"""Pumps whose duty is known in closed form: parabolas against parabolas."""

from __future__ import annotations

from math import sqrt

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from balance.questions.pumps import pumps
from tests.questions.pumps.invented import (
    LIFT,
    LPH,
    G,
    Parabola,
    bare,
    crossing,
    loss,
    tried,
)

PUMP = Parabola(4.0, 4000 * LPH)
CLOSE = 2e-5  # of a flow: a cubic through 201 points of a parabola


@pytest.mark.parametrize("speed", [1.0, 0.8, 0.6])
def test_a_pump_crosses_the_plumbing_where_two_parabolas_meet(speed: float) -> None:
    # Least and most of the range are one speed, so that is its top.
    trial = tried(bare(target=">= 1 L/h"), PUMP.candidate(speeds=(speed, speed)))
    flow = crossing(PUMP, 12.5, speed=speed)
    assert trial.crossing is not None
    assert trial.crossing.speed == speed
    assert trial.crossing.flow == pytest.approx(flow, rel=CLOSE)
    assert trial.crossing.head == pytest.approx(LIFT + loss(12.5) * flow**2, rel=CLOSE)
    assert trial.wide_open == pytest.approx(flow, rel=CLOSE)


@given(
    k=st.floats(0.5, 200.0),
    shut_off=st.floats(1.0, 8.0),
    most=st.floats(1000.0, 10_000.0),
    speed=st.floats(0.5, 1.0),
)
@settings(max_examples=25)
def test_wherever_the_parabolas_lie(k: float, shut_off: float, most: float, speed: float) -> None:
    pump = Parabola(shut_off, most * LPH)
    speeds = None if speed == 1.0 else (speed, speed)
    trial = tried(bare(target=">= 1 L/h", k=k), pump.candidate(speeds=speeds))
    assert trial.crossing is not None
    if speed**2 * shut_off <= LIFT * 1.001:
        if speed**2 * shut_off < LIFT:
            assert trial.shortfalls[0].out_of_reach
        return
    # Near its dead head the flow goes with the root of what is left of it.
    flow = crossing(pump, k + 0.5, speed=speed)
    assert trial.crossing.flow == pytest.approx(flow, rel=1e-3)
    left = speed**2 * shut_off - LIFT
    assert trial.crossing.head - LIFT == pytest.approx(loss(k + 0.5) * flow**2, abs=2e-3 * left)


def test_the_curve_of_the_plumbing_is_lift_and_a_parabola() -> None:
    answer = pumps(bare(target=">= 1 L/h"), [PUMP.candidate()])
    assert answer.system is not None
    flow = np.array(answer.system.flow)
    assert np.array(answer.system.head) == pytest.approx(LIFT + loss(12.5) * flow**2, rel=1e-5)
    assert flow[-1] == pytest.approx(
        1.2 * max(trial.crossing.flow for trial in answer.trials if trial.crossing)
    )


def test_a_pump_draws_its_own_curve() -> None:
    line = tried(bare(target=">= 1 L/h"), PUMP.candidate(speeds=(0.5, 0.8))).line
    assert line is not None
    assert line.flow[0] == 0.0
    assert line.flow[-1] == pytest.approx(0.8 * PUMP.most)
    assert line.head == pytest.approx(
        [PUMP.head(flow, speed=0.8) for flow in line.flow], abs=1e-4 * PUMP.shut_off
    )


def test_the_speed_is_the_first_step_that_carries_the_target() -> None:
    # n² H = L + (bend + losses wide open) q²
    target = 1200 * LPH
    trial = tried(bare(target="1200 L/h"), PUMP.candidate(speeds=(0.3, 1.0)))
    least = sqrt((LIFT + (PUMP.bend + loss(12.5)) * target**2) / PUMP.shut_off)
    assert trial.meets
    assert trial.speeds[0] == pytest.approx(np.ceil(100 * least) / 100)
    assert trial.flow == pytest.approx(target, rel=1e-6)
    assert trial.pumps[0].head == pytest.approx(PUMP.head(target, speed=trial.speeds[0]), rel=1e-5)


@pytest.mark.parametrize("target", [600, 1000, 1400])
def test_how_far_the_target_could_rise(target: int) -> None:
    answer = tried(bare(target=f"{target} L/h"), PUMP.candidate(), fouling=0.5)
    assert answer.reach is not None
    assert answer.fouled_reach is not None
    # A straight line in the square of the factor is exact where head goes with the square of flow,
    # but at most four times the target is tried.
    assert answer.reach == pytest.approx(min(4.0, crossing(PUMP, 12.5) / (target * LPH)), rel=1e-4)
    fouled = crossing(PUMP, 0.5 + 12.0 * 1.5)
    assert answer.fouled_reach == pytest.approx(min(4.0, fouled / (target * LPH)), rel=1e-4)


def test_a_target_too_high_by_a_quarter() -> None:
    target = 1.25 * crossing(PUMP, 12.5)
    trial = tried(bare(target=f"{target / LPH} L/h"), PUMP.candidate())
    assert not trial.meets
    assert trial.reach == pytest.approx(0.8, rel=1e-4)
    (missed,) = trial.shortfalls
    assert missed.flow == pytest.approx(0.8 * target, rel=CLOSE)
    assert missed.bound == pytest.approx(0.9 * target)  # less the tolerance of a tenth
    assert missed.missing == pytest.approx(0.1, rel=1e-3)  # of the target
    assert not missed.out_of_reach


@pytest.mark.parametrize("fouling", [0.0, 0.3, 1.0])
def test_what_fouling_takes_of_a_flow_that_a_valve_throttles(fouling: float) -> None:
    # At the target the valve burns what is left over; fouling adds to the bare loss alone, so
    # (bend + losses as set) q0² = (bend + losses as set + fouling) q².
    target = 1000 * LPH
    trial = tried(bare(target="1000 L/h"), PUMP.candidate(), fouling=fouling)
    clean = (PUMP.shut_off - LIFT) / target**2
    assert trial.fouling_hits == "a"
    assert trial.fouling_loss == pytest.approx(
        1.0 - sqrt(clean / (clean + loss(12.0 * fouling))), abs=1e-6
    )


def test_fouling_without_a_pump_curve_to_soften_it() -> None:
    # A pump whose head hardly falls: flow goes as one over the root of the coefficient.
    stiff = Parabola(2.0, 400_000 * LPH)
    trial = tried(
        bare(target=f"{crossing(stiff, 12.5) / LPH} L/h"), stiff.candidate(), fouling=0.44
    )
    assert trial.fouling_loss == pytest.approx(1 - sqrt(12.5 / (0.5 + 12 * 1.44)), rel=1e-3)


def test_dead_head_is_its_column_of_water() -> None:
    hose = """
[[branches]]
name = "reactor"
from = "foot"
to = "sump"
parts = [
  { valve = "ball", size = "1/2 in", open = "shut" },
  { hose = "1/2 in", length = "1 m", stands = "30 kPa" },
]
"""
    trial = tried(bare(target="500 L/h", rest=hose), PUMP.candidate(speeds=(0.4, 0.9)))
    dead = trial.dead_head
    assert dead.pressure == pytest.approx(1000.0 * G * 0.9**2 * PUMP.shut_off, rel=1e-6)
    assert (dead.stands, dead.too_much, dead.at_least) == (30_000.0, True, False)
    assert dead.weakest == '"reactor"'
