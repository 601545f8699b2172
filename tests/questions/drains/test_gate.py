"""The gate of a siphon: set to its marks, the water stands where they say."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from balance.network.arrays import plan_water
from balance.network.gravity import gravity_drains
from balance.plan.model import Plan
from balance.questions.drains import drains
from balance.questions.drains.answer import Gate, Mark, VesselDrains
from balance.questions.drains.levels import overflow_of
from tests.questions.drains.plans import INCH, box, drain, plan, siphon, trio


def asked(found: Plan) -> VesselDrains:
    (vessel,) = drains(found).vessels
    return vessel


def the_gate(found: Plan) -> Gate:
    (gate,) = asked(found).gates
    return gate


def at(found: Plan, mark: Mark) -> VesselDrains:
    assert mark.opening is not None
    return asked(found.with_openings({"siphon": mark.opening}))


@pytest.mark.parametrize("own_weir", [False, True])
def test_set_to_a_mark_the_water_stands_where_it_says(own_weir: bool) -> None:  # noqa: FBT001  # two plans
    pipes = trio(of="tank") if own_weir else box() + trio()
    found = plan(pipes, own_weir=own_weir)
    vessel = asked(found)
    (gate,) = vessel.gates
    for mark in (gate.dry, gate.aim, gate.wet):
        there = at(found, mark)
        case = there.as_it_runs
        if mark is gate.aim:
            # What is told of that mark before is what is told once the gate stands there.
            floods = [(each.blocked, each.when, each.floods) for each in there.floods]
            assert floods == [(e.blocked, e.when, e.floods) for e in vessel.floods_at_aim]
            assert floods
            assert vessel.floods_at_aim != vessel.floods
            alone = [each for each in there.cases if len(each.blocked) < 2]
            for one, other in zip(vessel.aimed, alone, strict=True):
                assert one.level == pytest.approx(other.level, abs=1e-9)
        assert case.primed
        assert case.lasts
        assert case.level == pytest.approx(mark.level, abs=1e-6)
        flows = {each.drain: each.flow for each in case.drains}
        assert flows["siphon"] == pytest.approx(mark.siphon, rel=1e-4)
        assert flows["trickle"] / case.inflow == pytest.approx(mark.trickle, abs=1e-4)


def test_at_its_aim_the_trickle_carries_a_twentieth() -> None:
    gate = the_gate(plan(box(), trio()))
    assert gate.aim.trickle == pytest.approx(0.05)
    assert gate.dry.trickle == 0.0
    assert gate.dry.level == pytest.approx(52 * INCH)
    assert gate.dry.level < gate.aim.level < gate.wet.level
    assert (gate.dry.opening or 0) > (gate.aim.opening or 0) > (gate.wet.opening or 0)
    assert gate.height == pytest.approx(gate.wet.level - gate.dry.level)


def test_the_window_ends_at_the_next_inlet_where_that_is_lower() -> None:
    close = drain("emergency", role="emergency", inlet="52.1 in", size="3 in")
    trickle = drain("trickle", role="trickle", inlet="52 in", size="2 in")
    gate = the_gate(plan(box(), siphon(), trickle, close))
    assert gate.upper == "next inlet"
    assert gate.wet.level == pytest.approx(52.1 * INCH)
    assert the_gate(plan(box(), trio())).upper == "safe flow"


def test_as_it_stands_is_told_against_the_window() -> None:
    found = plan(box(), trio())
    gate = the_gate(found)
    for mark, more, state in (
        (gate.dry, 0.02, "too far open"),
        (gate.aim, 0.0, "inside"),
        (gate.wet, -0.02, "not far enough open"),
    ):
        now = the_gate(found.with_openings({"siphon": (mark.opening or 0.0) + more}))
        assert now.state == state
        # The window does not depend on where the gate stands.
        assert now.aim.opening == pytest.approx(gate.aim.opening, abs=1e-9)


def test_how_far_the_inflow_may_change_is_what_carries_it_to_either_end() -> None:
    found = plan(box(), trio())
    gate = the_gate(found)
    set_ = found.with_openings({"siphon": gate.aim.opening or 0.0})
    box_ = overflow_of(set_, "box", gravity_drains(set_, plan_water(set_)))
    inflow = asked(set_).inflows[0].flow
    changed = inflow * np.array([[1.0 - gate.falls, 1.0 + gate.rises]])
    none = np.zeros((3, 2), dtype=np.bool_)
    level = box_.standing(np.zeros(2), changed, none, none | box_.siphons[:, None]).level
    assert level == pytest.approx([gate.dry.level, gate.wet.level], abs=1e-6)
    assert 0.0 < gate.falls < 0.2
    assert 0.0 < gate.rises < 0.5


def test_a_siphon_too_small_wide_open_has_no_mark() -> None:
    small = siphon(size="1/2 in")
    rest = trio().removeprefix(siphon())
    gate = the_gate(plan(box(), small, rest).with_speed({"main": 1.0}))
    assert gate.aim.opening is None
    assert gate.aim.mark == ""
    assert gate.state == "not far enough open"


def test_without_a_trickle_or_a_free_gate_there_is_no_window() -> None:
    assert asked(plan(box(), siphon())).gates == ()
    emergency = drain("emergency", role="emergency", inlet="53 in", size="3 in")
    assert the_gate(plan(box(), siphon(), emergency)).role == "emergency"
    locked = trio().replace("turns = 6", "turns = 6, locked = true")
    assert asked(plan(box(), locked)).gates == ()


def test_a_pipe_too_wide_for_what_comes_does_not_hold_full() -> None:
    rest = trio().removeprefix(siphon())
    gate = the_gate(plan(box(), siphon(size="2 in", inlet="46.5 in"), rest))
    assert gate.froude < 1.0
    assert the_gate(plan(box(), trio())).froude > 1.0


def test_two_siphons_are_trimmed_together_and_share_by_area() -> None:
    rest = trio().removeprefix(siphon())
    pipes = siphon("siphon"), siphon("narrow", size="3/4 in")
    found = plan(box(), *pipes, rest).with_speed({"main": 1.0})
    one, other = asked(found).gates
    aims = {gate.valve: gate.aim.opening or 0.0 for gate in (one, other)}
    case = asked(found.with_openings(aims)).as_it_runs
    flows = {each.drain: each.flow for each in case.drains}
    assert case.level == pytest.approx(one.aim.level, abs=1e-6)
    bores = {facts.drain: facts.bore for facts in asked(found).drains}
    share = (bores["narrow"] / bores["siphon"]) ** 2
    assert flows["narrow"] / flows["siphon"] == pytest.approx(share, rel=1e-4)
    assert flows["trickle"] / case.inflow == pytest.approx(one.aim.trickle, rel=1e-3)


def test_where_the_others_carry_all_there_is_nothing_to_trim() -> None:
    locked = siphon("other", open_="full").replace("turns = 6", "turns = 6, locked = true")
    assert asked(plan(box(), locked, trio())).gates == ()


def test_a_trickle_above_the_rim_is_nothing_to_trim_by() -> None:
    high = drain("trickle", role="trickle", inlet="55 in")
    assert asked(plan(box(rim="54 in"), siphon(), high)).gates == ()


@settings(max_examples=4, deadline=None, phases=[Phase.explicit, Phase.generate])
@given(st.floats(0.65, 1.0), st.floats(48.7, 52.5), st.floats(1.0, 3.0))
def test_whatever_comes_the_aim_puts_the_water_where_it_says(
    speed: float, inlet: float, emergency: float
) -> None:
    pipes = (
        siphon(),
        drain("trickle", role="trickle", inlet=f"{inlet} in"),
        drain("emergency", role="emergency", inlet=f"{inlet + emergency} in", size="3 in"),
    )
    found = plan(box(), *pipes).with_speed({"main": speed})
    gate = the_gate(found)
    assert gate.dry.level < gate.aim.level < gate.wet.level
    if gate.aim.opening is None:
        return
    now = the_gate(found.with_openings({"siphon": gate.aim.opening}))
    assert now.state == "inside"
    assert now.now.level == pytest.approx(gate.aim.level, abs=1e-6)
    assert gate.falls > 0.0
    assert gate.rises > 0.0


def test_an_inlet_too_little_below_the_trickles_has_no_mark() -> None:
    low = drain("trickle", role="trickle", inlet="49 in")
    gate = the_gate(plan(box(), siphon(), low).with_speed({"main": 1.0}))
    assert gate.aim.opening is None
    assert not gate.covered
    assert the_gate(plan(box(), trio())).covered
