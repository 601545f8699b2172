"""Pressure along the way: by hand, and what is said of it."""

from __future__ import annotations

import re
from collections.abc import Iterator
from math import pi

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from balance.network.along import Along
from balance.network.arrays import network_of
from balance.network.solve import solve
from balance.plan.model import Plan
from balance.plan.read import read_text
from balance.plan.starter import STARTER
from balance.questions.check import check
from balance.questions.check.answer import Doubt
from balance.questions.flows import flows
from balance.questions.pressures import Pressure, pressures_of
from balance.water import vapour_pressure

G = 9.80665
AIR = 101325.0  # Pa

SIPHON = """
units = "metric"

[water]
density = "1000 kg/m3"
{water}

[vessels.high]
level = "10 m"

[vessels.low]
level = "{low}"

[[runs]]
name = "siphon"
from = "high"
to = "low"
high_point = "{top}"
parts = [
  {{ pipe = "50 mm bore", length = "20 m", friction_factor = 0.02 }},
  {{ outlet = "submerged" }},
]
"""


def siphon(*, low: str = "8 m", top: str = "12 m", water: str = "") -> Plan:
    return read_text(SIPHON.format(low=low, top=top, water=water))


def starter(*changes: tuple[str, str]) -> Plan:
    text = STARTER
    for old, new in changes:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    return read_text(text)


def pressures(plan: Plan) -> tuple[Pressure, ...]:
    return pressures_of(Along(solve(network_of(plan))))


def doubts(plan: Plan, words: str) -> Iterator[Doubt]:
    return (doubt for doubt in check(plan).doubts if words in doubt.text)


def test_none_without_heights() -> None:
    assert pressures(starter()) == ()
    answer = flows(starter())
    assert (answer.pressures, answer.suctions, answer.believable) == ((), (), True)


def test_a_high_point_is_taken_where_its_stretch_has_the_least() -> None:
    """Just before an exit under water pressure is that of the water it leads into: 8 - 12 m."""
    (top,) = pressures(siphon())
    assert (top.place, top.kind, top.stretch, top.height) == ("siphon", "high point", "siphon", 12)
    assert top.pressure == pytest.approx(1000 * G * (8 - 12), rel=1e-6)
    velocity = flows(siphon()).runs[0].flow / (pi / 4 * 0.05**2)
    assert top.velocity == pytest.approx(velocity)
    assert top.head == pytest.approx(8.0 + velocity**2 / (2 * G), rel=1e-6)
    assert top.below_atmosphere
    assert not top.below_vapour


def test_a_joint_says_where_the_high_point_is() -> None:
    """The same siphon parted at its top, a quarter of the way along."""
    text = SIPHON.format(low="8 m", top="12 m", water="")
    parted = text.replace('high_point = "12 m"\n', "").replace('to = "low"', 'to = "top"')
    parted = parted.replace(
        '{ pipe = "50 mm bore", length = "20 m", friction_factor = 0.02 },\n  '
        '{ outlet = "submerged" },',
        '{ pipe = "50 mm bore", length = "5 m", friction_factor = 0.02 },',
    )
    parted += """
[joints.top]
height = "12 m"

[[runs]]
name = "falling"
from = "top"
to = "low"
parts = [{ pipe = "50 mm bore", length = "15 m", friction_factor = 0.02 }]
"""
    (top,) = pressures(read_text(parted))
    # Of 2 m over entrance 0.5, friction 8 and exit 1, what is left of total head after 0.5 + 2,
    # less one velocity head.
    velocity_head = 2.0 / 9.5
    assert top.kind == "joint"
    assert top.pressure == pytest.approx(1000 * G * (10 - 3.5 * velocity_head - 12), rel=1e-6)
    (least,) = pressures(siphon())
    assert least.pressure is not None
    assert top.pressure is not None
    assert least.pressure < top.pressure


@given(top=st.floats(10.0, 30.0), low=st.floats(0.0, 9.9))
@settings(deadline=None, max_examples=30)
def test_what_is_below_atmosphere_and_below_vapour(top: float, low: float) -> None:
    (found,) = pressures(siphon(low=f"{low:.3f} m", top=f"{top:.3f} m"))
    assert found.pressure is not None
    assert found.below_atmosphere
    absolute = AIR + found.pressure
    assert found.below_vapour == (absolute < vapour_pressure(25.0, salinity=35.0))


def test_a_column_that_breaks_is_told_in_flows_and_check() -> None:
    broken = siphon(top="18.5 m")  # 10.5 m over the lower water, and air carries 10.3 m
    answer = flows(broken)
    assert not answer.believable
    assert 'boil at the high point of "siphon"' in answer.notes[0]
    (doubt,) = doubts(broken, "would boil")
    assert doubt.line == SIPHON[: SIPHON.index("high_point")].count("\n") + 1
    assert not doubt.unsafe
    assert list(doubts(broken, "draw in air")) == []
    assert flows(siphon(top="17.5 m")).believable


def test_thin_air_and_warm_water_break_a_column_sooner() -> None:
    assert flows(siphon(top="17.5 m")).believable
    assert not flows(siphon(top="17.5 m", water='altitude = "1000 m"')).believable
    assert flows(siphon(top="17.8 m", water='temperature = "5 degC"')).believable
    assert not flows(siphon(top="17.8 m", water='temperature = "45 degC"')).believable


def test_a_header_is_read_in_itself() -> None:
    found = pressures(
        starter(('pipe = "1 in sch 40"\ntaps', 'pipe = "1 in sch 40"\nheight = "24 in"\ntaps'))
    )
    assert [each.place for each in found] == [
        "manifold start",
        "reactor tap",
        "refugium tap",
        "return tap",
    ]
    assert {(each.kind, each.stretch) for each in found} == {("header", "manifold")}
    bore = 1.033 * 0.0254  # the average bore of 1 in schedule 40: pvc-makers
    answer = flows(starter())
    by_name = {run.run: run.flow for run in answer.runs}
    density = 1023.343  # EOS-80, 35 g/kg at 25 degC, as unesco-1983 has for 35 units less 0.12
    # At the first joint of two runs there is no tee, so its head is that of the header there.
    head = answer.joints[[j.joint for j in answer.joints].index("manifold start")].head
    assert head is not None
    velocity = by_name["manifold to reactor"] / (pi / 4 * bore**2)
    expected = density * (G * (head - 24 * 0.0254) - velocity**2 / 2)
    assert found[0].pressure == pytest.approx(expected, rel=2e-4)


def test_a_gauge_shows_the_velocity_head_less_in_the_faster_leg() -> None:
    """At one joint of two bores the narrower pipe has the less pressure and is the one read."""
    plan = read_text(
        """
units = "metric"
[water]
density = "1000 kg/m3"
[vessels.high]
level = "3 m"
[vessels.low]
level = "0 m"
[joints.step]
height = "1 m"
[[runs]]
name = "wide"
from = "high"
to = "step"
parts = [{ pipe = "50 mm bore", length = "2 m" }]
[[runs]]
name = "narrow"
from = "step"
to = "low"
parts = [{ pipe = "25 mm bore", length = "2 m" }]
"""
    )
    (found,) = pressures(plan)
    assert found.stretch == "narrow"
    head = flows(plan).joints[0].head
    assert head is not None
    velocity = flows(plan).runs[0].flow / (pi / 4 * 0.025**2)
    assert found.pressure == pytest.approx(1000 * (G * (head - 1.0) - velocity**2 / 2), rel=1e-9)


def test_nothing_is_told_where_all_is_shut() -> None:
    valve = ('{ pipe = "1 in sch 40", length = "20 in" },', '{ valve = "ball", open = "shut" },')
    height = ('[[headers]]\nname = "manifold"', '[[headers]]\nname = "manifold"\nheight = "24 in"')
    shut = starter(valve, height).with_openings({"reactor": 0.0, "refugium": 0.0, "return": 0.0})
    found = pressures(shut)
    manifold = [each for each in found if each.kind == "header"]
    assert {each.pressure for each in manifold} == {None}
    assert {each.stretch for each in manifold} == {"manifold"}
    assert not any(each.below_atmosphere or each.below_vapour for each in manifold)


def test_air_is_one_doubt_for_all_places() -> None:
    high = starter(
        ('name = "return"\nto = "tank"', 'name = "return"\nto = "tank"\nhigh_point = "60 in"'),
        ('[[headers]]\nname = "manifold"', '[[headers]]\nname = "manifold"\nheight = "300 in"'),
    )
    (doubt,) = doubts(high, "draw in air")
    assert re.search(r'at "manifold" \(-8\.\d psi\), "return" \(-0\.15 psi\)', doubt.text)
    assert doubt.where == 'headers "manifold" > height'
    # 4 in of water from the rim's pipe down to the tank's surface are nothing beside the header.
    (alone,) = doubts(
        starter(
            ('name = "return"\nto = "tank"', 'name = "return"\nto = "tank"\nhigh_point = "60 in"')
        ),
        "draw in air",
    )
    assert alone.where == 'branches "return" > high_point'
    assert 'at "return" (-0.15 psi)' in alone.text  # 4 in of sea water


def test_a_slow_fall_to_a_free_outlet() -> None:
    """Froude number V/√(gD) below 1 in the last pipe: it may not fill."""
    change = (
        'name = "refugium"\nto = "sump"',
        'name = "refugium"\nto = "sump"\nhigh_point = "30 in"',
    )
    free = (
        'length = "24 in" },\n  { outlet = "submerged" }',
        'length = "24 in" },\n  { outlet = "free", height = "15 in" }',
    )
    fast = starter(change, free)
    assert list(doubts(fast, "without filling")) == []
    slow = fast.with_openings({"refugium": 20 / 90})
    (doubt,) = doubts(slow, "without filling")
    bore = 0.81 * 0.0254  # the average bore of 3/4 in schedule 40: pvc-makers
    flow = next(each.flow for each in flows(slow).branches if each.branch == "refugium")
    froude = flow / (pi / 4 * bore**2) / (G * bore) ** 0.5
    assert 0.0 < froude < 1.0
    assert f"Froude number {froude:.2g}," in doubt.text
    assert doubt.where == 'branches "refugium" > high_point'


def test_a_plan_without_solution_is_checked_all_the_same() -> None:
    drawn = starter(
        (
            '[[runs]]\nname = "riser"',
            '[joints."return tap"]\ndraw = "10 gph"\n\n[[runs]]\nname = "riser"',
        ),
        (
            '{ pipe = "1 in sch 40", length = "20 in" },',
            '{ valve = "ball", size = "1 in", open = "shut" },',
        ),
    ).with_openings({"reactor": 0.0, "refugium": 0.0, "return": 0.0})
    assert any("no pressures are judged" in note for note in check(drawn).notes)
