"""One mark of each handle: exact slopes against moves that are solved."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.optimize import root

from balance.network.arrays import network_of
from balance.network.solve import solve
from balance.network.topology import Topology
from balance.plan.model import Plan
from balance.plan.read import read
from balance.questions.close.interaction import HARDLY, Interaction, interaction
from balance.questions.marks import Marks
from tests.questions.close.drawn import drawn, ring
from tests.questions.settings.manifolds import (
    FREE,
    GPH,
    PLAIN,
    RISER_VALVE,
    branch,
    header,
    manifold,
    read_text_of,
)

Floats = NDArray[np.float64]
DEMO = Path(__file__).parents[3] / "pump_curves_demo"
SMALL = 1e-3  # of a mark


def moved(plan: Plan, answer: Interaction, *, marks: float) -> Floats:
    """Change of each branch by so many marks of each handle, solved, of its flow (B, H)."""
    network = network_of(plan)
    at = [solve(network).flow(branch) for branch in answer.branches]
    found = np.zeros((len(answer.branches), len(answer.handles)))
    for column, handle in enumerate(answer.handles):
        openings, speeds = network.openings.copy(), network.speeds.copy()
        for row, valve in enumerate(network.valves):
            if valve.name == handle.handle:
                openings[row] += marks * Marks().step(valve)
        for row, machine in enumerate(network.machines):
            if machine.name == handle.handle:
                speeds[row] += marks * (machine.pump.speed_step or 0.01)
        then = solve(network, openings=openings, speeds=speeds)
        found[:, column] = [then.flow(branch) for branch in answer.branches]
    return np.asarray(found / np.array(at)[:, None] - 1.0)


def matrix(answer: Interaction) -> Floats:
    return np.array(answer.change)


def agree(plan: Plan, answer: Interaction) -> None:
    """Slopes are the central differences, each handle's to 1e-4 of its largest."""
    up, down = (moved(plan, answer, marks=sign * SMALL) for sign in (1.0, -1.0))
    difference = (up - down) / (2 * SMALL)
    assert len(difference) > 1
    off = np.abs(matrix(answer) - difference).max(axis=0)
    assert (off <= 1e-4 * np.abs(difference).max(axis=0)).all()


@pytest.mark.parametrize("kind", ["plain", "tees", "ring"])
@pytest.mark.parametrize("seed", range(6))
def test_slopes_are_those_of_small_moves(seed: int, kind: str) -> None:
    plan = drawn(seed, kind, speed=FREE)
    answer = interaction(plan)
    assert len(answer.handles) == len(answer.branches) + 1
    agree(plan, answer)


@pytest.mark.parametrize("name", ["lagoon", "fish-room"])
def test_slopes_of_the_demos(name: str) -> None:
    plan = read(DEMO / f"{name}.toml")
    agree(plan, interaction(plan))


@pytest.mark.parametrize("kind", ["plain", "tees", "ring"])
def test_a_whole_mark_is_off_by_the_second_order(kind: str) -> None:
    """A tenth of the move is off by a hundredth."""
    plan = drawn(3, kind, speed=FREE)
    answer = interaction(plan)
    whole = np.abs(moved(plan, answer, marks=1.0) - matrix(answer)).max(axis=0)
    tenth = np.abs(moved(plan, answer, marks=0.1) - 0.1 * matrix(answer)).max(axis=0)
    assert (whole < 0.1 * np.abs(matrix(answer)).max(axis=0)).all()
    assert (tenth < whole / 60).all()


@pytest.mark.parametrize("seed", range(8))
def test_opening_gives_to_its_own_and_takes_from_the_others(seed: int) -> None:
    """As it must without tees, whose losses may draw a neighbour along."""
    change = matrix(interaction(drawn(seed, "plain")))
    own = np.eye(len(change), dtype=np.bool_)
    assert (change[own] > 0.0).all()
    assert (change[~own] < 0.0).all()


@pytest.mark.parametrize("kind", ["plain", "tees", "ring"])
def test_with_a_fixed_flow_what_one_gains_the_others_lose(kind: str) -> None:
    steep = ("0 gph at 400 ft", "499.9 gph at 399 ft", "500 gph at 0 ft")
    plan = drawn(5, kind, points=steep)
    answer, solution = interaction(plan), solve(network_of(plan))
    assert solution.flow("main") == pytest.approx(500 * GPH, rel=1e-3)
    flow = np.array([solution.flow(name) for name in answer.branches])
    gained = matrix(answer) * flow[:, None]
    assert (np.abs(gained.sum(axis=0)) < 1e-3 * np.abs(gained).max(axis=0)).all()


def test_changes_add_up_to_that_of_the_pump() -> None:
    plan = drawn(2, "tees")
    answer, network = interaction(plan), network_of(plan)
    solution = solve(network)
    flow = np.array([solution.flow(name) for name in answer.branches])
    for column, valve in enumerate(network.valves):
        assert answer.handles[column].handle == valve.name
        sides = []
        for sign in (SMALL, -SMALL):
            openings = network.openings.copy()
            openings[column] += sign * Marks().step(valve)
            sides.append(solve(network, openings=openings).flow("main"))
        total = float((matrix(answer)[:, column] * flow).sum())
        assert total == pytest.approx((sides[0] - sides[1]) / (2 * SMALL), rel=1e-3)
        assert total > 0.0


def test_like_branches_are_exchangeable() -> None:
    """Two headers from a cross, alike: left and right may change places."""
    names = ("a", "b")
    headers = "".join(
        header(*(f"{side} {name}" for name in names)).replace('"header"', f'"{side} header"')
        for side in ("left", "right")
    )
    branches = "".join(
        branch(f"{side} {name}", length=f"{length} in")
        for side in ("left", "right")
        for name, length in zip(names, (20, 70), strict=True)
    )
    answer = interaction(read_text_of(headers + branches, points=PLAIN))
    assert answer.branches == ("left a", "left b", "right a", "right b")
    swapped = [2, 3, 0, 1]
    change = matrix(answer)
    assert change == pytest.approx(change[np.ix_(swapped, swapped)], rel=1e-6)
    assert change[0, 1] != pytest.approx(change[0, 3], rel=1e-2)


def test_like_branches_of_one_joint_disturb_each_other_alike() -> None:
    text = "".join(branch(name, 'from = "foot"') for name in ("a", "b", "c"))
    change = matrix(interaction(read_text_of(text, points=PLAIN)))
    assert change == pytest.approx(change.T, rel=1e-8)


def test_all_columns_come_of_one_elimination(monkeypatch: pytest.MonkeyPatch) -> None:
    plan = drawn(1, "tees")
    solution = solve(network_of(plan))
    monkeypatch.setattr("balance.questions.close.interaction.solve", lambda _: solution)
    factor, calls = Topology.factor, []

    def counted(self: Topology, conductance: Floats, crossed: Floats | None = None) -> object:
        calls.append(conductance.shape[1])
        return factor(self, conductance, crossed)

    monkeypatch.setattr(Topology, "factor", counted)
    interaction(plan)
    assert calls == [1]


def test_what_cannot_be_told_of_is_left_out() -> None:
    plan = manifold(
        branch("a"),
        branch("b", valve='{ valve = "ball", size = "3/4 in", open = "shut" }'),
        branch("c", valve='{ valve = "ball", size = "3/4 in", open = "full" }'),
        branch("d", valve='{ valve = "ball", size = "3/4 in", open = "40 deg", locked = true }'),
        branch("e", to="loft"),
        riser=RISER_VALVE,
    ).with_openings({"main valve": 0.5})
    answer = interaction(plan)
    # The loft's water runs back; it is a flow all the same.
    assert answer.branches == ("a", "c", "d", "e")
    assert [handle.handle for handle in answer.handles] == ["a", "e", "main valve"]
    riser = answer.handles[2]
    assert (riser.branch, riser.own, riser.kept, riser.strongest_share) == (None,) * 4
    assert {(each.name, each.kind, each.why) for each in answer.left_out} == {
        ("b", "branch", "no flow"),
        ("b", "handle", "shut"),
        ("c", "handle", "full open, where a mark changes nothing"),
    }


def test_ends_of_travel_and_other_marks() -> None:
    gate = '{ valve = "gate wedge", size = "3/4 in", turns = 5, open = "full" }'
    plan = manifold(branch("a", valve=gate), branch("b"), speed=FREE.replace("80", "100", 1))
    answer, usual = interaction(plan, marks="5 deg"), interaction(plan)
    assert {h.handle: (h.mark, h.at_its_end) for h in answer.handles} == {
        "a": ("1/8 turn", True),
        "b": ("5 deg", False),
        "main": ("1 % speed", True),
    }
    assert answer.handles[1].own == pytest.approx(5 * (usual.handles[1].own or 0.0))
    assert answer.handles[0].own == usual.handles[0].own


def test_a_controller_that_shows_other_than_true_speed() -> None:
    plan = drawn(4, "tees", speed=FREE + 'speed_map = [["20 %", "60 %"], ["100 %", "100 %"]]\n')
    agree(plan, interaction(plan))


@pytest.mark.parametrize("kind", ["plain", "tees", "ring"])
def test_what_is_kept_once_the_others_are_back(kind: str) -> None:
    """One handle turned a little, and all others turned until their branches flow as before."""
    plan = drawn(7, kind)
    answer, network = interaction(plan), network_of(plan)
    solution = solve(network)
    before = np.array([solution.flow(name) for name in answer.branches])
    first = answer.handles[0]
    assert first.own is not None
    openings, part = network.openings[:, 0], 0.02
    openings[0] += part * Marks().step(network.valves[0])

    def gained(others: Floats) -> Floats:
        turned = np.concatenate([openings[:1], others])[:, None]
        then = solve(network, openings=turned)
        return np.asarray([then.flow(name) for name in answer.branches] / before - 1.0)

    def left_over(others: Floats) -> Floats:
        return gained(others)[1:] / part

    back = root(left_over, openings[1:], tol=1e-10).x
    assert np.abs(gained(back)[1:]).max() < 1e-8
    assert gained(back)[0] / (part * first.own) == pytest.approx(first.kept, rel=1e-2)
    assert all(handle.kept and 0.0 < handle.kept < 1.0 for handle in answer.handles)


@pytest.mark.parametrize("kind", ["plain", "tees", "ring"])
def test_rounds_of_trimming_leave_what_is_said(kind: str) -> None:
    """Each valve in turn until its branch flows as wanted, by solving anew."""
    plan = drawn(6, kind)
    answer, network = interaction(plan), network_of(plan)
    assert answer.trimming is not None
    names, openings = [valve.name for valve in network.valves], network.openings[:, 0]

    def flows() -> Floats:
        then = solve(network, openings=openings[:, None])
        return np.array([then.flow(name) for name in names])

    off_at_first = 5e-4
    wanted = flows() / (1.0 + off_at_first)  # all are off the same way
    left = []
    for _ in range(3):
        for place in (names.index(name) for name in answer.trimming.order):
            low, high = openings[place] - 0.1, openings[place] + 0.1
            for _ in range(60):
                openings[place] = (low + high) / 2
                if flows()[place] > wanted[place]:
                    high = openings[place]
                else:
                    low = openings[place]
        left.append(float(np.abs(flows() / wanted - 1.0).max()) / off_at_first)
    assert left == pytest.approx(answer.trimming.left, rel=0.02)


STEEP = ("0 gph at 14 ft", "400 gph at 9 ft", "800 gph at 3 ft", "1000 gph at 0 ft")


def test_branches_that_hardly_disturb_one_another() -> None:
    """A strong pump with a flat curve before narrow branches, each from the pump's own joint."""
    flat = ("0 gph at 9 ft", "4000 gph at 8.9 ft", "8000 gph at 0 ft")
    narrow = '{ valve = "ball", size = "3/4 in", open = "20 deg" }'
    text = "".join(branch(name, 'from = "foot"', valve=narrow) for name in ("a", "b", "c"))
    steady = interaction(read_text_of(text, points=flat)).trimming
    assert steady is not None
    assert steady.hardly
    assert steady.disturbed < 0.01 < HARDLY
    disturbed = interaction(drawn(0, "plain")).trimming
    assert disturbed is not None
    assert not disturbed.hardly
    assert disturbed.disturbed > HARDLY


def test_a_branch_without_a_handle_counts_as_disturbed() -> None:
    """By as much as its own row says, each mark weighed by what it does to its own branch."""
    pipe = '{ pipe = "3/4 in sch 40", length = "10 in" }'
    valve = '{ valve = "ball", size = "3/4 in", open = "30 deg" }'
    text = "".join(
        branch(name, 'from = "foot"', 'target = "90 gph"', valve=valve) for name in ("a", "b")
    )
    text += branch("bare", 'from = "foot"', valve=pipe)
    answer = interaction(read_text_of(text, points=STEEP))
    rows = dict(zip(answer.branches, np.array(answer.change), strict=True))
    by_a, by_b = (abs(rows["bare"][n] / rows[name][n]) for n, name in enumerate(("a", "b")))
    assert answer.trimming is not None
    assert answer.trimming.most_disturbed == "bare"
    assert answer.trimming.disturbed == pytest.approx(by_a + by_b)


def test_only_what_has_an_aim_is_trimmed_and_rounds_are_counted() -> None:
    def asked(one: float, other: float) -> Interaction:
        return interaction(
            manifold(
                branch("a", f'target = "{one:.2f} gph"', 'tolerance = "1 %"'),
                branch("b", f'target = "{other:.2f} gph"', 'tolerance = "1 %"'),
                branch("c"),
                branch("d", 'target = ">= 0 gph"'),
            )
        )

    solution = solve(network_of(asked(100, 100).plan))
    a, b = (solution.flow(name) / GPH for name in ("a", "b"))
    for one, other, rounds in ((a, b, 0), (0.97 * a, b, 1), (1.3 * a, 1.3 * b, 2)):
        trimming = asked(one, other).trimming
        assert trimming is not None
        assert sorted(trimming.order) == ["a", "b"]
        assert trimming.rounds == rounds
    plain = interaction(drawn(0, "tees")).trimming
    assert plain is not None
    assert plain.rounds is None


def test_a_single_branch_needs_no_order() -> None:
    assert interaction(manifold(branch("a"))).trimming is None


def test_handles_of_headers() -> None:
    names = ("a", "b", "c")
    plan = read_text_of(
        ring(*names, valves=("b", "close")) + "".join(branch(name) for name in names), points=PLAIN
    ).with_openings({"before b": 0.4, "before close": 0.4})
    answer = interaction(plan)
    assert [handle.handle for handle in answer.handles] == [*names, "before b", "before close"]
    agree(plan, answer)


def test_as_plain_values_and_as_a_table() -> None:
    answer = interaction(read(DEMO / "lagoon.toml"))
    plain = answer.to_dict()
    assert len(plain["change_percent"]) == len(answer.branches)
    table = answer.to_frame()
    assert table.loc["lagoon left", "lagoon left"] == pytest.approx(plain["change_percent"][0][0])
    assert plain["handles"][-1]["mark"] == "1 % speed"
