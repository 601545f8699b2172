"""Cases that trap a naive search, each with the answer that a careful person would give."""

from __future__ import annotations

import numpy as np
import pytest

from balance.errors import UsageError
from balance.network.arrays import network_of
from balance.network.settle import settle
from balance.plan.model import Plan
from balance.plan.read import read_text
from balance.questions.settings import Settings, settings
from balance.questions.settings.search import search
from balance.units import parse

PUMP = """
[vessels.sump]
bottom = "0 in"
level = "10 in"
[vessels.tank]
bottom = "36 in"
level = "50 in"
[pumps.main]
points = ["0 gph at 20 ft", "400 gph at 18 ft", "800 gph at 13 ft", "1200 gph at 0 ft"]
from = "sump"
to = "foot"
%s
[[headers]]
name = "header"
from = "foot"
pipe = "1 in sch 40"
taps = [%s]
"""

BRANCH = """
[[branches]]
name = "%s"
to = "%s"
%s
parts = [
  { valve = "ball", size = "3/4 in"%s },
  { pipe = "3/4 in sch 40", length = "30 in" },
]
"""


def plan_of(*branches: tuple[str, str, str], pump: str = "", extra: str = "") -> Plan:
    """A pump, a header and branches given as (name, keys, keys of the valve)."""
    taps = ", ".join(f'{{ branch = "{name}", after = "4 in" }}' for name, _, _ in branches)
    text = PUMP % (pump, taps)
    text += "".join(
        BRANCH % (name, "tank" if name.startswith("tank") else "sump", keys, valve)
        for name, keys, valve in branches
    )
    return read_text(text + extra)


def flow(answer: Settings, branch: str) -> float:
    return next(row.flow for row in answer.branches if row.branch == branch)


def mark(answer: Settings, valve: str) -> float:
    return next(row.mark for row in answer.handles if row.valve == valve)


def gph(number: float) -> float:
    return parse(f"{number} gph", "flow")


def test_no_branch_sits_at_the_low_edge_of_its_tolerance() -> None:
    # Expected: the targets themselves, as near as marks of one degree allow; a tolerance does not
    # attract.
    answer = settings(plan_of(("a", 'target = "120 gph"', ""), ("b", 'target = "150 gph"', "")))
    assert answer.met
    assert flow(answer, "a") == pytest.approx(gph(120), rel=0.04)
    assert flow(answer, "b") == pytest.approx(gph(150), rel=0.04)


def test_at_most_is_not_answered_shut() -> None:
    # Expected: 5 % inside the bound, 57 gph.
    found = search(network_of(plan_of(("a", 'target = "<= 60 gph"', ""))))
    assert found.flow[0] == pytest.approx(gph(57), rel=1e-6)


def test_fixed_speed_pump_with_far_more_than_wanted() -> None:
    # Expected: targets met, every valve throttled well short of open.
    answer = settings(plan_of(("a", 'target = "100 gph"', ""), ("b", 'target = "100 gph"', "")))
    assert answer.met
    assert all(handle.opening < 0.6 for handle in answer.handles)


def test_branch_above_the_pumps_reach_is_named_first() -> None:
    # Expected: named, its valve shut, the other one met, the whole not met.
    plan = plan_of(("tank high", 'target = "100 gph"', ""), ("low", 'target = "100 gph"', ""))
    vessel = plan.vessels["tank"].model_copy(update={"level": 10.0})
    plan = plan.model_copy(update={"vessels": {**plan.vessels, "tank": vessel}})
    answer = settings(plan)
    assert not answer.met
    assert '"tank high" is out of reach' in answer.out_of_reach[0]
    assert mark(answer, "tank high") == 0.0
    assert next(row.met for row in answer.branches if row.branch == "low")


def test_sharers_with_free_speed_and_no_total() -> None:
    # Expected: the speed stays as it stands, the answer says so, the sharers part as asked.
    answer = settings(
        plan_of(
            ("a", "share = 1", ""),
            ("b", "share = 2", ""),
            ("c", 'target = "60 gph"', ""),
            pump='speed = "80 %"\nspeed_range = ["40 %", "100 %"]',
        )
    )
    assert answer.pumps[0].speed == pytest.approx(0.8)
    assert any("speed stays as it stands" in note for note in answer.notes)
    assert flow(answer, "b") / flow(answer, "a") == pytest.approx(2.0, rel=0.1)


def test_sharers_of_a_total_get_their_parts() -> None:
    # Expected: 300 gph in parts of one and two: 100 and 200.
    found = search(
        network_of(
            plan_of(
                ("a", "share = 1", ""),
                ("b", "share = 2", ""),
                pump='speed_range = ["40 %", "100 %"]',
                extra='[groups.both]\nbranches = ["a", "b"]\ntarget = "300 gph"\n',
            )
        )
    )
    assert found.flow == pytest.approx([gph(100), gph(200)], rel=1e-6)


def test_least_power_is_the_lowest_step_that_carries_the_targets() -> None:
    plan = plan_of(
        ("tank a", 'target = "200 gph"', ""),
        ("b", 'target = "100 gph"', ""),
        pump='speed_range = ["40 %", "100 %"]\nspeed_step = "5 %"\nuseful_range = ["0 %", "100 %"]',
    )
    found = search(network_of(plan))
    assert found.missed == 0.0
    speed = float(found.speeds[0, 0])
    assert speed / 0.05 == pytest.approx(round(speed / 0.05))
    # Expected: a step lower even the wide-open index branch falls short of its target.
    lower = search(
        network_of(
            plan_of(
                ("tank a", 'target = "200 gph"', ""),
                ("b", 'target = "100 gph"', ""),
                pump=f'speed = "{100 * (speed - 0.05):.0f} %"\nuseful_range = ["0 %", "100 %"]',
            )
        )
    )
    assert lower.flow[0] < gph(200) * (1 - 1e-4)


def test_sharers_stop_at_a_limit() -> None:
    # Expected: both get what the first may have at most, 120 gph, though the pump has more.
    found = search(
        network_of(
            plan_of(("a", 'share = 1\nlimits = ["20 gph", "120 gph"]', ""), ("b", "share = 1", ""))
        )
    )
    assert found.flow == pytest.approx([gph(120), gph(120)], rel=1e-6)


def test_locked_valve_is_left_alone() -> None:
    answer = settings(
        plan_of(
            ("a", 'target = "100 gph"', ', open = "30 deg", locked = true'),
            ("b", 'target = "100 gph"', ""),
        )
    )
    assert mark(answer, "a") == pytest.approx(30.0)


def test_stops_are_hard() -> None:
    answer = settings(plan_of(("a", 'target = "20 gph"', ', stops = ["30 deg", "90 deg"]')))
    assert mark(answer, "a") == pytest.approx(30.0)
    assert not answer.met


def test_marks_lie_where_they_are_asked() -> None:
    answer = settings(plan_of(("a", 'target = "120 gph"', "")), marks="5 deg")
    assert mark(answer, "a") % 5.0 == pytest.approx(0.0, abs=1e-9)


def test_nothing_asked() -> None:
    with pytest.raises(UsageError, match="no branch has a target"):
        settings(plan_of(("a", "", "")))


@pytest.mark.parametrize(
    "wish", ['target = "150 gph"', 'target = "600 gph"'], ids=["can be met", "cannot be met"]
)
def test_no_grid_of_openings_does_better(wish: str) -> None:
    """Every opening of two valves in steps of 2 degrees, solved in one batch."""
    network = network_of(plan_of(("a", wish, ""), ("tank b", 'target = "250 gph"', "")))
    found = search(network)
    degrees = np.arange(2.0, 90.1, 2.0) / 90.0
    grid = np.array(np.meshgrid(degrees, degrees)).reshape(2, -1)
    laws, shut = network.at(grid, np.ones((1, grid.shape[1])))
    state = settle(
        network.topology,
        laws,
        fixed_heads=network.fixed_heads,
        held=shut,
        scenarios=grid.shape[1],
    )
    rows = [network.row_of["a"], network.row_of["tank b"]]
    best = float(found.wishes.cost(state.flow[rows]).min())
    own = float(found.wishes.cost(found.flow[:, None])[0])
    assert own <= best + 1e-6


def test_back_calculated_by_hand() -> None:
    """On a tree the heads follow from the targets: the valve takes what is left of them."""
    network = network_of(plan_of(("a", 'target = "120 gph"', ""), ("b", 'target = "90 gph"', "")))
    found = search(network)
    state, laws = found.here.state, found.here.laws
    for place, name in enumerate(("a", "b")):
        row = network.row_of[name]
        valve = network.valves[place]
        k = valve.law.loss_coefficient(found.openings[place]).k[0]
        k_open = valve.law.loss_coefficient(np.ones(1)).k[0]
        q = state.flow[row, 0]
        left = network.topology.drop(state.heads)[row, 0] - laws(state.flow).head[row, 0]
        assert (k - k_open) * valve.places[0][1] * q**2 == pytest.approx(left, rel=1e-6)
