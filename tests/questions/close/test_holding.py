"""Which one or two handles hold the others when something is shut."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from balance.network.arrays import Network, network_of
from balance.network.solve import settled, solve
from balance.plan.model import Plan
from balance.questions.close import close, search
from balance.questions.close.advice import Holding, Remedy
from balance.questions.close.holding import TELLING, WORTH, hold
from balance.questions.marks import Marks
from balance.questions.settings import settings as ask_settings
from tests import laws
from tests.questions.close.shutting import badness, cases, flows_of, held, moved
from tests.questions.settings.manifolds import (
    FREE,
    GPH,
    RISER_VALVE,
    STRONG,
    branch,
    manifold,
    read_text_of,
)

BALL = '{{ valve = "ball", size = "3/4 in", open = "{}" }}'
LOCKED = '{ valve = "ball", size = "3/4 in", open = "45 deg", locked = true }'
FREE_END = '{ outlet = "free", height = "10 in" }'
SHUT = BALL.format("shut")
# Head that hardly falls with flow, whatever flows.
FLAT = ("0 gph at 6 ft", "2000 gph at 5.99 ft", "3000 gph at 0 ft")
# Head that falls much, so that what is shut is felt by all.
STEEP = ("0 gph at 14 ft", "400 gph at 9 ft", "800 gph at 3 ft", "1000 gph at 0 ft")
# The parts of these plans are set for their targets first, as a keeper would.
NARROW = 'tolerance = "4 %"'
THREE = (
    branch("a", 'target = "200 gph"', NARROW, to="tank"),
    branch("b", 'target = "150 gph"', NARROW, length="50 in"),
    branch("c", 'target = "90 gph"', NARROW),
)


def at_target(plan: Plan) -> Plan:
    return ask_settings(plan).plan


FIXED = at_target(manifold(*THREE, points=STEEP))
SPARE = at_target(manifold(*THREE, branch("spare", valve=SHUT), points=STEEP))
SPEED = at_target(manifold(*THREE, points=STEEP, speed=FREE))
RANGED = at_target(manifold(*THREE, points=STRONG, speed=FREE))
UNSET = manifold(*THREE, branch("d", valve=BALL.format("30 deg")), points=STEEP, speed=FREE)
PLANS = {"fixed": FIXED, "spare": SPARE, "speed": SPEED, "ranged": RANGED, "unset": UNSET}
COARSE = Marks(degrees=5.0)


def every_move(plan: Plan, marks: Marks, *, shut: str) -> list[tuple[str, list[float]]]:
    """Each handle that may move, and all of its marks, reckoned anew."""
    found = [
        (ref.name, [n * marks.degrees / 90.0 for n in range(round(90.0 / marks.degrees) + 1)])
        for ref in plan.valves()
        if ref.name != shut
    ]
    for name, pump in plan.pumps.items():
        if pump.speed_range is not None:
            low, high = (round(100 * speed) for speed in pump.speed_range)
            found.append((name, [n / 100.0 for n in range(low, high + 1)]))
    return found


def with_one(plan: Plan, name: str, to: float) -> Plan:
    return plan.with_speed({name: to}) if name in plan.pumps else plan.with_openings({name: to})


@pytest.mark.parametrize("name", PLANS)
@pytest.mark.parametrize("shut", ["a", "b", "c"])
def test_no_other_mark_of_one_handle_is_better(name: str, shut: str) -> None:
    plan, before = PLANS[name], flows_of(PLANS[name])
    as_shut = plan.with_openings({shut: 0.0})
    off = badness(as_shut, before, shut=(shut,))
    found = held(plan, shut, marks=COARSE)
    least = min(
        badness(with_one(as_shut, handle, to), before, shut=(shut,))
        for handle, marks in every_move(plan, COARSE, shut=shut)
        for to in marks
    )
    assert not found.leave
    if found.single is None:
        assert 1.0 - np.sqrt(least / off) < WORTH
        return
    ours = badness(moved(as_shut, found.single), before, shut=(shut,))
    assert len(found.single.turns) == 1
    assert ours <= least + 1.1 * TELLING
    assert found.single.undone == pytest.approx(1.0 - np.sqrt(ours / off), abs=1e-5)


def test_by_the_degree_it_is_the_least_move_of_those_that_are_as_good() -> None:
    plan, before = SPARE, flows_of(SPARE)
    as_shut = plan.with_openings({"a": 0.0})
    found = held(plan, "a").single
    assert found is not None
    (turn,) = found.turns
    off = {
        (handle, to): badness(with_one(as_shut, handle, to), before, shut=("a",))
        for handle, marks in every_move(plan, Marks(), shut="a")
        for to in marks
    }
    least = min(off.values())
    ours = badness(moved(as_shut, found), before, shut=("a",))
    assert ours <= least + 1.1 * TELLING
    nearer = [
        cost for (handle, to), cost in off.items() if handle == turn.name and to < turn.to - 1e-9
    ]
    assert turn.stood == 0.0
    assert min(nearer) > least + 0.9 * TELLING


def all_pairs(plan: Plan, network: Network, shut: str) -> float:
    """The least badness of all pairs of coarse marks, all of them solved."""
    places = {valve.name: row for row, valve in enumerate(network.valves)}
    pumps = {machine.name: row for row, machine in enumerate(network.machines)}
    openings, speeds = [], []
    handles = every_move(plan, COARSE, shut=shut)
    for (one, its), (other, others) in combinations(handles, 2):
        for first in its:
            for second in others:
                at, run = network.openings[:, 0].copy(), network.speeds[:, 0].copy()
                at[places[shut]] = 0.0
                for name, to in ((one, first), (other, second)):
                    if name in pumps:
                        run[pumps[name]] = to
                    else:
                        at[places[name]] = to
                openings.append(at)
                speeds.append(run)
    laws_, dry = network.at(np.array(openings).T, np.array(speeds).T)
    state = settled(network, laws_, held=dry, scenarios=len(openings))
    total = np.zeros(len(openings))
    before = flows_of(plan)
    for each in plan.branches:
        was = before[each.name]
        if each.name == shut or (each.target is None and was == 0.0):
            continue
        aim = was if each.target is None else each.target.aim
        off = np.abs(state.flow[network.row_of[each.name]] / aim - 1.0)
        weight, owed = (0.05, 0.1) if each.target is None else (1.0, each.tolerance or 0.1)
        total += weight * (np.maximum(off - owed, 0.0) ** 2 + 1e-3 * off**2)
    return float(np.where(state.converged, total, np.inf).min())


@pytest.mark.parametrize("name", ["fixed", "spare", "speed", "unset"])
@pytest.mark.parametrize("shut", ["a", "b", "c"])
def test_no_other_pair_of_marks_is_better(
    name: str, shut: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    # However little two moves gain over one, they are told here.
    monkeypatch.setattr("balance.questions.close.holding.WORTH", -1.0)
    plan, before = PLANS[name], flows_of(PLANS[name])
    found = held(plan, shut, marks=COARSE)
    best = found.pair or found.single
    assert best is not None
    ours = badness(moved(plan.with_openings({shut: 0.0}), best), before, shut=(shut,))
    assert ours <= all_pairs(plan, network_of(plan), shut) + 1.1 * TELLING


def test_fewer_marks_at_first_lead_to_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    network = network_of(SPARE)
    each = cases(network, {"a": 0.0}, {"b": 0.0}, {"c": 0.0})
    whole = hold(network, each)
    monkeypatch.setattr(search, "MOST_AT_ONCE", 60)
    for fewer, every in zip(hold(network, each), whole, strict=True):
        assert fewer.single is not None
        assert every.single is not None
        (one,), (other,) = fewer.single.turns, every.single.turns
        assert one.name == other.name
        # Where nobody could tell two marks apart, either will do.
        assert abs(one.mark - other.mark) <= 2.0
        assert fewer.single.undone == pytest.approx(every.single.undone, abs=0.005)


def test_of_like_branches_it_does_not_matter_which_is_shut() -> None:
    # Both at the end of one joint, so that neither comes first.
    text = [
        branch(name, 'target = "150 gph"', NARROW).replace(
            f'name = "{name}"', f'name = "{name}"\nfrom = "foot"'
        )
        for name in ("left", "right")
    ]
    spare = branch("spare", valve=SHUT).replace('name = "spare"', 'name = "spare"\nfrom = "foot"')
    plan = at_target(read_text_of("".join((*text, spare)), points=STEEP))
    one, other = held(plan, "left"), held(plan, "right")
    assert one.single is not None
    assert other.single is not None
    assert one.single.turns == other.single.turns
    assert one.single.undone == pytest.approx(other.single.undone, abs=1e-9)
    assert one.others[0].disturbed == pytest.approx(other.others[0].disturbed, rel=1e-9)


def test_a_flat_pump_holds_the_others_by_itself() -> None:
    found = held(at_target(manifold(*THREE, points=FLAT)), "c")
    assert found.leave
    assert (found.single, found.pair, found.missed) == (None, None, ())
    assert found.strayed < 0.05


def test_the_pumps_speed_may_be_the_remedy() -> None:
    found = held(SPEED, "a").single
    assert found is not None
    (turn,) = found.turns
    assert (turn.name, turn.handle) == ("main", "speed")
    assert turn.to < turn.stood == SPEED.pumps["main"].speed
    assert turn.mark == pytest.approx(round(turn.mark))
    assert found.undone > 0.8


def test_a_spare_may_take_what_the_shut_branch_took() -> None:
    found = held(SPARE, "a")
    assert found.single is not None
    (turn,) = found.single.turns
    assert (turn.name, turn.stood) == ("spare", 0.0)
    assert found.single.missed == ()
    assert found.missed != ()
    spare = [row.branch for row in found.others].index("spare")
    assert found.others[spare].asked == ""
    assert found.single.flows[spare] > 100 * GPH


@pytest.mark.parametrize(
    "spare",
    [
        branch("spare", valve=SHUT, to="outside", outlet=FREE_END),  # would pump the sump dry
        branch("spare", valve=SHUT, to="tank"),  # might be more than the tank's drains carry
        branch("spare", valve=SHUT.replace(" }", ", locked = true }")),
        branch("spare", 'target = "100 gph"', valve=SHUT),  # shut on purpose
    ],
)
def test_what_must_stay_shut_does(spare: str) -> None:
    plan = manifold(*THREE, spare, points=STEEP)
    set_ = at_target(manifold(*THREE, points=STEEP))
    plan = plan.with_openings({ref.name: ref.part.open for ref in set_.valves()})
    found = held(plan, "a")
    for remedy in (found.single, found.pair):
        assert remedy is None or "spare" not in {turn.name for turn in remedy.turns}
    assert "spare" not in found.missed


def test_a_bleed_is_opened_wherever_it_leads() -> None:
    bleed = branch("bleed", 'target = ">= 0 gph"', valve=SHUT, to="tank")
    found = held(
        at_target(manifold(*THREE, bleed, points=STEEP)).with_openings({"bleed": 0.0}), "a"
    )
    assert found.single is not None
    assert [turn.name for turn in found.single.turns] == ["bleed"]


def test_a_spare_into_a_chamber_that_spills_back_is_opened() -> None:
    chamber = """
[vessels.chamber]
level = "14 in"
[[weirs]]
name = "baffle"
from = "chamber"
to = "sump"
crest = "13 in"
length = "6 in"
"""
    plan = manifold(*THREE, branch("spare", valve=SHUT, to="chamber"), points=STEEP, extra=chamber)
    set_ = {ref.name: ref.part.open for ref in FIXED.valves()}
    found = held(plan.with_openings(set_), "a")
    assert found.single is not None
    assert [turn.name for turn in found.single.turns] == ["spare"]


def test_locked_valves_and_stops() -> None:
    stops = '{ valve = "ball", size = "3/4 in", open = "45 deg", stops = ["38.5 deg", "60 deg"] }'
    plan = manifold(
        branch("a", 'target = "200 gph"'),
        branch("b", 'target = "120 gph"', valve=stops),
        branch("c", valve=LOCKED),
        points=STEEP,
    )
    found = held(plan, "a")
    assert found.single is not None
    (turn,) = found.single.turns
    # Its own stop, between two marks, is as far as it goes.
    assert turn.name == "b"
    assert turn.mark == pytest.approx(38.5)
    assert found.pair is None


def test_without_anything_to_move_nothing_is_advised() -> None:
    plan = manifold(
        branch("a", 'target = "200 gph"'),
        branch("b", 'target = "120 gph"', valve=LOCKED),
        points=STEEP,
    )
    found = held(plan, "a")
    assert (found.leave, found.single, found.pair) == (False, None, None)
    assert found.missed == ("b",)


def test_one_case_without_handles_beside_one_with_some() -> None:
    plan = manifold(
        branch("a", 'target = "200 gph"'),
        branch("b", 'target = "120 gph"', valve=LOCKED),
        points=STEEP,
    )
    network = network_of(plan)
    first, second = hold(network, cases(network, {"a": 0.0}, {"b": 0.0}))
    assert first.single is None
    assert second.single is not None


def test_a_clogged_branch_is_helped_by_its_own_valve() -> None:
    network = network_of(FIXED)
    (found,) = hold(network, cases(network, clogs={"b": 40.0}))
    assert "b" in found.missed
    assert found.single is not None
    (turn,) = found.single.turns
    assert turn.name == "b"
    assert turn.to > turn.stood


def test_what_is_turned_down_on_purpose_stays_there() -> None:
    network = network_of(FIXED)
    (found,) = hold(network, cases(network, {"a": 15.0 / 90.0}))
    assert [row.branch for row in found.others] == ["b", "c"]
    assert found.single is not None
    assert "a" not in {turn.name for turn in found.single.turns}


def test_what_a_shut_run_cuts_off_does_not_count() -> None:
    rest = RISER_VALVE + "".join(
        branch(name, 'target = "150 gph"').replace(
            f'name = "{name}"', f'name = "{name}"\nfrom = "{start}"'
        )
        for name, start in (("a", "top"), ("b", "top"), ("c", "foot"), ("d", "foot"))
    )
    plan = read_text_of(rest, points=STEEP)
    found = held(plan, "main valve")
    assert [row.asked for row in found.others] == ["", "", "flow", "flow"]
    assert found.missed == ("c", "d")
    assert found.single is not None
    assert {turn.name for turn in found.single.turns} <= {"c", "d"}


def test_water_that_runs_back_breaks_no_limit_where_there_is_none() -> None:
    # The tank runs empty through its own branch into those to the sump.
    plan = manifold(*THREE, points=STEEP, riser=RISER_VALVE)
    found = held(plan, "main valve")
    assert found.others[0].disturbed < 0.0
    assert (found.leave, found.missed) == (True, ())


def test_a_total_counts_while_all_its_branches_run() -> None:
    group = '\n[groups.both]\nbranches = ["a", "b"]\ntarget = "350 gph"\n'
    plan = manifold(*THREE, points=STEEP, extra=group)
    assert "both" in held(plan, "c").missed
    assert "both" not in held(plan, "a").missed


def test_a_limit_comes_before_a_target() -> None:
    limited = branch("b", 'target = "150 gph"', 'limits = "<= 155 gph"', length="50 in")
    plan = at_target(manifold(THREE[0], limited, THREE[2], points=STEEP))
    found = held(plan, "a")
    assert "b" in found.missed
    assert found.single is not None
    (turn,) = found.single.turns
    # c is farther from its target than b, yet only b breaks a limit.
    assert turn.name == "b"
    kept = dict(zip((row.branch for row in found.others), found.single.flows, strict=True))
    assert kept["b"] <= 155 * GPH * (1 + 1e-6)


def test_a_pump_left_outside_its_range_alone_is_no_peace() -> None:
    # The flows stay within their wide tolerances; the pump leaves its range.
    wide = 'tolerance = "90 %"'
    plan = at_target(
        manifold(
            branch("a", 'target = "250 gph"', wide),
            branch("b", 'target = "150 gph"', wide),
            branch("c", 'target = "90 gph"', wide),
            branch("spare", valve=SHUT),
        )
    )
    found = held(plan, "a")
    assert (found.outside_before, found.outside, found.missed) == ((), ("main",), ())
    assert not found.leave
    assert found.single is not None
    assert found.single.outside == ()


valves = st.sampled_from([BALL.format(f"{n} deg") for n in range(20, 91, 5)])
wanted = st.integers(40, 250)


@st.composite
def any_case(draw: st.DrawFn) -> tuple[Plan, str]:
    names = "abcd"[: draw(st.integers(2, 4))]
    branches = [
        branch(
            name,
            *([f'target = "{draw(wanted)} gph"'] if draw(st.booleans()) else []),
            to=draw(st.sampled_from(["sump", "tank"])),
            valve=draw(valves),
        )
        for name in names
    ]
    plan = manifold(
        *branches,
        *([branch("spare", valve=SHUT)] if draw(st.booleans()) else []),
        points=draw(st.sampled_from([STEEP, STRONG])),
        speed=draw(st.sampled_from(["", FREE])),
        riser=draw(st.sampled_from(["", RISER_VALVE])),
    )
    return plan, draw(st.sampled_from(names))


@settings(max_examples=25, deadline=None)
@given(any_case())
def test_what_holds_of_every_answer(case: tuple[Plan, str]) -> None:
    plan, shut = case
    found = held(plan, shut, marks=COARSE)
    as_shut = plan.with_openings({shut: 0.0})
    before, then = flows_of(plan), flows_of(as_shut)
    for row in found.others:
        assert row.branch != shut
        assert row.before == pytest.approx(before[row.branch], rel=1e-6, abs=1e-12)
        assert row.disturbed == pytest.approx(then[row.branch], rel=1e-6, abs=1e-12)
    if found.leave:  # nothing has moved that was not missed before, or all is well
        assert (found.single, found.pair) == (None, None)
        assert set(found.missed) <= set(found.missed_before)
    for remedy in (found.single, found.pair):
        if remedy is not None:
            check_remedy(as_shut, found, remedy, shut)
    if found.single is not None and found.pair is not None:
        assert found.pair.undone >= found.single.undone


def check_remedy(as_shut: Plan, found: Holding, remedy: Remedy, shut: str) -> None:
    assert WORTH <= remedy.undone <= 1.0
    assert 1 <= len(remedy.turns) <= 2
    for turn in remedy.turns:
        assert turn.name not in {shut, "spare"} or turn.stood == 0.0
        assert turn.to != turn.stood
    network = network_of(moved(as_shut, remedy))
    solution = solve(network)
    laws_, dry = network.at(network.openings, network.speeds)
    laws.check_laws(network.topology, laws_, solution.state, shut=dry)
    laws.check_loops(network.topology, laws_, solution.state)
    for row, flow in zip(found.others, remedy.flows, strict=True):
        assert flow == pytest.approx(solution.flow(row.branch), rel=1e-6, abs=1e-12)


@settings(max_examples=20, deadline=None)
@given(any_case())
def test_pairs_of_any_manifold_are_about_the_best(case: tuple[Plan, str]) -> None:
    plan, shut = case
    before = flows_of(plan)
    found = held(plan, shut, marks=COARSE)
    judged = any(p.curve.power is not None for pump in plan.pumps.values() for p in pump.curve)
    too_few = len(every_move(plan, COARSE, shut=shut)) < 2
    if found.leave or judged or too_few or min(before.values()) < 0.0:
        return  # `all_pairs` knows no useful range and no flow backwards
    off = badness(plan.with_openings({shut: 0.0}), before, shut=(shut,))
    least = all_pairs(plan, network_of(plan), shut)
    best = found.pair or found.single
    told = best.undone if best is not None else 0.0
    # What is left out is a pair that is not worth a second handle, or a remedy worth nothing.
    assert told >= 1.0 - np.sqrt(least / off) - WORTH - 0.01


def test_answers_as_plain_values_and_tables() -> None:
    found = held(SPARE, "a")
    assert found.single is not None
    plain = found.to_dict()
    assert plain["single"]["turns"][0]["name"] == "spare"
    assert plain["single"]["undone_percent"] == pytest.approx(100 * found.single.undone)
    table = found.to_frame()
    assert list(table["branch"]) == ["b", "c", "spare"]
    assert table["single_l_per_h"].iloc[0] == pytest.approx(found.single.flows[0] * 3.6e6)


def test_where_nothing_moves_nothing_is_advised() -> None:
    """A branch that clogs by nothing, in a plan that is off its targets."""
    off = SPARE.with_openings({"b": 0.9})
    (case,) = close(off, clogged={"a": 0.0}, hold_others=True).cases
    assert case.holding is not None
    assert case.holding.leave
    assert (case.holding.single, case.holding.pair) == (None, None)
    assert case.holding.missed
