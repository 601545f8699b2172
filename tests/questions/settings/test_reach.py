"""Branches that stay dry: too high, or behind a valve that is locked shut."""

from __future__ import annotations

import pytest

from balance.network.arrays import network_of
from balance.plan.model import Plan
from balance.plan.read import read_text
from balance.questions.settings import Settings, settings
from balance.questions.settings.answer import BranchFlow
from balance.questions.settings.reach import out_of_reach
from tests.questions.settings.manifolds import (
    GPH,
    PLAIN,
    branch,
    header,
    manifold,
    read_text_of,
)

FOOT = 0.3048  # m, by definition
SHUT = '{ valve = "ball", size = "3/4 in", open = "shut", locked = true }'
ISOLATOR = '{ valve = "ball", size = "3/4 in", open = "shut", locked = true, name = "isolator" }'
OWN = '{ valve = "ball", size = "3/4 in", open = "45 deg" }'


def row(answer: Settings, name: str) -> BranchFlow:
    return next(each for each in answer.branches if each.branch == name)


def riser(name: str, start: str, end: str, *valves: str) -> str:
    parts = "".join(f"  {valve},\n" for valve in valves)
    return f"""
[[runs]]
name = "{name}"
from = "{start}"
to = "{end}"
parts = [
  {{ pipe = "1 in sch 40", length = "12 in" }},
{parts}]
"""


def behind(*valves: str) -> Plan:
    """Branches "a" and "b" on a header behind a riser with valves, "c" on its own."""
    return read_text_of(
        riser("left riser", "foot", "left", *valves)
        + header("a", "b", start="left")
        + branch("a", 'target = "100 gph"')
        + branch("b", 'target = "100 gph"', to="tank")
        + branch("c", 'target = "100 gph"').replace('to = "sump"', 'from = "foot"\nto = "sump"'),
        points=PLAIN,
    )


def lock(name: str) -> str:
    return f'{{ valve = "ball", size = "1 in", open = "shut", locked = true, name = "{name}" }}'


def test_a_valve_locked_shut_is_named_as_what_binds_and_no_lift_is_blamed() -> None:
    answer = settings(
        manifold(
            branch("a", 'target = "100 gph"', valve=SHUT), branch("b", 'target = "90 gph"'),
            points=PLAIN,
        )
    )  # fmt: skip
    assert answer.binding == ('"a": its valve is locked shut',)
    assert answer.out_of_reach == ()
    assert not row(answer, "a").met
    assert row(answer, "a").valve == "a"
    assert row(answer, "b").met


def test_a_second_valve_locked_shut_goes_by_its_name() -> None:
    answer = settings(
        manifold(branch("a", 'target = "100 gph"', valve=f"{OWN},\n  {ISOLATOR}"), points=PLAIN)
    )
    assert answer.binding == ('"a": its valve "isolator" is locked shut',)
    assert answer.out_of_reach == ()


def test_a_valve_locked_shut_before_several_branches_is_named_once_for_all() -> None:
    answer = settings(behind(lock("left isolator")))
    assert answer.binding == (
        '"a", "b": "left isolator" is locked shut, and no other way leads there',
    )
    assert answer.out_of_reach == ()
    assert row(answer, "c").met


def test_two_in_a_row_are_both_named() -> None:
    answer = settings(behind(lock("first"), lock("second")))
    (words,) = answer.binding
    assert words == '"a", "b": "first" and "second" are locked shut, and no other way leads there'


def test_where_two_ways_are_locked_shut_either_would_do_and_both_are_named() -> None:
    both = (
        riser("left", "foot", "top", lock("left isolator"))
        + riser("right", "foot", "top", lock("right isolator"))
        + header("a", start="top")
        + branch("a", 'target = "100 gph"')
    )
    answer = settings(read_text_of(both, points=PLAIN))
    (words,) = answer.binding
    assert '"left isolator" and "right isolator" are locked shut' in words
    # One of the two ways is enough.
    one = both.replace(lock("right isolator"), lock("right isolator").replace("shut", "full"))
    assert settings(read_text_of(one, points=PLAIN)).met


def test_a_branch_too_high_behind_a_locked_valve_is_out_of_reach_by_the_pumps_own_head() -> None:
    # Loft 130 in = 10.83 ft; 9 ft of head from 10 in lift to 9.83 ft, once the way is open.
    high = read_text_of(
        riser("left riser", "foot", "left", lock("left isolator"))
        + header("a", start="left")
        + branch("a", 'target = "100 gph"', to="loft")
        + branch("c", 'target = "100 gph"').replace('to = "sump"', 'from = "foot"\nto = "sump"'),
        points=PLAIN,
    )
    answer = settings(high)
    (words,) = answer.out_of_reach
    for said in ('"a" is out of reach', "10.8 ft", "9.8 ft", "1.0 ft short"):
        assert said in words


def test_a_branch_fed_through_another_is_within_reach() -> None:
    feed = branch("feed", to="middle", outlet='{ fitting = "union", size = "3/4 in" }')
    through = (
        feed.replace('to = "middle"', 'from = "foot"\nto = "middle"')
        + branch("a", 'target = "100 gph"').replace('to = "sump"', 'from = "middle"\nto = "sump"')
        + branch("b", 'target = "100 gph"').replace('to = "sump"', 'from = "middle"\nto = "sump"')
    )
    answer = settings(read_text_of(through, points=PLAIN))
    assert answer.met
    assert row(answer, "a").flow / GPH == pytest.approx(100.0, rel=0.05)


def test_a_stopped_pump_is_no_lack_of_head() -> None:
    answer = settings(
        manifold(branch("a", 'target = "100 gph"', to="tank"), points=PLAIN, speed='speed = "0 %"')
    )
    assert answer.out_of_reach == ('"a" gets no water: the pump is stopped',)


def test_a_bleed_that_is_locked_shut_asks_for_nothing() -> None:
    answer = settings(
        manifold(
            branch("a", 'target = "100 gph"'), branch("b", 'target = ">= 0 gph"', valve=SHUT),
            points=PLAIN,
        )
    )  # fmt: skip
    assert answer.met
    assert row(answer, "b").met


def test_lift_of_two_unlike_pumps_behind_check_valves_is_that_of_the_stronger() -> None:
    """With all else shut the weaker one's check valve holds, and the stronger one's lets through
    all but its opening head."""
    plan = read_text(
        """
        [vessels.sump]
        level = "10 in"
        [vessels.loft]
        level = "30 ft"
        [pumps.weak]
        points = ["0 gph at 8 ft", "300 gph at 5 ft", "600 gph at 0 ft"]
        from = "sump"
        to = "weak outlet"
        [pumps.strong]
        points = ["0 gph at 12 ft", "300 gph at 8 ft", "600 gph at 0 ft"]
        from = "sump"
        to = "strong outlet"
        [[runs]]
        name = "weak check"
        from = "weak outlet"
        to = "foot"
        parts = [{ check = "swing", size = "1 in", opening = "1 in" }]
        [[runs]]
        name = "strong check"
        from = "strong outlet"
        to = "foot"
        parts = [{ check = "swing", size = "1 in", opening = "1 in" }]
        [[branches]]
        name = "attic"
        from = "foot"
        to = "loft"
        target = "100 gph"
        parts = [{ valve = "ball", size = "1 in" }]
        """
    )
    (dry,) = out_of_reach(network_of(plan), ["attic"])
    assert dry.needs == pytest.approx(30 * FOOT)
    assert dry.lifted == pytest.approx(12 * FOOT + (10 - 1) * FOOT / 12)
