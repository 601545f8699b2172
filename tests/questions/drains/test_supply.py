"""What pumps can bring, and how it goes down from vessel to vessel."""

from __future__ import annotations

import pytest

from balance.network.arrays import network_of
from balance.network.solve import solve
from balance.questions.drains import drains
from tests.questions.drains.plans import box, plan, trio

TIER = """
[vessels.upper]
bottom = "70 in"
level = "80 in"
rim = "84 in"
length = "20 in"
width = "20 in"

[[branches]]
name = "upper feed"
from = "foot"
to = "upper"
parts = [{ valve = "ball", size = "1/2 in" }, { pipe = "1/2 in sch 40", length = "80 in" }]

[[drains]]
name = "upper standpipe"
from = "upper"
to = "tank"
role = "open"
inlet = "79 in"
parts = [{ pipe = "2 in sch 40", length = "20 in" }]
"""


def test_three_inflows_are_three_solves() -> None:
    found = plan(box(), trio())
    (vessel,) = drains(found).vessels
    stands, full, greatest = vessel.inflows
    fast = found.with_speed({"main": 1.0})
    alone = fast.with_openings({"reactor": 0.0})
    for inflow, solved in ((stands, found), (full, fast), (greatest, alone)):
        expected = solve(network_of(solved)).flow("return")
        assert inflow.flow == pytest.approx(expected, rel=1e-6)
    assert greatest.shut == ("reactor",)
    assert (stands.shut, full.shut) == ((), ())


def test_an_upper_tanks_water_comes_down_to_the_lower() -> None:
    found = plan(box(), trio(), TIER).with_openings({"return": 0.3})
    found = found.with_speed({"main": 1.0})
    upper, lower = drains(found).vessels
    assert (upper.vessel, lower.vessel) == ("upper", "box")
    solution = solve(network_of(found))
    fed, returned = solution.flow("upper feed"), solution.flow("return")
    assert fed > 0.0
    assert upper.inflows[0].flow == pytest.approx(fed, rel=1e-9)
    assert lower.inflows[0].flow == pytest.approx(fed + returned, rel=1e-9)
    # What feeds the upper tank comes to the lower one too: only the reactor leads elsewhere.
    assert lower.inflows[2].shut == ("reactor",)
    assert upper.inflows[2].shut == ("return", "reactor")


def test_a_branch_into_a_joint_leads_where_its_water_goes() -> None:
    more = """
[[branches]]
name = "loop"
from = "foot"
to = "far"
parts = [{ pipe = "1/2 in sch 40", length = "10 in" }]
[[runs]]
name = "onwards"
from = "far"
to = "{to}"
parts = [{{ pipe = "1/2 in sch 40", length = "10 in" }}]
"""
    for to, shut in (("tank", ("reactor",)), ("sump", ("reactor", "loop"))):
        text = more.replace("{to}", to).replace("{{", "{").replace("}}", "}")
        (vessel,) = drains(plan(box(), trio(), text)).vessels
        assert vessel.inflows[2].shut == shut


def test_a_draw_that_shutting_would_cut_off_is_left_its_water() -> None:
    draw = """
[[branches]]
name = "tap line"
from = "foot"
to = "tap"
parts = [{ pipe = "1/2 in sch 40", length = "10 in" }]
[[branches]]
name = "capped"
from = "tap"
parts = [{ pipe = "1/2 in sch 40", length = "2 in" }]
[joints.tap]
draw = "20 gph"
"""
    (vessel,) = drains(plan(box(), trio(), draw)).vessels
    _, full, greatest = vessel.inflows
    assert greatest.shut == ()
    assert greatest.flow == pytest.approx(full.flow)


def test_setting_and_speed_are_those_of_the_plan() -> None:
    found = plan(box(), trio())
    slow = drains(found.with_speed({"main": 0.6})).vessels[0].inflows
    as_is = drains(found).vessels[0].inflows
    assert slow[0].flow < as_is[0].flow
    assert slow[1].flow == pytest.approx(as_is[1].flow)


def test_a_pump_beyond_its_range_counts_as_it_stands() -> None:
    fixed = plan(box(), trio()).with_speed({"main": 1.2})
    stands, full, _ = drains(fixed).vessels[0].inflows
    assert full.flow == pytest.approx(stands.flow)


def test_a_pump_without_a_range_may_be_set_to_its_full_speed() -> None:
    found = plan(box(), trio())
    pumps = {"main": found.pumps["main"].model_copy(update={"speed_range": None})}
    slow = drains(found.model_copy(update={"pumps": pumps})).vessels[0].inflows
    assert slow[1].flow == pytest.approx(drains(found).vessels[0].inflows[1].flow)
