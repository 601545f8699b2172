"""Lines that stay open: what a drain takes, and what runs through the new water's line."""

from __future__ import annotations

from math import sqrt

import numpy as np
import pytest

from balance.network.course import Course, course
from balance.parts.pumps import GRAVITY
from balance.plan.model import Plan
from balance.questions.change import WaterChange, change
from balance.questions.change.answer import Open
from balance.questions.change.stuck import passed_by
from tests.questions.change.plans import RETURN, plan

TANK, BARREL = 0.5, 0.25  # [m²]
SUBMERGED = 'submerged", depth = "5 cm'
ONE = '  { valve = "ball", size = "20 mm", open = "shut" },\n'
BOTH = "".join(ONE.replace("size", f'name = "{name}", size') for name in ("first", "second"))
BARE, SECOND = (ONE, ""), (ONE, BOTH)


def lines(answer: WaterChange) -> dict[str, Open]:
    return {each.line: each for each in answer.stuck}


def out(asked: Plan, *times: float) -> Open:
    return lines(change(asked, stuck=times))["out"]


def back(asked: Plan, *times: float) -> Open:
    return lines(change(asked, stuck=times))["in"]


def test_a_drain_without_valve_takes_what_the_closed_form_says() -> None:
    """sqrt(H) falls evenly with time; the loss is of a part and of the jet, K = 5."""
    area, times = np.pi / 4 * 0.02**2, (30.0, 60.0, 120.0)
    found = out(plan(BARE), *times)
    for row in found.after:
        root = sqrt(1.3) - area * sqrt(2.0 * GRAVITY / 5.0) * row.time / (2.0 * TANK)
        assert row.passed == pytest.approx(TANK * (1.3 - root**2), rel=1e-4)
        tank = row.levels[0]
        # A level is told on straight lines between the points of the course.
        assert tank.level == pytest.approx(0.2 + root**2, abs=2e-4)
        assert -tank.rise == pytest.approx(row.passed / TANK, abs=2e-4)


def test_at_most_it_takes_what_stands_over_its_inlet() -> None:
    found = out(plan(), 60.0)
    assert found.most == pytest.approx((1.5 - 1.1) * TANK, rel=1e-3)
    assert found.dry == ()


def test_with_the_pump_running_it_takes_the_sump_as_well() -> None:
    found = out(plan(more=RETURN), 60.0)
    assert found.dry == ("main",)
    over_inlet, over_intake = (1.5 - 1.1) * TANK, (0.3 - 0.1) * 0.8 * 0.5
    assert found.most is not None
    assert over_inlet < found.most < over_inlet + over_intake + 0.001


def test_what_has_passed_over_time_is_what_shorter_courses_meter() -> None:
    asked = plan(BARE, more=RETURN)

    def run(until: float) -> Course:
        return course(
            asked, until=until, opened=["way out"], primed=["way out"], metered=["way out"]
        )

    whole = run(1800.0)
    for time in (100.0, 400.0, 900.0):
        passed = run(time).passed["way out"]
        assert passed_by(whole, "way out", time) == pytest.approx(passed, rel=1e-4)


def test_where_a_second_valve_goes() -> None:
    none, one, two = out(plan(BARE), 60.0), out(plan(), 60.0), out(plan(SECOND), 60.0)
    assert (none.valves, one.valves) == ((), ("way out",))
    assert two.valves == ("first", "second")
    assert "fit two in series, the first where it leaves tank" in none.second_valve
    assert "between it and tank" in one.second_valve
    assert two.second_valve.startswith("first and second stand in series")


def test_a_locked_valve_is_no_second_one() -> None:
    second = 'name = "second", size = "20 mm", open = "shut"'
    locked = BOTH.replace(second, 'name = "second", size = "20 mm", locked = true')
    assert out(plan((ONE, locked)), 60.0).valves == ("first",)


def test_new_water_runs_back_by_a_submerged_outlet() -> None:
    """The tank stands above the barrel, and the line is full when its pump stops."""
    found = back(plan(outlet=SUBMERGED), 10.0, 600.0)
    soon, later = found.after
    assert later.passed < soon.passed < 0.0
    tank, barrel = later.levels
    assert later.passed == pytest.approx(tank.rise * TANK, abs=1e-6)
    assert -later.passed == pytest.approx((barrel.level - 0.6) * BARREL, abs=1e-6)
    # It ends where the outlet comes out of the water.
    assert found.most == pytest.approx(-0.05 * TANK, rel=0.02)
    assert "back into the new water's vessel" in found.second_valve


def test_a_check_valve_is_not_counted_on() -> None:
    check = (
        '{ pipe = "25 mm bore", length = "2 m" },',
        '{ check = "swing" },\n  { pipe = "25 mm bore", length = "2 m" },',
    )
    found = back(plan(check, outlet=SUBMERGED), 60.0)
    assert found.after[0].passed < 0.0


def test_an_outlet_above_the_water_lets_nothing_back() -> None:
    found = back(plan(), 600.0)
    assert found.in_air
    assert found.most == pytest.approx(0.0, abs=1e-9)
    assert found.after[0].passed == pytest.approx(0.0, abs=1e-9)
    assert "nothing runs back" in found.second_valve


def test_new_water_that_stands_higher_runs_on_by_itself() -> None:
    """The barrel stands above the tank: the pump at rest does not hold its water."""
    high = plan(
        (
            'bottom = "0 m"\nlevel = "0.8 m"\nrim = "0.9 m"',
            'bottom = "2 m"\nlevel = "2.8 m"\nrim = "2.9 m"',
        ),
        ('intake = "5 cm"', 'intake = "2.05 m"'),
    )
    found = back(high, 60.0, 3600.0)
    assert 0.0 < found.after[0].passed < found.after[1].passed
    assert "on into the system by itself" in found.second_valve


def test_an_overflow_by_a_line_left_open_is_told() -> None:
    high = plan(
        (
            'bottom = "0 m"\nlevel = "0.8 m"\nrim = "0.9 m"',
            'bottom = "2 m"\nlevel = "2.8 m"\nrim = "2.9 m"',
        ),
        ('intake = "5 cm"', 'intake = "2.05 m"'),
        ('rim = "1.65 m"', 'rim = "1.51 m"'),
    )
    soon, later = back(high, 1.0, 3600.0).after
    assert (soon.over, later.over) == ((), ("tank",))
