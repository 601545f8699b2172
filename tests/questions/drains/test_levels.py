"""The level at which what leaves is what comes: closed forms, and what must always hold."""

from __future__ import annotations

from math import pi

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from balance.parts import weirs
from balance.questions.drains.levels import Overflow, Standing, rising_root
from tests.questions.drains.plans import GPH, INCH, box, drain, overflow, siphon, trio

STANDPIPE = drain("standpipe", role="open", inlet="52 in", size="2 in")


def stands(vessel: Overflow, flow: float, *, full: bool = False, blocked: int = -1) -> Standing:
    """One case: all of a flow over the weir."""
    count = len(vessel.drains)
    lost = (np.arange(count) == blocked)[:, None]
    primed = vessel.siphons[:, None] & full & ~lost
    return vessel.standing(np.zeros(1), np.array([[flow]]), lost, primed)


def test_one_standpipe_is_a_round_weir() -> None:
    vessel = overflow(box(), STANDPIPE)
    flow = 200.0 * GPH
    # Q = 1.83 pi D h^1.5 by hand, D of 2 in schedule 40.
    bore = vessel.drains[0].lip_bore
    assert bore == pytest.approx(0.0525, abs=0.0006)
    head = (flow / (1.83 * pi * bore)) ** (2.0 / 3.0)
    assert stands(vessel, flow).level[0] == pytest.approx(52 * INCH + head, abs=1e-9)


def test_two_equal_siphons_share_equally() -> None:
    vessel = overflow(box(), siphon("one"), siphon("two"))
    single = overflow(box(), siphon("one"))
    flow = 600.0 * GPH
    found = stands(vessel, flow, full=True)
    assert found.flow[:, 0] == pytest.approx([flow / 2.0] * 2, rel=1e-9)
    assert found.level[0] == pytest.approx(stands(single, flow / 2.0, full=True).level[0])


def test_the_tank_stands_over_its_crest_by_the_head_of_the_weir() -> None:
    flow = 400.0 * GPH
    head = (flow / (1.84 * 10 * INCH)) ** (2.0 / 3.0)
    found = stands(overflow(box(), trio()), flow, full=True)
    assert found.level[0] < 55.5 * INCH
    assert found.tanks[0, 0] == pytest.approx(55.5 * INCH + head, abs=1e-9)


def test_a_box_above_the_crest_drowns_the_weir() -> None:
    vessel = overflow(box(crest="52.5 in"), drain("emergency", role="emergency", inlet="53 in"))
    flow = 60.0 * GPH
    found = stands(vessel, flow)
    assert found.level[0] > 53 * INCH
    free = 52.5 * INCH + float(weirs.straight_head(flow, length=10 * INCH))
    assert found.tanks[0, 0] > max(free, found.level[0])
    over = weirs.drowned(found.tanks[0] - 52.5 * INCH, found.level - 52.5 * INCH, length=10 * INCH)
    assert over[0] == pytest.approx(flow, rel=1e-9)


def test_what_drains_do_not_carry_runs_over_the_rim_that_is_reached_first() -> None:
    small = drain("emergency", role="emergency", inlet="53 in")
    flow = 300.0 * GPH
    tank = stands(overflow(box(), small), flow)
    assert tank.spilt[0] == 0.0
    assert tank.tanks[0, 0] == pytest.approx(60 * INCH)
    assert tank.spilt_tanks[0, 0] + tank.flow.sum() == pytest.approx(flow, rel=1e-9)
    low = stands(overflow(box(rim="54.5 in"), small), flow)
    assert low.spilt_tanks[0, 0] == 0.0
    assert low.level[0] == pytest.approx(54.5 * INCH)
    assert low.spilt[0] + low.flow.sum() == pytest.approx(flow, rel=1e-9)


def test_a_box_that_is_not_in_the_plan_lies_behind_the_vessels_own_weir() -> None:
    explicit = overflow(box(), trio())
    implied = overflow(trio(of="tank"), vessel="tank", own_weir=True)
    assert implied.behind
    for flow in (100.0 * GPH, 500.0 * GPH, 900.0 * GPH):
        one, other = (stands(each, flow, full=True) for each in (explicit, implied))
        assert one.level[0] == pytest.approx(other.level[0], abs=1e-12)
        assert one.tanks[0, 0] == pytest.approx(other.tanks[0, 0], abs=1e-12)


def test_a_blocked_drain_is_one_that_is_not_there() -> None:
    pipes = (
        siphon(),
        drain("trickle", role="trickle", inlet="52 in"),
        drain("emergency", role="emergency", inlet="53 in", size="2 in"),
    )
    whole = overflow(box(), *pipes)
    for lost in range(3):
        rest = overflow(box(), *(pipe for place, pipe in enumerate(pipes) if place != lost))
        for flow in (50.0 * GPH, 300.0 * GPH, 700.0 * GPH):
            one = stands(whole, flow, full=True, blocked=lost)
            other = stands(rest, flow, full=True)
            assert one.level[0] == pytest.approx(other.level[0], abs=1e-12)
            assert np.delete(one.flow[:, 0], lost) == pytest.approx(other.flow[:, 0], rel=1e-9)
            assert one.flow[lost, 0] == 0.0


@given(
    st.lists(st.floats(1.0, 2000.0), min_size=2, max_size=8),
    st.floats(52.5, 58.0),
    st.booleans(),
    st.integers(-1, 2),
)
def test_flows_close_and_levels_rise_with_what_comes(
    flows: list[float],
    crest: float,
    full: bool,  # noqa: FBT001  # drawn
    blocked: int,
) -> None:
    vessel = overflow(box(crest=f"{crest} in"), trio())
    fed = np.sort(np.array([flows])) * GPH
    count = fed.shape[1]
    lost = np.repeat((np.arange(3) == blocked)[:, None], count, axis=1)
    found = vessel.standing(np.zeros(count), fed, lost, vessel.siphons[:, None] & full & ~lost)
    assert (found.off <= 1e-9 * fed[0]).all()
    gone = found.flow.sum(axis=0) + found.spilt + found.spilt_tanks[0]
    assert gone == pytest.approx(fed[0], rel=1e-9)
    assert (np.diff(found.level) >= -1e-12).all()
    assert (np.diff(found.tanks[0]) >= -1e-12).all()
    assert (found.tanks[0] >= found.level - 1e-9).all()
    assert (found.tanks[0] <= 60 * INCH + 1e-9).all()


def test_what_is_greatest_is_just_carried() -> None:
    vessel = overflow(box(), trio())
    lost = np.zeros((3, 1), dtype=np.bool_)
    primed = vessel.siphons[:, None]
    most = float(vessel.greatest(lost, primed)[0])
    assert stands(vessel, 0.999999 * most, full=True).spilt_tanks.sum() == 0.0
    assert stands(vessel, 1.00001 * most, full=True).spilt_tanks.sum() > 0.0


def test_roots_of_rising_functions_and_bounds_where_there_is_none() -> None:
    low, high = np.zeros(3), np.ones(3)
    wanted = np.array([0.25, -1.0, 2.0])
    assert rising_root(lambda x: x - wanted, low, high) == pytest.approx([0.25, 0.0, 1.0])
