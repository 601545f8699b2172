"""Printed problems of parallel pipes with one of them shut: derived from print, in closed form.

No book prints the case; with one pipe shut the rest is a single line, whose flow follows from the
printed friction factors and dimensions alone.
"""

from __future__ import annotations

from math import pi, sqrt
from pathlib import Path

import pytest
from scipy.optimize import brentq

from balance.plan.read import read
from balance.questions.close import close
from balance.questions.close.answer import Case

HERE = Path(__file__).parent
FOOT, G = 0.3048, 9.80665


def shut(plan: str, name: str) -> Case:
    (case,) = close(read(HERE / f"{plan}.toml"), [name]).cases
    return case


def loss(*, factor: float, length: float, bore: float) -> float:
    """Head lost by friction over the square of flow [m/(m³/s)²]."""
    return factor * length / bore * 8.0 / (pi**2 * G * bore**4)


def test_of_two_pipes_before_a_third_one_is_shut() -> None:
    """daugherty-franzini, example 8.9: 150 ft of fall, now through a and c in series."""
    a = loss(factor=0.020, length=2000 * FOOT, bore=0.5 * FOOT)
    c = loss(factor=0.024, length=4000 * FOOT, bore=8 / 12 * FOOT)
    case = shut("parallel_then_series", "b")
    # The factors are given with the problem, so nothing is rounded on the way.
    assert case.pumped == pytest.approx(sqrt(150 * FOOT / (a + c)), rel=1e-6)


def test_of_two_pipes_between_reservoirs_the_other_does_not_mind() -> None:
    """douglas, example 14.3: the wide one is printed with 0.0190 m³/s, whatever the narrow does."""
    case = shut("parallel_with_end_losses", "narrow")
    assert case.pumped == pytest.approx(0.0190, abs=0.00005)  # printed to 0.0001 m³/s


def test_a_pump_of_constant_power_with_its_narrow_pipe_shut() -> None:
    """cengel-cimbala, example 8-7: 8 kW at 0.70, 8 m of lift, the wide pipe's printed f = .0182."""
    wide = loss(factor=0.0182, length=36.0, bore=0.08)
    flow = brentq(lambda q: 0.70 * 8000 / (998 * 9.81 * q) - 8.0 - wide * q**2, 0.01, 0.05)
    (pump,) = shut("pump_and_parallel_pipes", "pipe 1").pumps
    # The factor is printed to 0.0001, 0.5 % of the loss; the curve is a cubic through points.
    assert pump.flow == pytest.approx(flow, rel=0.003)
    assert pump.head == pytest.approx(8.0 + wide * flow**2, rel=0.005)
