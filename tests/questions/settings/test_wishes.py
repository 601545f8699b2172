"""Wishes of every form, each with the answer that a careful person would give."""

from __future__ import annotations

import pytest

from balance.network.arrays import network_of
from balance.network.solve import solve
from balance.plan.model import Plan
from balance.questions.settings import Settings, settings
from balance.questions.settings.answer import BranchFlow
from balance.questions.settings.search import search
from tests.questions.settings.manifolds import (
    FREE,
    GPH,
    PLAIN,
    RISER_VALVE,
    WEAK,
    branch,
    manifold,
)

BOTH = '[groups.both]\nbranches = ["a", "b"]\ntarget = "{}"\n'


def row(answer: Settings, name: str) -> BranchFlow:
    return next(each for each in answer.branches if each.branch == name)


def exact(plan: Plan, name: str) -> float:
    """Flow before rounding to marks, in gallons an hour."""
    network = network_of(plan)
    found = search(network)
    return float(found.flow[[each.name for each in plan.branches].index(name)]) / GPH


def test_flow_inside_bounds_and_ranges() -> None:
    # 5 % inside a bound, the middle of a range.
    plan = manifold(
        branch("a", 'target = "<= 60 gph"'),
        branch("b", 'target = ">= 100 gph"'),
        branch("c", 'target = "100..140 gph"'),
        points=PLAIN,
    )
    assert exact(plan, "a") == pytest.approx(57.0, rel=1e-6)
    assert exact(plan, "b") == pytest.approx(105.0, rel=1e-6)
    assert exact(plan, "c") == pytest.approx(120.0, rel=1e-6)


@pytest.mark.parametrize("riser", ["", RISER_VALVE])
def test_far_too_strong_a_pump_is_throttled(riser: str) -> None:
    # 150 of 1200 gph at a fixed speed: every valve must burn nearly all of 8 ft.  A valve before
    # them takes half of what the least burdened has to burn, so their handles come further up.
    def plan(riser: str) -> Plan:
        return manifold(
            branch("a", 'target = "90 gph"'), branch("b", 'target = "60 gph"'),
            points=PLAIN, riser=riser,
        )  # fmt: skip

    answer = settings(plan(riser))
    assert answer.met
    alone = {each.valve: each.exact for each in settings(plan("")).handles}
    shared = {each.valve: each.exact for each in answer.handles}
    if riser:
        assert shared["a"] > alone["a"]
        assert shared["b"] > alone["b"]
        assert 0.0 < shared["main valve"] < 1.0
    network = network_of(plan(riser))
    found = search(network)
    again = solve(network, openings=found.openings, speeds=found.speeds)
    assert again.flow("a") / GPH == pytest.approx(90.0, rel=1e-5)
    assert again.flow("b") / GPH == pytest.approx(60.0, rel=1e-5)


@pytest.mark.parametrize("riser", ["", RISER_VALVE])
def test_out_of_reach_is_named_with_the_pumps_head(riser: str) -> None:
    # The loft's water stands at 130 in = 10.83 ft; the pump lifts 9 ft from 10 in: 9.83 ft.
    answer = settings(
        manifold(
            branch("a", 'target = "100 gph"'), branch("b", 'target = "100 gph"', to="loft"),
            points=PLAIN, riser=riser,
        )
    )  # fmt: skip
    (words,) = answer.out_of_reach
    assert words.startswith('"b" is out of reach')
    assert "10.8 ft" in words
    assert "9.8 ft" in words
    assert not answer.met
    assert row(answer, "a").met
    assert row(answer, "a").flow / GPH == pytest.approx(100.0, rel=0.05)
    assert next(each.opening for each in answer.handles if each.valve == "b") == 0.0
    assert row(answer, "b").flow == 0.0


def test_a_sharer_out_of_reach_is_not_met() -> None:
    answer = settings(
        manifold(branch("a", "share = 1"), branch("b", "share = 1", to="loft"), points=PLAIN)
    )
    assert not answer.met
    assert not row(answer, "b").met
    assert row(answer, "a").met


def test_sharers_of_the_rest_take_the_largest_part() -> None:
    # Fixed speed: the part grows until the valve of one of them is wide open; the other two keep
    # their proportion, and the branch with a target its flow.
    plan = manifold(
        branch("a", "share = 2", to="tank"), branch("b", "share = 1"),
        branch("c", 'target = "90 gph"'), points=PLAIN,
    )  # fmt: skip
    found = search(network_of(plan))
    a, b, c = found.flow / GPH
    assert a / b == pytest.approx(2.0, rel=1e-6)
    assert c == pytest.approx(90.0, rel=1e-6)
    assert found.openings[:2].max() == pytest.approx(1.0, abs=1e-3)


def test_sharer_beside_a_bound() -> None:
    # "a" needs 200 gph or more, aim 210; "b" has two shares of that.
    plan = manifold(
        branch("a", "share = 1", 'target = ">= 200 gph"'), branch("b", "share = 2"), points=PLAIN
    )
    assert exact(plan, "a") == pytest.approx(210.0, rel=1e-5)
    assert exact(plan, "b") == pytest.approx(420.0, rel=1e-5)
    # With at most 60 gph for "a" its part is 57.
    plan = manifold(
        branch("a", "share = 1", 'target = "<= 60 gph"'), branch("b", "share = 2"), points=PLAIN
    )
    assert exact(plan, "a") == pytest.approx(57.0, rel=1e-5)
    assert exact(plan, "b") == pytest.approx(114.0, rel=1e-5)


def test_total_less_what_a_member_wants_is_shared() -> None:
    # 400 gph for three, 100 of them for "c": 100 and 200 for the shares of one and two.
    plan = manifold(
        branch("a", "share = 1", to="tank"), branch("b", "share = 2"),
        branch("c", 'target = "100 gph"'), points=PLAIN, speed=FREE,
        extra='[groups.all]\nbranches = ["a", "b", "c"]\ntarget = "400 gph"\n',
    )  # fmt: skip
    assert [exact(plan, name) for name in "abc"] == pytest.approx([100.0, 200.0, 100.0], rel=1e-5)
    (total,) = settings(plan).totals
    assert (total.group, total.branches) == ("all", ("a", "b", "c"))
    assert total.met
    assert total.flow / GPH == pytest.approx(400.0, rel=0.05)
    assert total.asked is not None
    assert total.asked / GPH == pytest.approx(400.0)


def test_a_total_that_cannot_be_had_is_not_met() -> None:
    answer = settings(
        manifold(
            branch("a", "share = 1", to="tank"), branch("b", "share = 1"), points=WEAK,
            extra=BOTH.format("900 gph"),
        )
    )  # fmt: skip
    assert not answer.met


def test_a_total_alone_is_asked_and_told_where_it_is_missed() -> None:
    plan = manifold(branch("a", to="tank"), branch("b"), points=WEAK, extra=BOTH.format("900 gph"))
    answer = settings(plan)
    (total,) = answer.totals
    assert not answer.met
    assert not total.met
    assert total.asked is None
    assert answer.binding
    # Neither may be shut for the sake of the other: both are asked for.
    assert not any(text.startswith("shut") for text in answer.tried)
    met = settings(manifold(branch("a"), branch("b"), points=WEAK, extra=BOTH.format("300 gph")))
    assert met.met
    assert met.totals[0].flow / GPH == pytest.approx(300.0, rel=0.02)


def test_targets_that_do_not_add_up_to_their_total_are_told() -> None:
    answer = settings(
        manifold(
            branch("a", 'target = "100 gph"'), branch("b", 'target = "200 gph"'), points=PLAIN,
            extra=BOTH.format("600 gph"),
        )
    )  # fmt: skip
    assert not answer.met
    assert 'group "both": the targets of its branches add up to 300 gph' in answer.binding


def test_a_sharer_for_whom_nothing_is_left_is_shut() -> None:
    # "b" asks for more than the total already.
    answer = settings(
        manifold(
            branch("a", "share = 1", to="tank"), branch("b", 'target = "200 gph"'), points=PLAIN,
            extra=BOTH.format("150 gph"),
        )
    )  # fmt: skip
    assert row(answer, "a").flow == 0.0
    assert answer.handles[0].opening == 0.0
    assert not answer.met
    assert 'group "both": the targets of its branches add up to 200 gph' in answer.binding


def test_limit_before_target() -> None:
    # The middle of the range is 250 gph, but the branch may carry 220 at most.
    answer = settings(
        manifold(branch("a", 'target = "200..300 gph"', 'limits = "<= 220 gph"'), points=PLAIN)
    )
    assert row(answer, "a").met
    assert row(answer, "a").within_limits
    plan = manifold(
        branch("a", "share = 1", 'limits = "<= 120 gph"'), branch("b", "share = 1"),
        points=PLAIN, extra=BOTH.format("400 gph"),
    )  # fmt: skip
    # Its part of the total would be 200: it ends at its limit, and the answer says why.
    assert exact(plan, "a") == pytest.approx(120.0, rel=1e-4)
    answer = settings(plan)
    assert row(answer, "a").within_limits
    assert not row(answer, "a").met
    assert any('"a": its limits forbid its target' in words for words in answer.binding)


def test_bleed_frees_a_spare_for_the_pump() -> None:
    # 60 gph is far below the useful range; the spare carries the rest of it.
    few = branch("a", 'target = "60 gph"')
    answer = settings(manifold(few, branch("spare", 'target = ">= 0 gph"')))
    (pump,) = answer.pumps
    assert pump.in_useful_range
    assert row(answer, "a").met
    assert row(answer, "spare").flow > 0.0
    assert answer.bleed is None


def test_two_bleeds_and_a_free_speed() -> None:
    answer = settings(
        manifold(
            branch("a", 'target = "60 gph"', to="tank"), branch("b", 'target = ">= 0 gph"'),
            branch("c", 'target = ">= 0 gph"'), speed=FREE,
        )
    )  # fmt: skip
    assert answer.pumps[0].in_useful_range
    assert row(answer, "a").met


def test_nothing_is_left_for_sharers_where_a_target_is_short() -> None:
    plan = manifold(
        branch("a", 'target = "1200 gph"', to="tank"), branch("b", "share = 1"), points=PLAIN
    )
    alone = manifold(branch("a", 'target = "1200 gph"', to="tank"), points=PLAIN)
    assert exact(plan, "b") < 1.0
    assert exact(plan, "a") == pytest.approx(exact(alone, "a"), rel=0.03)  # but for the header


def test_group_of_one_leaves_the_branch_its_own_target() -> None:
    answer = settings(
        manifold(
            branch("a", 'target = "100 gph"'), branch("b", 'target = "90 gph"'), points=PLAIN,
            extra='[groups.one]\nbranches = ["a"]\ntarget = "104 gph"\n',
        )
    )  # fmt: skip
    first = row(answer, "a")
    assert first.aim is not None
    assert first.aim / GPH == pytest.approx(100.0)
    assert answer.met


def test_spare_to_open_is_named() -> None:
    shut = '{ valve = "ball", size = "3/4 in", open = "shut" }'
    plan = manifold(branch("a", 'target = "60 gph"'), branch("spare", valve=shut))
    answer = settings(plan)
    assert answer.met
    (pump,) = answer.pumps
    assert not pump.in_useful_range
    assert answer.bleed is not None
    assert answer.bleed.branch == "spare"
    # Doing it brings the pump there; one degree less does not.
    opened = answer.plan.with_openings({answer.bleed.valve: answer.bleed.opening})
    duty = solve(network_of(opened))
    assert pump.useful_range is not None
    assert duty.flow("main") >= pump.useful_range[0]
    assert duty.flow("spare") == pytest.approx(answer.bleed.flow, rel=1e-6)
    a = duty.flow("a")
    assert answer.bleed.loss == pytest.approx(1 - a / row(answer, "a").flow, rel=1e-6)
    assert 0.0 < answer.bleed.loss < 1.0
    assert answer.bleed.meets == (0.9 * 60 <= a / GPH <= 1.1 * 60)
    less = answer.plan.with_openings({answer.bleed.valve: answer.bleed.opening - 1 / 90})
    assert solve(network_of(less)).flow("main") < pump.useful_range[0]


def test_useful_range_is_kept_by_speed() -> None:
    # Little head and much flow: the lowest speed that carries it runs beyond the useful range;
    # a faster pump, throttled, does not.
    wide = '{ valve = "ball", size = "1 in" }'
    plan = manifold(
        branch("a", 'target = "350 gph"', valve=wide, length="4 in"),
        branch("b", 'target = "350 gph"', valve=wide, length="4 in"), speed=FREE,
    )  # fmt: skip
    answer = settings(plan)
    assert answer.met
    (pump,) = answer.pumps
    assert pump.in_useful_range
    assert pump.useful_range is not None
    slower = solve(
        network_of(answer.plan.with_openings({"a": 1.0, "b": 1.0}).with_speed({"main": 0.6}))
    )
    assert slower.flow("main") / GPH > 0.6 * pump.useful_range[1] / pump.speed / GPH


WIDE = '{ valve = "ball", size = "1 in" }'
TWO_SHARERS = manifold(
    branch("a", "share = 1", valve=WIDE, to="tank", length="180 in"),
    branch("b", "share = 1", valve=WIDE, to="tank", length="180 in"),
)


def test_sharers_of_the_rest_take_no_more_than_keeps_the_pump_in_its_range() -> None:
    # Wide open they would take 384 gph each and the pump 6 % more than it runs well at; that much
    # less is within their tolerance.
    answer = settings(TWO_SHARERS)
    assert answer.pumps[0].in_useful_range
    assert answer.met
    for sharer in answer.branches:
        assert sharer.aim is not None
        assert sharer.aim / GPH == pytest.approx(384.0, abs=1.0)
        assert 0.9 * sharer.aim <= sharer.flow < 0.96 * sharer.aim


def test_flows_are_not_lowered_for_a_range_that_the_marks_lose() -> None:
    # At marks so far apart no setting within tolerance keeps the range: then nothing is given up.
    answer = settings(TWO_SHARERS, marks="30 deg")
    assert not answer.pumps[0].in_useful_range
    assert answer.met
    assert sum(sharer.flow for sharer in answer.branches) / GPH == pytest.approx(768.0, rel=0.02)


def test_fed_through_the_valve_of_its_header() -> None:
    # "a" has no valve of its own; the one before both brings it to its target, "b" has its own.
    answer = settings(
        manifold(
            branch("a", 'target = "200 gph"', to="tank", valve=""),
            branch("b", 'target = "90 gph"'), points=PLAIN, riser=RISER_VALVE,
        )
    )  # fmt: skip
    assert answer.met
    assert next(each.role for each in answer.handles if each.valve == "main valve") == "set"


def test_a_weak_limit_that_cannot_be_kept_is_reported() -> None:
    locked = '{ valve = "ball", size = "3/4 in", open = "full", locked = true }'
    answer = settings(
        manifold(
            branch("a", 'limits = "<= 60 gph"', valve=locked), branch("b", 'target = "90 gph"'),
            points=PLAIN,
        )
    )  # fmt: skip
    assert not answer.met
    assert any('"a" cannot be kept within its limits' in words for words in answer.binding)


def test_bucket_and_way_to_read() -> None:
    free = '{ outlet = "free", height = "14 in" }'
    plan = manifold(
        branch("a", 'target = "250 gph"', outlet=free), branch("b", 'target = "30 gph"'),
        points=PLAIN,
    )  # fmt: skip
    answer = settings(plan)
    a, b = row(answer, "a"), row(answer, "b")
    # 250 gph: a gallon takes 14.4 s; 30 gph: a quart takes 30 s.
    assert (a.bucket, b.bucket) == ("1 gal", "1 qt")
    assert a.bucket_time == pytest.approx(3600 / (a.flow / GPH))
    assert a.bucket_time == pytest.approx(14.4, rel=0.05)
    assert b.bucket_time == pytest.approx(30.0, rel=0.1)
    assert a.read_by == "bucket"
    assert "under water" in b.read_by
    own = row(settings(plan, bucket="2 gal"), "a")
    assert own.bucket == "2 gal"
    assert own.bucket_time == pytest.approx(28.8, rel=0.05)


def test_index_branch_stands_wide_open() -> None:
    # The tank's branch has the lift, so it sets the speed.
    answer = settings(
        manifold(
            branch("a", 'target = "200 gph"', to="tank"), branch("b", 'target = "90 gph"'),
            points=PLAIN, speed=FREE,
        )
    )  # fmt: skip
    assert [each.branch for each in answer.branches if each.index] == ["a"]
    assert answer.handles[0].exact > 0.7


@pytest.mark.parametrize("speed", ["", FREE])
def test_everything_short_is_told(speed: str) -> None:
    answer = settings(manifold(branch("a", 'target = "900 gph"', to="tank"), speed=speed))
    assert not answer.met
    only = row(answer, "a")
    assert only.missing == pytest.approx((0.9 * 900 - only.flow / GPH) / 900, rel=1e-6)
    assert answer.binding
    assert answer.pumps[0].speed == pytest.approx(1.0)


def test_more_than_a_bound_asks_on_a_branch_without_a_valve_costs_the_others_nothing() -> None:
    # At full speed a and b can have what counts as met; c then carries some six times its least.
    plan = manifold(
        branch("a", 'target = "300 gph"'),
        branch("b", 'target = "300 gph"'),
        branch("c", 'target = ">= 80 gph"', valve=""),
        points=PLAIN,
        speed=FREE,
    )
    found = search(network_of(plan))
    assert not found.unmet
    assert found.missed == 0.0
    assert exact(plan, "c") > 5 * 80
    # With a little less asked the aims themselves are reached, not the edge of what counts as met.
    less = manifold(
        branch("a", 'target = "280 gph"'),
        branch("b", 'target = "280 gph"'),
        branch("c", 'target = ">= 80 gph"', valve=""),
        points=PLAIN,
        speed=FREE,
    )
    assert exact(less, "a") == pytest.approx(280.0, rel=5e-3)
    assert exact(less, "b") == pytest.approx(280.0, rel=5e-3)
