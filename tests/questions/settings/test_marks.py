"""Marks that a hand can set, and the flows there."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest

from balance.errors import UsageError
from balance.network.arrays import network_of
from balance.network.settle import State
from balance.network.solve import solve
from balance.plan.model import Plan
from balance.questions.marks import marks_of
from balance.questions.settings import rounding, settings
from balance.questions.settings.search import search
from tests.questions.settings.manifolds import FREE, GPH, PLAIN, branch, manifold

GATE = '{ valve = "gate", size = "3/4 in", open = "2 turns", turns = 5 }'
PLANS = {
    "fixed": manifold(
        branch("a", 'target = "200 gph"', to="tank"),
        branch("b", 'target = "90 gph"', valve=GATE),
        branch("c", 'target = "<= 60 gph"'),
    ),
    "free": manifold(
        branch("a", 'target = "200 gph"', to="tank"),
        branch("b", 'target = "90 gph"', valve=GATE),
        points=PLAIN,
        speed=FREE,
    ),
    "seven": manifold(*(branch(n, 'target = "80 gph"') for n in "abcdefg")),
}


@pytest.mark.parametrize("name", PLANS)
@pytest.mark.parametrize("marks", [None, "5 deg, 1/4 turn", "7 deg, 0.3 turn"])
def test_marks_flows_and_neighbours(name: str, marks: str | None) -> None:
    plan = PLANS[name]
    answer = settings(plan, marks=marks)
    step = marks_of(marks)
    network = network_of(plan)
    found = search(network)
    openings = np.array([[handle.opening] for handle in answer.handles])
    speeds = np.array([[pump.speed] for pump in answer.pumps])

    # Every handle stands on a mark, or at the end of its travel.
    for handle, valve in zip(answer.handles, network.valves, strict=True):
        on = handle.opening / step.step(valve)
        assert on == pytest.approx(round(on), abs=1e-6) or handle.opening in {0.0, 1.0}

    # The flows stated are those at the marks.
    again = solve(network, openings=openings, speeds=speeds)
    for row in answer.branches:
        assert row.flow == pytest.approx(again.flow(row.branch), rel=1e-7)
        assert (
            answer.plan.valve(row.branch).part.open
            == openings[[v.name for v in network.valves].index(row.branch), 0]
        )

    def judged(at: np.ndarray) -> tuple[float, float]:
        """What misses cost, in steps of what one could tell, then distance from the aims."""
        state = solve(network, openings=at, speeds=speeds).state
        flow = state.flow[[network.row_of[each.name] for each in plan.branches]]
        misses = float(found.wishes.misses(flow)[0])
        return np.ceil((misses - 1e-12) / 1e-7), float(found.wishes.distance(flow)[0])

    misses, distance = judged(openings)
    ours = (misses, distance - 1e-7)
    steps = np.array([[step.step(valve)] for valve in network.valves])
    nearest = np.clip(np.round(found.openings / steps) * steps, 0.0, 1.0)
    assert ours <= judged(nearest)
    if len(network.valves) < 4:  # and than every neighbour
        for move in product((-1, 0, 1), repeat=len(network.valves)):
            beside = np.clip(openings + np.array(move)[:, None] * steps, 0.0, 1.0)
            beside = np.clip(np.round(beside / steps) * steps, 0.0, 1.0)
            assert ours <= judged(beside)


def test_marks_of_words() -> None:
    marks = marks_of("5 deg, 1/4 turn, 2 %")
    assert (marks.degrees, marks.turns, marks.percent) == pytest.approx((5.0, 0.25, 2.0))
    assert marks_of("1/4 turn").degrees == 1.0
    for text in ("five", "0 deg", "5 gph", "-5 deg", ""):
        with pytest.raises(UsageError, match="distance between marks"):
            marks_of(text)


@pytest.mark.parametrize(
    ("marks", "handle", "valve", "travel", "distance"),
    [
        ("5 deg", "degrees", '{ valve = "ball", size = "3/4 in", open = "45 deg" }', 90.0, 5.0),
        ("1/4 turn", "turns", GATE, 5.0, 0.25),
        ("2 %", "percent", '{ valve = "linear", size = "3/4 in", open = "50 %" }', 100.0, 2.0),
    ],
)
def test_each_kind_of_handle(
    marks: str, handle: str, valve: str, travel: float, distance: float
) -> None:
    answer = settings(manifold(branch("a", 'target = "200 gph"', valve=valve)), marks=marks)
    (only,) = answer.handles
    assert (only.handle, only.travel) == (handle, travel)
    assert only.mark / distance == pytest.approx(round(only.mark / distance))
    assert abs(only.mark - only.exact * travel) <= 1.5 * distance


def plan_with_stop() -> Plan:
    return manifold(
        branch(
            "a", 'target = "30 gph"',
            valve='{ valve = "ball", size = "3/4 in", stops = ["32.5 deg", "full"] }',
        )
    )  # fmt: skip


def test_a_stop_between_marks_is_a_place_to_stand() -> None:
    (handle,) = settings(plan_with_stop(), marks="5 deg").handles
    assert handle.mark == pytest.approx(32.5)


@pytest.mark.parametrize("gph", range(60, 260, 10))
def test_no_mark_passes_a_limit_while_a_neighbour_keeps_it(gph: int) -> None:
    # 0.3 % above the target: rounding up passes it, though by less than rounding down would miss
    # the narrow tolerance.
    plan = manifold(
        branch(
            "a",
            f'target = "{gph} gph"',
            'tolerance = "2 %"',
            f'limits = "<= {1.003 * gph} gph"',
        ),
        branch("b", 'target = "90 gph"'),
        points=PLAIN,
    )
    answer = settings(plan)
    assert answer.branches[0].within_limits
    assert answer.branches[0].flow / GPH <= 1.003 * gph


@pytest.mark.parametrize("marks", ["5 deg", "7 deg", "10 deg"])
@pytest.mark.parametrize("gph", [60, 120, 150, 200])
@pytest.mark.parametrize("bound", ["<=", ">="])
def test_a_limit_ranks_before_the_target(bound: str, gph: int, marks: str) -> None:
    # Some of these have a mark that passes the limit by a little and is by far nearest the target.
    limited = branch("a", f'target = "{gph} gph"', f'limits = "{bound} {gph} gph"')
    answer = settings(
        manifold(limited, branch("b", 'target = "150 gph"'), points=PLAIN), marks=marks
    )
    row = answer.branches[0]
    assert row.flow > 0.0
    assert row.within_limits
    assert row.flow <= gph * GPH if bound == "<=" else row.flow >= gph * GPH


def test_where_every_mark_breaks_a_limit_the_answer_says_so_and_how_to_mend_it() -> None:
    plan = manifold(
        branch("a", 'target = "100 gph"', 'limits = ["98 gph", "102 gph"]'), points=PLAIN
    )
    answer = settings(plan, marks="10 deg")
    (row,) = answer.branches
    assert not row.within_limits
    assert row.lost_to_rounding
    assert row.exact / GPH == pytest.approx(100.0, rel=1e-6)
    (words,) = answer.binding
    assert '"a" is kept within its limits between marks only' in words
    # The two marks on either side break it, the chosen one less.
    network = network_of(plan)
    broken = [
        abs(solve(network, openings=np.array([[deg / 90]])).flow("a") / GPH - 100.0) - 2.0
        for deg in (20.0, 30.0)
    ]
    assert min(broken) > 0.0
    assert abs(row.flow / GPH - 100.0) - 2.0 == pytest.approx(min(broken), rel=1e-6)
    # Finer marks do keep it.
    assert settings(plan, marks="1 deg").branches[0].within_limits


def test_a_limit_is_not_kept_by_shutting() -> None:
    # 20 deg lets less than 100 gph through, 30 deg more than 120; shut, no limit would be passed.
    limited = branch("a", 'target = "110 gph"', 'limits = "100..120 gph"')
    answer = settings(manifold(limited, points=PLAIN), marks="10 deg")
    row = answer.branches[0]
    assert row.flow > 0.0
    assert not row.within_limits
    (words,) = answer.binding
    assert '"a" is kept within its limits between marks only' in words


def test_a_target_met_between_marks_only_is_said() -> None:
    plan = manifold(branch("a", 'target = "100 gph"', 'tolerance = "1 %"'), points=PLAIN)
    assert settings(plan, marks="10 deg").binding == (
        'met between marks only: "a"; marks closer together, or a finer valve, would do',
    )


def test_marks_do_not_escape_a_lower_limit_by_shutting() -> None:
    # The nearest of such coarse marks is shut, where a lower limit would not count.
    plan = manifold(
        branch("a", 'target = "15 gph"', 'limits = ">= 14 gph"', 'tolerance = "50 %"'), points=PLAIN
    )
    answer = settings(plan, marks="35 deg")
    (row,) = answer.branches
    assert row.flow > 0.0 or not row.within_limits


def test_a_move_from_a_stop_leads_to_the_mark_beside_it() -> None:
    def beside(at: float, move: float) -> float:
        travels = rounding._Travels(*(np.array([[v / 90]]) for v in (5.0, 32.5, 57.5)))
        return float(travels.beside(np.array([[at / 90]]), np.array([[move]]))[0, 0]) * 90

    for at, move, leads in (
        (32.5, 1, 35), (32.5, -1, 32.5), (35, -1, 32.5), (35, 1, 40),
        (57.5, -1, 55), (57.5, 1, 57.5), (55, 1, 57.5), (40, 0, 40), (32.5, 0, 32.5),
    ):  # fmt: skip
        assert beside(at, move) == pytest.approx(leads), (at, move)


def test_what_the_search_left_wide_open_stays_so() -> None:
    # The tank takes all that its wide-open valve lets through; from 60 degrees up the handle hardly
    # moves the flow, and turning it down would only buy the others a nearer mark.
    plan = manifold(
        branch("a", "share = 1", to="tank"), branch("b", 'target = "90 gph"'),
        branch("c", 'target = "70 gph"'), points=PLAIN,
    )  # fmt: skip
    answer = settings(plan)
    assert answer.handles[0].exact == pytest.approx(1.0, abs=1e-6)
    assert answer.handles[0].opening == 1.0
    assert answer.branches[0].index


def test_more_at_once_is_never_worse(monkeypatch: pytest.MonkeyPatch) -> None:
    plan = PLANS["seven"]
    network = network_of(plan)
    wishes = search(network).wishes

    def cost() -> float:
        answer = settings(plan, marks="5 deg")
        return float(wishes.cost(np.array([[row.flow] for row in answer.branches]))[0])

    pairs = cost()
    monkeypatch.setattr(rounding, "MOST_AT_ONCE", 3**7)
    assert cost() <= pairs + rounding.TELLING
    monkeypatch.setattr(rounding, "MOST_AT_ONCE", 1)
    assert cost() == pytest.approx(pairs, rel=1e-9)


@pytest.mark.parametrize("most", [729, 1], ids=["all neighbours", "pairs"])
def test_no_setting_is_solved_in_two_rounds(monkeypatch: pytest.MonkeyPatch, most: int) -> None:
    rounds: list[set[tuple[int, ...]]] = []
    solve_all = rounding._Trial.of

    def watched(self: rounding._Trial, openings: np.ndarray, near: State | None) -> rounding._Tried:
        if openings.shape[1] > 1:
            rounds.append({tuple(np.round(column * 1e6).astype(int)) for column in openings.T})
        return solve_all(self, openings, near)

    monkeypatch.setattr(rounding, "MOST_AT_ONCE", most)
    monkeypatch.setattr(rounding._Trial, "of", watched)
    settings(PLANS["fixed"], marks="7 deg, 0.3 turn")
    assert len(rounds) > 1
    assert len(set().union(*rounds)) == sum(map(len, rounds))
