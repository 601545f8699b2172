"""Vessels that empty, against worked examples in print and closed forms."""

from __future__ import annotations

from math import pi, sqrt

import pytest

from balance.network.course import Course, Stop, course
from balance.plan.read import read_text

G = 9.80665
HOUR, DAY = 3600.0, 86400.0
FEET, MILES = 0.3048, 1609.344
# Integrated to 1e-5 of a volume, and the laminar floor of the solver on top.
CLOSE = 2e-4


def times(found: Course, vessel: str, level: float) -> float:
    """When a falling surface passes a level [s]."""
    levels = found.level_of(vessel)
    after = int((levels <= level).argmax())
    (t0, t1), (l0, l1) = found.time[after - 1 : after + 1], levels[after - 1 : after + 1]
    return float(t0 + (t1 - t0) * (l0 - level) / (l0 - l1))


def emptying(*, tank: str, bore: float, k: float, level: float) -> str:
    return f"""
units = "metric"
[vessels.tank]
bottom = "0 m"
level = "{level} m"
{tank}
[[runs]]
name = "pipe"
from = "tank"
to = "outside"
parts = [{{ inlet = "ideal" }}, {{ k = {k}, bore = "{bore} m" }},
  {{ outlet = "free", height = "0 m", bore = "{bore} m" }}]
"""


def drawn(text: str, *, fall: float, area: float, until: float) -> Course:
    """What a tank of some area does until it has fallen so far."""
    return course(read_text(text), until=until, stop=Stop("pipe", fall * area))


# coulson-richardson, example 3.3, p. 71: a tank
# of 5 m diameter empties from 3 m to 0.3 m through 100 m of 225 mm pipe, R/(rho u2) = 0.002, in
# 751 s. That is a Darcy factor of 8 x 0.002; the jet's velocity head is the outlet's.
def test_a_round_tank_empties_through_a_long_pipe() -> None:
    k = 8 * 0.002 * 100 / 0.225
    text = emptying(tank='diameter = "5 m"', bore=0.225, k=k, level=3.0)
    found = drawn(text, fall=2.7, area=pi / 4 * 25, until=HOUR)
    assert found.time[-1] == pytest.approx(751.0, abs=1.5)  # the book rounds; 752.1 s exactly
    assert found.last["tank"] == pytest.approx(0.3, abs=1e-6)
    assert found.events[-1].kind == "enough"


# paradise, example 7.5, p. 143: a reservoir of 1/16 square mile falls from 18 ft
# to 13 ft over a pipe of 200 ft and 2 ft bore, Fanning 0.006 and 1.5 velocity heads: 48 h 20 min.
def test_a_reservoir_falls_in_two_days() -> None:
    side = MILES / 4
    k = 4 * 0.006 * 200 / 2 + 0.5  # and one at the outlet
    text = emptying(
        tank=f'length = "{side} m"\nwidth = "{side} m"', bore=2 * FEET, k=k, level=18 * FEET
    )
    found = drawn(text, fall=5 * FEET, area=side**2, until=4 * DAY)
    assert found.time[-1] / HOUR == pytest.approx(48.0 + 20 / 60, abs=0.05)


# schaschke, example 6.6, p. 153: tanks of
# 8 and 4 m2 joined by an orifice of 0.01 m2, Cd 0.62; the difference falls from 0.3 to 0.1 m in
# 44.96 s; it begins with 15.04 L/s.
def test_two_tanks_become_level() -> None:
    bore = sqrt(4 * 0.01 / pi)
    plan = read_text(f"""
units = "metric"
[vessels.high]
bottom = "0 m"
level = "2.3 m"
length = "4 m"
width = "2 m"
[vessels.low]
bottom = "0 m"
level = "2 m"
length = "2 m"
width = "2 m"
[[runs]]
name = "orifice"
from = "high"
to = "low"
parts = [{{ inlet = "ideal" }}, {{ k = {1 / 0.62**2}, bore = "{bore} m" }},
  {{ outlet = "ideal", bore = "{bore} m" }}]
""")
    # The difference falls by 0.2 m once the higher has lost 0.2 / (1/8 + 1/4) m3.
    found = course(plan, until=HOUR, stop=Stop("orifice", 0.2 / (1 / 8 + 1 / 4)))
    assert found.flow["orifice"][0] == pytest.approx(15.04e-3, rel=5e-4)
    assert found.time[-1] == pytest.approx(44.96, abs=0.02)
    rest = course(plan, until=300.0)
    assert rest.at_rest
    assert rest.last["high"] == pytest.approx(2.2, abs=1e-4)
    assert rest.last["low"] == pytest.approx(2.2, abs=1e-4)


# cengel-cimbala, example 5-7: 4 L are siphoned over 0.75 m by a hose of 5 mm
# without friction in 53.1 s.
def test_a_siphon_fills_a_can() -> None:
    plan = read_text("""
units = "metric"
[vessels.tank]
level = "0.75 m"
[vessels.can]
bottom = "-1 m"
level = "-0.9 m"
length = "0.2 m"
width = "0.2 m"
[[runs]]
name = "siphon"
from = "tank"
to = "can"
parts = [{ inlet = "ideal" }, { k = 0, bore = "5 mm" },
  { outlet = "free", height = "0 m", bore = "5 mm" }]
""")
    found = course(plan, until=HOUR, stop=Stop("siphon", 4e-3))
    assert found.time[-1] == pytest.approx(53.1, abs=0.1)
    assert found.last["can"] == pytest.approx(-0.9 + 4e-3 / 0.04, abs=1e-9)


def test_half_a_tank_by_the_law_of_square_roots() -> None:
    # t = 2 A (sqrt(H1) - sqrt(H2)) / (a sqrt(2 g / K)): each level at its time, not the end alone.
    k, bore, side = 24.0, 0.02, 0.6
    text = emptying(
        tank=f'length = "{side} m"\nwidth = "{side} m"', bore=bore, k=k - 1.0, level=1.0
    )
    found = course(read_text(text), until=DAY)
    drained = pi / 4 * bore**2 * sqrt(2 * G / k)
    for level in (0.9, 0.5, 0.2):
        expected = 2 * side**2 * (1.0 - sqrt(level)) / drained
        # Between two steps of the integration the level is a line here, a parabola in truth.
        assert times(found, "tank", level) == pytest.approx(expected, rel=5e-3)
