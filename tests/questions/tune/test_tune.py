"""The walk, a step at a time: what it asks, in which order, and that its figures are the laws'."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from itertools import permutations
from pathlib import Path

import numpy as np
import pytest

from balance.errors import UsageError
from balance.network.arrays import network_of
from balance.network.solve import solve
from balance.plan.model import Plan
from balance.plan.read import read, read_text
from balance.plan.reading import Reading
from balance.questions.aims import aims_of
from balance.questions.learning.learn import Learnt, learn
from balance.questions.settings import settings
from balance.questions.tune import Advice, reading_of, sheet, speeds_after, tune
from balance.questions.tune.drift import drifts
from balance.questions.tune.order import least_disturbed
from balance.show.tune import lines

DEMO = Path(__file__).parents[3] / "pump_curves_demo"


@pytest.fixture(scope="module")
def room() -> Plan:
    """Six feeds from a pump of one speed."""
    return read(DEMO / "fish-room.toml")


@pytest.fixture(scope="module")
def lagoon() -> Plan:
    """Ten branches from a pump whose speed may be set."""
    return read(DEMO / "lagoon.toml")


def taken(step: Advice, rows: list[Reading], *, factor: float = 1.0) -> list[Reading]:
    """The log after a step whose flow is a multiple of what is expected."""
    assert step.flow is not None
    return [*rows, reading_of(step, rows, flow=factor * step.flow)]


def all_read(plan: Plan) -> tuple[Advice, list[Reading]]:
    """The first step after every branch was read once, each as expected."""
    if plan.title not in _READ:
        rows: list[Reading] = []
        step = tune(plan)
        while step.kind == "read":
            rows = taken(step, rows)
            step = tune(plan, rows, near=step)
        _READ[plan.title] = step, rows
    step, rows = _READ[plan.title]
    return step, list(rows)


_READ: dict[str, tuple[Advice, list[Reading]]] = {}


def test_a_walk_begins_with_its_valves_wide_open_and_reads_every_branch_that_is_asked(
    lagoon: Plan,
) -> None:
    step = tune(lagoon)
    assert set(step.open_first) == {aim.name for aim in aims_of(lagoon) if not aim.group}- {
        "spare 1", "spare 2",
    }  # fmt: skip
    assert {each.to for each in step.turned} == {1.0}
    rows: list[Reading] = []
    asked = []
    while step.kind == "read":
        asked.append(step.branch)
        rows = taken(step, rows)
        step = tune(lagoon, rows, near=step)
    assert asked == [b.name for b in lagoon.branches if b.target is not None or b.share is not None]
    assert step.kind == "speed"


def test_as_they_stand_nothing_is_opened(lagoon: Plan) -> None:
    step = tune(lagoon, as_they_stand=True)
    assert step.open_first == ()
    assert step.flow == pytest.approx(solve(network_of(lagoon)).flow(step.branch), rel=1e-9)


def test_what_is_expected_first_is_what_flows_with_all_wide_open(room: Plan) -> None:
    step = tune(room)
    wide = room.with_openings(dict.fromkeys(step.open_first, 1.0))
    assert step.flow == pytest.approx(solve(network_of(wide)).flow(step.branch), rel=1e-9)
    assert step.low is not None
    assert step.high is not None
    assert step.low < (step.flow or 0.0) < step.high


def test_if_all_is_as_planned_the_walk_ends_where_settings_puts_the_handles(room: Plan) -> None:
    """Readings as the plan has them teach nothing, so marks are those of the plan."""
    found = sheet(room)
    marks = {step.name: step.view.stand.openings[place] + 0.0 for step in found.steps
             for place in [0] if step.kind == "move"}  # fmt: skip
    assert set(marks) == {handle.valve for handle in settings(room).handles if handle.role == "set"}
    last = found.steps[-1]
    stands = {handle.valve: handle.mark for handle in last.handles}
    for handle in settings(room).handles:
        if handle.role == "set" and handle.valve != last.name:
            degrees = 90.0 * handle.exact if handle.handle == "degrees" else None
            if degrees is not None:
                assert float(stands[handle.valve].removesuffix(" deg")) == pytest.approx(
                    degrees, abs=0.75
                )


def test_handles_come_in_the_order_in_which_they_disturb_one_another_least(room: Plan) -> None:
    """Of all orders, solved one after the other."""
    step, _ = all_read(room)
    view = step.view
    rows = [view.network.valves[place].run for place in view.turned]
    everything = range(len(rows))
    together = view.openings.copy()
    together[view.turned] = view.aimed.openings[view.turned]
    last = view.flows(together[:, None])[rows, 0]

    @cache
    def disturbed(handle: int, before: frozenset[int]) -> float:
        """What is still to come for a handle that is set when those are."""
        openings = view.openings.copy()
        places = view.turned[[*before, handle]]
        openings[places] = view.aimed.openings[places]
        flow = view.flows(openings[:, None])[rows[handle], 0]
        return float(np.log(flow / last[handle]) ** 2)

    def cost(order: tuple[int, ...]) -> float:
        return sum(disturbed(each, frozenset(order[:at])) for at, each in enumerate(order))

    best = min(permutations(everything), key=cost)
    assert view.goal.valves[best[0]] == step.name
    assert least_disturbed(view, everything) == best[0]


def test_a_branch_that_was_not_read_since_flows_changed_may_have_drifted(room: Plan) -> None:
    step, rows = all_read(room)
    view = step.view
    asked = [view.network.row_of[wish.branches[0]] for wish in view.goal.aims if not wish.group]
    assert drifts(view)[asked] == pytest.approx(0.0, abs=1e-6)
    while step.kind in ("move", "nudge"):
        rows = taken(step, rows)
        step = tune(room, rows, near=step)
    drift = dict(zip(asked, np.linalg.norm(drifts(step.view)[asked], axis=1), strict=True))
    just_read = drift.pop(step.view.network.row_of[rows[-1].branch or ""])
    assert just_read == pytest.approx(0.0, abs=1e-6)
    assert min(drift.values()) > 1e-4


def test_a_step_says_what_its_branch_carries_at_that_step_and_not_in_the_end(room: Plan) -> None:
    """Solved by the plan's own network with that valve alone turned."""
    step, _ = all_read(room)
    assert step.kind == "move"
    wide = room.with_openings(dict.fromkeys(tune(room).open_first, 1.0))
    aimed = step.view.aimed.openings[step.view.turned]
    column = step.view.goal.valves.index(step.name)
    alone = wide.with_openings({step.name: float(aimed[column])})
    assert step.flow == pytest.approx(solve(network_of(alone)).flow(step.branch), rel=1e-4)
    goal = step.view.goal.flows[column]
    assert abs((step.flow or 0.0) / goal - 1.0) > 0.02


@pytest.mark.parametrize(("factor", "way"), [(1.2, "shut"), (0.85, "open")])
def test_what_carries_too_much_is_nudged_towards_shut(room: Plan, factor: float, way: str) -> None:
    step, rows = all_read(room)
    moved = taken(step, rows, factor=factor)
    after = tune(room, moved, near=step)
    assert after.kind == "nudge"
    assert after.name == step.name
    assert after.by.endswith(f"towards {way}")
    assert (after.turned[0].to < step.turned[0].to) == (way == "shut")


def test_what_reads_as_it_should_is_left_and_the_next_has_its_turn(room: Plan) -> None:
    step, rows = all_read(room)
    after = tune(room, taken(step, rows), near=step)
    assert after.kind == "move"
    assert after.name != step.name


def test_a_handle_is_nudged_twice_at_the_most_before_the_next_has_its_turn(room: Plan) -> None:
    step, rows = all_read(room)
    name, nudges = step.name, 0
    for _ in range(5):
        rows = taken(step, rows, factor=1.15)
        step = tune(room, rows, near=step)
        if step.kind != "nudge":
            break
        nudges += 1
    assert nudges == 2
    assert step.kind in ("move", "read again")
    assert step.kind == "read again" or step.name != name


def test_a_reading_that_does_not_fit_is_asked_for_once_more(room: Plan) -> None:
    _, rows = all_read(room)
    before = next(row for row in rows if row.branch == "feed 6")
    assert before.flow is not None
    rows = [*rows, replace(before, turned=(), flow=1.6 * before.flow)]
    # Two readings of one branch with nothing moved between, 60 % apart: the second is a stray.
    after = tune(room, rows)
    assert after.kind == "read again"
    assert after.branch == "feed 6"


def test_a_walk_can_be_taken_up_from_its_log_alone(lagoon: Plan) -> None:
    step, rows = all_read(lagoon)
    speeds = speeds_after(step)
    step = tune(lagoon, rows, speeds=speeds, near=step)
    for factor in (1.1, 1.02, 0.99):
        rows = [*rows, reading_of(step, rows, speeds=speeds, flow=factor * (step.flow or 0.0))]
        step = tune(lagoon, rows, near=step)
    fresh = tune(lagoon, rows)
    assert (fresh.kind, fresh.name, fresh.to) == (step.kind, step.name, step.to)
    assert fresh.flow == pytest.approx(step.flow, rel=1e-3)


def test_what_is_skipped_is_neither_read_nor_turned(room: Plan) -> None:
    skipped = frozenset({"feed 2", "feed 5"})
    names = {step.name or step.branch for step in sheet(room, skipped=skipped).steps}
    assert not names & skipped
    assert "feed 1" in names


def test_done_says_a_chance_of_nine_in_ten_or_more_and_every_flow_with_its_band(
    room: Plan,
) -> None:
    rows: list[Reading] = []
    step = tune(room)
    for _ in range(40):
        if step.kind in ("done", "stuck"):
            break
        rows = taken(step, rows)
        step = tune(room, rows, near=step)
    assert step.kind == "done"
    assert step.chance is not None
    assert step.chance >= 0.9
    assert {each.name for each in step.expected} == {branch.name for branch in room.branches}
    for each in step.expected:
        assert each.low <= each.flow <= each.high
        assert each.chance >= step.chance - 1e-9
    assert all(handle.set for handle in step.handles)


@pytest.fixture(scope="module")
def greedy(room: Plan) -> Plan:
    """Two of its feeds ask for more than the pump can give."""
    return room.model_copy(
        update={
            "title": "Greedy room",
            "branches": tuple(
                branch.model_copy(
                    update={"target": replace(branch.target, low=1e-3, high=1e-3, kind="flow")}
                )
                if branch.target and branch.name in ("feed 1", "feed 4")
                else branch
                for branch in room.branches
            ),
        }
    )


def test_targets_that_cannot_be_had_are_named(greedy: Plan) -> None:
    assert set(tune(greedy).unmet) & {"feed 1", "feed 4"}


def test_a_walk_gives_up_only_when_all_that_is_short_was_read_as_it_stands(greedy: Plan) -> None:
    step, rows = all_read(greedy)
    for _ in range(40):
        if step.kind in ("done", "stuck"):
            break
        rows = taken(step, rows)
        step = tune(greedy, rows, near=step)
    assert step.kind == "stuck"
    short = {each.name for each in step.expected if each.chance < 0.5}
    assert short
    last = max(n for n, row in enumerate(rows) if row.turned)
    assert short <= {row.branch for row in rows[last:]}


def test_a_plan_that_asks_for_nothing_is_refused(room: Plan) -> None:
    idle = room.model_copy(
        update={"branches": tuple(b.model_copy(update={"target": None}) for b in room.branches)}
    )
    with pytest.raises(UsageError, match="no branch has a target"):
        tune(idle)


def test_readings_before_the_walk_spare_its_first_part(room: Plan) -> None:
    _, rows = all_read(room)
    after = tune(room, rows, before=len(rows))
    assert after.kind == "move"
    assert after.moves == 0


def test_the_sheet_has_a_bucket_and_a_time_for_every_reading(lagoon: Plan) -> None:
    found = sheet(lagoon)
    assert found.chance is not None
    for step in found.steps:
        if step.kind == "speed":
            assert (step.branch, step.seconds) == ("", None)
        else:
            assert step.seconds == pytest.approx((step.volume or 0.0) / (step.flow or 1.0))
            assert (step.seconds or 0.0) >= 10.0 or step.bucket == "5 gal"


# What goes wrong at a real sump -------------------------------------------------------------------

SHELF = """
title = "A strong low branch beside a high tank"
units = "metric"
[vessels.sump]
bottom = "0 cm"
level = "25 cm"
rim = "45 cm"
length = "80 cm"
width = "40 cm"
[vessels.tank]
bottom = "110 cm"
level = "150 cm"
rim = "155 cm"
length = "100 cm"
width = "50 cm"
[pumps.main]
points = ["0 L/h at 2.6 m, 40 W", "2000 L/h at 1.9 m, 50 W", "4000 L/h at 0 m, 55 W"]
from = "sump"
to = "foot"
speed = "80 %"
speed_range = ["40 %", "100 %"]
speed_step = "1 %"
[[runs]]
name = "riser"
from = "foot"
to = "cross"
parts = [{ pipe = "25 mm PN16", length = "60 cm" }, { fitting = "elbow 90", size = "25 mm" }]
[[headers]]
name = "manifold"
from = "cross"
pipe = "25 mm PN16"
taps = [
  { branch = "return", after = "10 cm" },
  { branch = "stir", after = "10 cm", end = "elbow" },
]
[[branches]]
name = "return"
to = "tank"
target = "700 L/h"
parts = [
  { valve = "ball", size = "25 mm" },
  { pipe = "25 mm PN16", length = "130 cm" },
]
[[branches]]
name = "stir"
to = "sump"
target = "400 L/h"
parts = [{ valve = "ball", size = "25 mm" }, { pipe = "25 mm PN16", length = "30 cm" }]
"""


@pytest.fixture(scope="module")
def shelf() -> Plan:
    """Wide open its low branch takes all, and the tank runs back."""
    return read_text(SHELF, file="shelf.toml")


def test_no_water_wide_open_is_a_reading_and_the_branch_is_read_again_later(shelf: Plan) -> None:
    step = tune(shelf)
    assert step.branch == "return"
    assert (step.flow or 0.0) <= 0.0
    assert step.seconds is None
    rows = [reading_of(step, [], flow=0.0)]
    read: list[str] = []
    speeds = rows[-1].speeds
    for _ in range(25):
        step = tune(shelf, rows, speeds=speeds)
        if step.kind in ("done", "stuck"):
            break
        if step.kind == "speed":
            speeds = speeds_after(step)
            continue
        read.append(step.branch)
        rows = [*rows, reading_of(step, rows, speeds=step.view.stand.speeds, flow=step.flow)]
    assert step.kind == "done"
    assert read[0] == "stir"
    assert "return" in read


def test_the_sheet_of_a_plan_that_runs_back_wide_open_says_so(shelf: Plan) -> None:
    first = sheet(shelf).steps[0]
    assert first.seconds is None
    assert "no water comes there, or it runs back" in " ".join(lines(first))


def test_a_nudge_that_did_the_opposite_is_read_again(room: Plan) -> None:
    step, rows = all_read(room)
    rows = taken(step, rows, factor=1.25)
    step = tune(room, rows)
    assert step.kind == "nudge"
    odd = tune(room, taken(step, rows, factor=1.6))
    assert odd.kind in ("odd", "read again")
    assert odd.branch == step.branch
    assert odd.turned == ()


def test_what_was_undone_stands_as_it_was_turned_and_is_only_read_again(room: Plan) -> None:
    step, rows = all_read(room)
    more = taken(step, rows, factor=1.2)
    again = tune(room, rows, redo=more[-1])
    assert (again.kind, again.branch, again.name) == ("read", step.branch, "")
    assert again.turned == more[-1].turned
    assert reading_of(again, rows, flow=step.flow).openings == more[-1].openings
    assert again.flow == pytest.approx(step.flow, rel=0.05)


def test_levels_and_watts_that_do_not_fit_are_not_asked_for_with_a_bucket(lagoon: Plan) -> None:
    _, rows = all_read(lagoon)
    wild = replace(rows[-1], branch=None, flow=None, turned=(), watts=200.0, pump="main")
    after = tune(lagoon, [*rows, wild])
    assert after.kind == "speed"


def test_readings_that_confirm_each_other_are_believed_against_an_older_one(room: Plan) -> None:
    """Three alike at this stand, a third off what the first reading foretold."""
    _, rows = all_read(room)
    before = next(row for row in rows if row.branch == "feed 2")
    assert before.flow is not None
    one = replace(before, turned=(), flow=1.35 * before.flow)
    single = learn(network_of(room), [*rows, one])
    thrice = learn(network_of(room), [*rows, one, one, one])
    row = single.network.row_of["feed 2"]

    def flow(found: Learnt) -> float:
        return float(found.states(found.z[:, None], found.log.last).flow[row, 0])

    assert flow(single) < 1.15 * before.flow
    assert flow(thrice) > 1.3 * before.flow


def test_no_handle_that_is_to_pass_water_is_turned_shut(room: Plan) -> None:
    step, _ = all_read(room)
    view = step.view
    drips = replace(view, goal=replace(view.goal, flows=(1e-9,) * len(view.goal.valves)))
    marks = np.array(view.stand.openings)[view.turned] + drips.by
    assert (marks > 0.0).all()
    assert marks.min() < 0.02
