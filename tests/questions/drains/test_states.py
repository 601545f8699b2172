"""What counts: regimes, states that last, what floods, and what a person is told."""

from __future__ import annotations

from itertools import combinations
from pathlib import Path

import pytest

from balance.errors import UnknownNameError, UsageError
from balance.plan.model import Plan
from balance.plan.read import read
from balance.questions.drains import drains
from balance.questions.drains.answer import SUPPLIED, Case, VesselDrains
from tests.questions.drains.plans import GPH, INCH, box, drain, plan, siphon, trio

DEMO = Path(__file__).parents[3] / "pump_curves_demo"


def asked(found: Plan) -> VesselDrains:
    (vessel,) = drains(found).vessels
    return vessel


def case_of(vessel: VesselDrains, *blocked: str, primed: bool) -> Case:
    return next(
        case
        for case in vessel.cases
        if (case.blocked, case.primed, case.when) == (blocked, primed, "as it stands")
    )


def test_every_one_and_every_two_are_blocked_in_both_states_and_at_every_inflow() -> None:
    vessel = asked(plan(box(), trio()))
    names = [facts.drain for facts in vessel.drains]
    lost = {()} | {(name,) for name in names} | set(combinations(names, 2))
    expected = {
        (each, primed, when)
        for each in lost
        for primed in ((False,) if "siphon" in each else (True, False))
        for when in SUPPLIED
    }
    assert {(case.blocked, case.primed, case.when) for case in vessel.cases} == expected
    assert len(vessel.cases) == len(expected)


def test_blocking_is_leaving_out_of_the_plan() -> None:
    pipes = {
        "siphon": siphon(),
        "trickle": drain("trickle", role="trickle", inlet="52 in"),
        "emergency": drain("emergency", role="emergency", inlet="53 in", size="3 in"),
    }
    whole = asked(plan(box(), *pipes.values()))
    for name in pipes:
        rest = asked(plan(box(), *(text for each, text in pipes.items() if each != name)))
        for when in SUPPLIED:
            one, other = whole.judged((name,), when), rest.judged((), when)
            assert one.level == pytest.approx(other.level, abs=1e-9)
            assert (one.primed, one.lasts, one.floods) == (other.primed, other.lasts, other.floods)
            assert one.overflow == pytest.approx(other.overflow, abs=1e-12)


def test_regimes_by_froude_number_and_cover() -> None:
    vessel = asked(plan(box(), trio()).with_openings({"siphon": 0.19}))
    full = case_of(vessel, primed=True)
    by_name = {each.drain: each for each in full.drains}
    assert by_name["siphon"].froude == pytest.approx(
        by_name["siphon"].velocity / (9.80665 * vessel.drains[0].bore) ** 0.5, rel=1e-6
    )
    assert by_name["siphon"].regime == (
        "surely full" if by_name["siphon"].froude >= 2 else "full bore"
    )
    assert full.lasts
    lost = case_of(vessel, "siphon", primed=False)
    assert [each.regime for each in lost.drains] == ["blocked", "gulps", "open"]
    assert lost.drains[1].flow == pytest.approx(vessel.drains[1].open_capacity)


def test_a_gate_too_far_open_draws_in_air_and_does_not_last() -> None:
    vessel = asked(plan(box(), trio()).with_openings({"siphon": 1.0}))
    full = case_of(vessel, primed=True)
    assert full.drains[0].regime == "sucks air"
    assert not full.lasts
    assert not vessel.siphons[0].covered


def test_a_siphon_that_fills_is_not_counted_as_not_full() -> None:
    vessel = asked(plan(box(), trio()).with_openings({"siphon": 0.28}))
    assert vessel.siphons[0].fills == "never covered" or not case_of(vessel, primed=False).lasts
    low = asked(plan(box(), siphon(), drain("emergency", role="emergency", inlet="53 in")))
    assert low.siphons[0].fills in ("yes", "surely")
    assert not case_of(low, primed=False).lasts


def trimmed(*pipes: str) -> Plan:
    """A plan at full speed, its gate at the aim for that."""
    found = plan(box(), *pipes).with_speed({"main": 1.0})
    (gate,) = asked(found).gates
    return found.with_openings({"siphon": gate.aim.opening or 0.0})


WIDE = (
    siphon()
    + drain("trickle", role="trickle", inlet="52 in", size="2 in")
    + drain("emergency", role="emergency", inlet="53 in", size="3 in")
)
NARROW = trio().replace("3 in sch 40", "1 in sch 40")


def test_a_wide_emergency_keeps_all_dry_and_a_narrow_one_does_not() -> None:
    wide = asked(trimmed(WIDE))
    assert wide.safe
    assert wide.floods == ()
    assert wide.remedy is None
    answer = drains(trimmed(NARROW))
    (vessel,) = answer.vessels
    assert not answer.safe
    assert {case.blocked for case in vessel.floods if case.when == "as it stands"} == {("siphon",)}
    assert all(case.floods == ("tank",) for case in vessel.floods)


def test_the_remedy_carries_what_ran_over() -> None:
    found = trimmed(NARROW)
    vessel = asked(found)
    assert vessel.remedy is not None

    def with_one_more(bore: float) -> VesselDrains:
        more = f"""
[[drains]]
name = "second emergency"
from = "box"
to = "sump"
role = "emergency"
inlet = "53.1 in"
parts = [{{ pipe = "{1e3 * bore:.4f} mm bore", length = "40 in" }}]
"""
        return asked(trimmed(NARROW, more))

    assert with_one_more(1.0001 * vessel.remedy.bore).floods == ()
    assert with_one_more(0.9 * vessel.remedy.bore).floods != ()


def test_at_the_speed_that_is_told_no_single_blockage_floods_and_a_step_above_one_does() -> None:
    found = read(DEMO / "lagoon.toml")
    (vessel,) = drains(found, vessel="lagoon box").vessels
    assert vessel.quiet is not None
    assert vessel.quiet.pump == "main"
    for more, floods in ((0.0, False), (0.01, True)):
        set_to = found.with_speed({"main": vessel.quiet.speed + more})
        (again,) = drains(set_to, vessel="lagoon box").vessels
        standing = [case for case in again.floods if case.when == "as it stands"]
        assert bool(standing) == floods
        if not more:
            assert again.inflows[0].flow == pytest.approx(vessel.quiet.flow, rel=1e-6)


def test_where_no_speed_is_free_none_is_told() -> None:
    found = read(DEMO / "lagoon.toml")
    main = found.pumps["main"].model_copy(update={"speed_range": None, "speed": 1.0})
    fixed = found.model_copy(update={"pumps": {**found.pumps, "main": main}})
    (vessel,) = drains(fixed, vessel="lagoon box").vessels
    assert vessel.remedy is not None
    assert vessel.quiet is None


def test_capacity_falls_with_what_is_blocked_and_decides_what_floods() -> None:
    vessel = asked(trimmed(NARROW))
    whole, one, two = vessel.capacities
    assert (whole.blocked, one.blocked, two.blocked) == (0, 1, 2)
    assert whole.safe > one.safe > two.safe
    assert len(two.which) == 2
    for capacity in vessel.capacities:
        for inflow in vessel.inflows:
            case = vessel.judged(capacity.which, inflow.when)
            assert bool(case.floods) == (inflow.flow > capacity.safe)


def test_levels_rise_along_a_line_and_end_at_the_rim() -> None:
    lines = {line.state: line for line in asked(plan(box(), NARROW)).lines}
    assert set(lines) == {"siphon full", "siphon not full", "siphon blocked"}
    for line in lines.values():
        assert list(line.level) == sorted(line.level)
        assert line.level[-1] <= 60 * INCH
    assert lines["siphon blocked"].inflow[-1] < lines["siphon full"].inflow[-1]


def test_a_siphon_whose_end_is_not_told_is_an_open_pipe() -> None:
    joint = (
        siphon().replace('to = "sump"', 'to = "below"')
        + """
[[runs]]
name = "collector"
from = "below"
to = "sump"
parts = [{ pipe = "1 1/2 in sch 40", length = "10 in" }]
"""
    )
    vessel = asked(plan(box(), joint, drain("trickle", role="trickle", inlet="52 in")))
    assert vessel.siphons == ()
    assert any("is counted as an open pipe" in note for note in vessel.notes)


def test_notes_on_what_the_plan_leaves_open() -> None:
    bare = plan(box().replace('rim = "60 in"', ""), siphon().replace('inlet = "48 in"', ""))
    tank = bare.vessels["tank"].model_copy(update={"rim": None})
    vessel = asked(bare.model_copy(update={"vessels": bare.vessels | {"tank": tank}}))
    told = " ".join(vessel.notes)
    assert "does not say where its inlet is" in told
    assert "no rim is told" in told
    assert "has no emergency drain" in told
    shut = asked(plan(box(), trio()).with_openings({"siphon": 0.0}))
    assert any('"siphon" is shut' in note for note in shut.notes)
    assert shut.drains[0].shut
    assert shut.gates == ()


def test_a_name_picks_one_vessel_and_a_wrong_one_is_told() -> None:
    found = plan(box(), trio())
    assert [vessel.vessel for vessel in drains(found, vessel="BOX").vessels] == ["box"]
    with pytest.raises(UnknownNameError, match="box"):
        drains(found, vessel="bx")
    with pytest.raises(UsageError, match='"sump" has no drains; those with drains: box'):
        drains(found, vessel="sump")
    # A tank that spills into a box is answered with that.
    assert [vessel.vessel for vessel in drains(found, vessel="tank").vessels] == ["box"]
    with pytest.raises(UsageError, match=r"no drains.*\[\[drains\]\]"):
        drains(plan())


def test_drains_for_changes_are_left_out() -> None:
    change = drain("change drain", role="change", inlet="50 in")
    answer = drains(plan(box(), trio(), change))
    assert "change drain" not in {facts.drain for facts in answer.vessels[0].drains}
    assert any("water changes are left out" in note for note in answer.notes)


def test_all_levels_close() -> None:
    assert drains(plan(box(), trio())).worst_unclosed <= 1e-9
    frame = drains(plan(box(), trio())).to_frame()
    assert {"drain", "flow_l_per_h", "regime", "vessel", "blocked"} <= set(frame.columns)
    one = frame[(frame["when"] == "as it stands") & (frame["blocked"] == "") & frame["primed"]]
    (vessel,) = drains(plan(box(), trio())).vessels
    assert one["flow_l_per_h"].sum() == pytest.approx(vessel.inflows[0].flow * 3.6e6, rel=1e-9)
    assert vessel.inflows[0].flow > 100 * GPH


def test_what_cannot_be_reckoned_is_told() -> None:
    bare = drain("hole", role="open", inlet="52 in").replace(
        '{ pipe = "1 in sch 40", length = "40 in" }', ""
    )
    with pytest.raises(UsageError, match='"hole" has no part that tells its bore; write parts'):
        drains(plan(box(), bare))
    still = plan(box(), trio()).model_copy(update={"pumps": {}, "branches": ()})
    with pytest.raises(UsageError, match="nothing brings water"):
        drains(still)


def test_a_stopped_pump_has_no_gate_to_set_and_still_a_full_speed() -> None:
    found = plan(box(), trio())
    (vessel,) = drains(found.with_speed({"main": 0.0})).vessels
    (running,) = drains(found).vessels
    assert vessel.inflows[0].flow == 0.0
    assert [each.flow for each in vessel.inflows[1:]] == pytest.approx(
        [each.flow for each in running.inflows[1:]]
    )
    assert (vessel.gates, vessel.siphons, vessel.aimed) == ((), (), ())
    assert {each.regime for each in vessel.as_it_runs.drains} == {"dry"}
    assert any("nothing comes into" in note for note in vessel.notes)


def test_an_inlet_above_the_rim_carries_nothing_before_that_runs_over() -> None:
    vessel = asked(plan(box(rim="54 in"), drain("high", role="emergency", inlet="55 in")))
    case = vessel.as_it_runs
    assert case.floods == ("box",)
    assert case.level == pytest.approx(54 * INCH)
    assert case.overflow == pytest.approx(case.inflow)


# Alone in its box, so that what it carries full is all that is carried.
STANDPIPE = drain("standpipe", role="open", inlet="52 in", size="1 1/2 in")


def test_a_drain_of_any_role_may_run_full_and_is_not_counted_on_to() -> None:
    vessel = asked(plan(box(), STANDPIPE).with_speed({"main": 1.0}))
    (facts,) = vessel.drains
    full = asked(plan(box(), STANDPIPE.replace('"open"', '"siphon"')))
    assert facts.full is not None
    assert facts.full_froude is not None
    assert facts.full_froude >= 1.0
    assert facts.full > facts.open_capacity == vessel.capacities[0].safe
    case = vessel.as_it_runs
    assert case.floods == ("tank",)
    assert case.running_full == pytest.approx(full.capacities[0].primed)
    assert case.running_full > case.inflow
    assert not case.surely
    blocked = vessel.judged(("standpipe",), "as it stands")
    assert blocked.running_full == 0.0
    assert blocked.surely
    assert not vessel.safe


def test_a_drain_whose_full_flow_would_not_sweep_air_out_floods_surely() -> None:
    # Throttled to a Froude number below 1.
    gated = drain(
        "standpipe",
        role="open",
        inlet="52 in",
        more='{ valve = "gate", size = "1 in", open = "10 %" },',
    )
    vessel = asked(plan(box(), gated).with_speed({"main": 1.0}))
    assert vessel.drains[0].full is None
    assert vessel.as_it_runs.surely


@pytest.mark.parametrize("end", ["level", "outlet"])
def test_a_drain_that_runs_uphill_carries_nothing(end: str) -> None:
    high = drain("uphill", role="open", inlet="52 in")
    if end == "level":
        high = (
            high.replace('to = "sump"', 'to = "high"')
            + """
[vessels.high]
bottom = "46 in"
level = "52.1 in"
length = "10 in"
width = "10 in"
"""
        )
    else:
        high = high.replace(
            'length = "40 in" }', 'length = "40 in" }, { outlet = "free", height = "52.1 in" }'
        )
    vessel = asked(plan(box(), high))
    assert vessel.drains[0].limit == "uphill"
    assert vessel.as_it_runs.drains[0].flow == 0.0
    assert vessel.as_it_runs.surely
    assert any('"uphill" runs uphill, its end lies above its inlet' in n for n in vessel.notes)
