"""What a plan says of heat and of the small pumps that a branch replaces."""

from __future__ import annotations

import pytest

from balance.errors import Fault, PlanError
from balance.plan.model import Plan
from balance.plan.read import read_text
from tests.plan.plans import PLAN, line_of, spoilt

TARGET = 'target = "120 gph"\n'


def replacing(pumps: str) -> str:
    return spoilt(TARGET, f"{TARGET}replaces = {pumps}\n")


def the_fault(text: str) -> Fault:
    with pytest.raises(PlanError) as caught:
        read_text(text, file="plan.toml")
    (fault,) = caught.value.faults
    return fault


def test_a_plan_without_them_has_none() -> None:
    plan = read_text(PLAN)
    assert plan.heat is None
    assert all(branch.replaces == () for branch in plan.branches)


def test_a_chiller_and_the_water_that_takes_up_the_heat() -> None:
    heat = read_text(PLAN + '[heat]\nvolume = "160 gal"\nchiller = "790 BTU/h"\n').heat
    assert heat is not None
    assert heat.volume == pytest.approx(160 * 3.785411784e-3)
    assert heat.chiller == pytest.approx(790 / 3.412, rel=1e-4)
    assert read_text(PLAN + "[heat]\n").heat == Plan.model_validate({"heat": {}}).heat


@pytest.mark.parametrize("watts", ["12", "12.0", '"12 W"', '"0.012 kW"'])
def test_watts_are_a_number_or_a_text(watts: str) -> None:
    (pump,) = read_text(replacing(f"[{{ watts = {watts} }}]")).branches[0].replaces
    assert pump.watts == pytest.approx(12.0)
    assert (pump.name, pump.count, pump.hours) == (None, 1, None)


def test_all_that_can_be_said_of_a_small_pump() -> None:
    text = replacing('[{ watts = 12, name = "reactor pump", count = 2, hours = 8 }, { watts = 5 }]')
    first, second = read_text(text).branches[0].replaces
    assert (first.watts, first.name, first.count, first.hours) == (12, "reactor pump", 2, 8)
    assert second.watts == 5


def test_a_small_pump_may_have_any_name() -> None:
    """It is gone, so it shares no set of names with what is there."""
    assert read_text(replacing('[{ watts = 12, name = "main" }]')).branches[0].replaces


def test_like_copies_small_pumps_without_their_names() -> None:
    reactor, refugium = read_text(replacing('[{ watts = 12, name = "reactor pump" }]')).branches[:2]
    assert refugium.like == reactor.name
    assert [pump.watts for pump in refugium.replaces] == [12]
    assert refugium.replaces[0].name is None


# what stands there, where, part of the problem, part of the remedy
FAULTS = [
    ("[{ watts = 0 }]", "replaces[1] > watts", "0 is out of range", "more than 0"),
    ("[{ watts = -3 }]", "replaces[1] > watts", "-3 is out of range", "more than 0"),
    ("[{ watts = true }]", "replaces[1] > watts", "true is not a number", "watts = 2"),
    ('[{ watts = "12" }]', "replaces[1] > watts", '"12" has no unit', '"12 W"'),
    ('[{ watts = "0 W" }]', "replaces[1] > watts", "must be more than zero", '"12 W"'),
    ('[{ watts = "12 gph" }]', "replaces[1] > watts", "is a flow; a power is wanted", '"35 W"'),
    ("[{ watts = 5, hour = 8 }]", "replaces[1] > hour", "no key hour here", "nearest: hours"),
    ("[{ name = 'small' }]", "replaces[1]", "watts is missing", "add watts = 12"),
    ("[{ watts = 5 }, { watts = 5, count = 0 }]", "replaces[2] > count", "out of range", "1 or"),
    ("[{ watts = 5, count = 1.5 }]", "replaces[1] > count", "not a whole number", "count = 2"),
    ("[{ watts = 5, hours = 25 }]", "replaces[1] > hours", "25 is out of range", "up to 24"),
    ("[{ watts = 5, hours = 0 }]", "replaces[1] > hours", "0 is out of range", "more than 0"),
    ("[12]", "replaces[1]", "12 is not a table of keys", "key = value"),
    ("12", "replaces", "12 is not a list", "replaces = [ ... ]"),
]


@pytest.mark.parametrize(("pumps", "where", "problem", "remedy"), FAULTS)
def test_a_wrong_small_pump_is_told(pumps: str, where: str, problem: str, remedy: str) -> None:
    # The branch that is like this one copies it: a fault is told once, where it is written.
    text = replacing(pumps)
    fault = the_fault(text)
    assert fault.line == line_of(text, "replaces")
    assert fault.path == f'branches "carbon reactor" > {where}'
    assert problem in fault.problem
    assert remedy in fault.remedy


@pytest.mark.parametrize(
    ("key", "value", "problem", "remedy"),
    [
        ("chiller", "790", "the number 790 has no unit", 'chiller = "790 BTU/h"'),
        ("chiller", '"0 W"', "must be more than zero", '"790 BTU/h"'),
        ("chiller", '"1/10 tons"', "no unit of power", "W, kW, hp, BTU/h"),
        ("chiller", '"160 gal"', "is a volume; a power is wanted", '"35 W"'),
        ("volume", '"0 gal"', "must be more than zero", '"160 gal"'),
        ("volume", '"52 W"', "is a power; a volume is wanted", '"10 gal"'),
        ("cooler", '"52 W"', "there is no key cooler here", ""),
    ],
)
def test_a_wrong_heat_is_told(key: str, value: str, problem: str, remedy: str) -> None:
    text = f"{PLAN}[heat]\n{key} = {value}\n"
    fault = the_fault(text)
    assert fault.line == line_of(text, "[heat]") + 1
    assert fault.path == f"heat > {key}"
    assert problem in fault.problem
    assert remedy in fault.remedy
