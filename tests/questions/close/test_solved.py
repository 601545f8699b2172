"""Every scenario obeys the laws, and the batch says what one solve at a time would."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from balance.cli.changes import changed
from balance.errors import NoSolutionError, UsageError
from balance.network.arrays import Network, network_of
from balance.plan.read import read, read_text
from balance.questions.clogs import clogs_of
from balance.questions.close import close
from balance.questions.close.cases import (
    Scenario,
    each_branch,
    every_branch,
    moves_of,
    pairs_of,
)
from balance.questions.close.solved import BASE, Solved, solve_all
from balance.questions.flows import flows
from tests.laws import check_check_valves, check_laws, check_loops
from tests.network.random_plans import draw_plan
from tests.questions.close.drawn import drawn, ring

DEMO = Path(__file__).parents[3] / "pump_curves_demo"
PLANS = 60


def check_all(solved: Solved) -> None:
    topology, held = solved.network.topology, solved.given
    check_laws(topology, solved.laws, solved.state, shut=held, draw=solved.network.draw)
    check_check_valves(topology, solved.laws, solved.state, shut=held)
    for column in range(len(solved.scenarios)):
        check_loops(topology, solved.laws, solved.state, scenario=column)


def every_run(network: Network) -> list[Scenario]:
    names = [run.name for run in network.plan.runs]
    shut = [Scenario(moves_of(network, [name])) for name in names]
    clogged = [Scenario((), clogs_of(network, {name: 0.8})) for name in names]
    return [
        *shut,
        *clogged,
        Scenario(moves_of(network, names[:2]), clogs_of(network, {names[-1]: 3.0})),
    ]


@pytest.mark.parametrize("seed", range(PLANS))
def test_every_run_of_random_plans_shut_or_clogged_obeys_the_laws(seed: int) -> None:
    network = network_of(read_text(draw_plan(np.random.default_rng(seed))))
    solved = solve_all(network, every_run(network))
    check_all(solved)
    for column, scenario in enumerate(solved.scenarios):
        for move in scenario.moves:
            assert solved.flows(move.stretch)[column] == 0.0


@pytest.mark.parametrize("plan", ["lagoon", "fish-room"])
def test_each_branch_shut_is_what_flows_says_with_its_valve_shut(plan: str) -> None:
    asked = read(DEMO / f"{plan}.toml")
    answer = close(asked)
    for case in answer.cases:
        alone = flows(changed(asked, openings=[f"{case.label}=shut"], speeds=()))
        for change, state in zip(case.branches, alone.branches, strict=True):
            assert change.flow == pytest.approx(state.flow, abs=1e-12)
        assert case.pumps[0].flow == pytest.approx(alone.pumps[0].flow, abs=1e-12)
        assert case.pumps[0].head == pytest.approx(alone.pumps[0].head, abs=1e-8)


def test_a_branch_turned_down_is_what_flows_says_at_that_mark() -> None:
    asked = read(DEMO / "lagoon.toml")
    (case,) = close(asked, ["seagrass return", "carbon reactor"], to="20 deg").cases
    marks = "seagrass return=20 deg, carbon reactor=20 deg"
    alone = flows(changed(asked, openings=[marks], speeds=()))
    for change, state in zip(case.branches, alone.branches, strict=True):
        assert change.flow == pytest.approx(state.flow, abs=1e-12)


def test_pairs_are_what_two_names_come_to() -> None:
    asked = read(DEMO / "fish-room.toml")
    answer = close(asked, pairs=True)
    assert len(answer.pairs) == 6 * 5 // 2
    for pair in answer.pairs:
        (alone,) = close(asked, [done.name for done in pair.done]).cases
        for together, one in zip(pair.branches, alone.branches, strict=True):
            assert together.flow == pytest.approx(one.flow, abs=1e-12)


def test_the_base_is_the_plan_as_it_stands() -> None:
    asked = read(DEMO / "lagoon.toml")
    network = network_of(asked)
    solved = solve_all(network, [Scenario((move,)) for move in each_branch(network)])
    for state in flows(asked).branches:
        assert solved.flows(state.branch)[BASE] == pytest.approx(state.flow, abs=1e-12)


DRAWN = """
units = "us"
[vessels.sump]
level = "40 in"
[vessels.low]
level = "10 in"
[joints.far]
draw = "20 gph"
[[branches]]
name = "only way"
from = "sump"
to = "far"
parts = [{ pipe = "1 in sch 40", length = "40 in" }]
[[branches]]
name = "on"
from = "far"
to = "low"
parts = [{ pipe = "1 in sch 40", length = "40 in" }]
[[branches]]
name = "bypass"
from = "sump"
to = "low"
parts = [{ pipe = "1 in sch 40", length = "40 in" }]
"""


def test_what_cuts_off_a_draw_is_refused_by_name_and_left_out_of_its_turn() -> None:
    asked = read_text(DRAWN)
    with pytest.raises(NoSolutionError, match='joint "far" draws water'):
        close(asked, ["only way", "on"])
    answer = close(asked, pairs=True)
    assert [case.label for case in answer.cases] == ["only way", "on", "bypass"]
    # Shut alone, the far joint is fed backwards by the low vessel.
    assert answer.cases[0].branches[1].flow < 0.0
    assert {pair.label for pair in answer.pairs} == {"only way + bypass", "on + bypass"}
    assert answer.dead_head is None


def test_a_branch_that_alone_feeds_a_draw_is_left_out_of_its_turn() -> None:
    first, _, rest = DRAWN.partition('[[branches]]\nname = "on"')
    other = rest[rest.index("[[branches]]") :]
    answer = close(read_text(first + other))
    assert [case.label for case in answer.cases] == ["bypass"]
    assert "left out: only way (what is drawn at a joint comes through it)" in answer.notes


@pytest.mark.parametrize("kind", ["plain", "tees", "ring"])
@pytest.mark.parametrize("seed", range(5))
def test_every_pair_of_random_manifolds_and_rings_obeys_the_laws(kind: str, seed: int) -> None:
    network = network_of(drawn(seed, kind))
    moves = each_branch(network)
    pairs = [Scenario(both) for both in pairs_of(moves)]
    check_all(solve_all(network, [*pairs, every_branch(network)]))


def test_rings_check_valves_and_free_outlets_are_as_flows_says() -> None:
    text = """
units = "us"
[vessels.sump]
level = "10 in"
[vessels.tank]
level = "40 in"
[pumps.one]
points = ["0 gph at 12 ft", "600 gph at 9 ft", "1200 gph at 0 ft"]
from = "sump"
to = "one out"
[pumps.two]
points = ["0 gph at 9 ft", "600 gph at 6 ft", "1200 gph at 0 ft"]
from = "sump"
to = "two out"
[[runs]]
name = "one check"
from = "one out"
to = "foot"
parts = [{ check = "swing", size = "1 in" }]
[[runs]]
name = "two check"
from = "two out"
to = "foot"
parts = [{ check = "swing", size = "1 in" }]
""" + ring("a", "b", "c")
    for name, to, end in (("a", "tank", "submerged"), ("b", "sump", "free"), ("c", "tank", "free")):
        outlet = f'{{ outlet = "{end}"' + (', height = "46 in" }' if end == "free" else " }")
        text += f"""
[[branches]]
name = "{name}"
to = "{to}"
parts = [
  {{ valve = "ball", size = "1/2 in", open = "60 deg" }},
  {{ pipe = "1/2 in sch 40", length = "40 in" }},
  {outlet},
]
"""
    asked = read_text(text)
    for case in close(asked, pairs=True).pairs:
        shut = [f"{done.name}=shut" for done in case.done]
        alone = flows(changed(asked, openings=shut, speeds=()))
        for change, state in zip(case.branches, alone.branches, strict=True):
            assert change.flow == pytest.approx(state.flow, abs=1e-12)
        for pump, duty in zip(case.pumps, alone.pumps, strict=True):
            assert pump.flow == pytest.approx(duty.flow, abs=1e-12)
            assert pump.head == pytest.approx(duty.head, abs=1e-8)


def test_a_plan_without_a_pump_is_answered() -> None:
    answer = close(read_text(DRAWN.replace('draw = "20 gph"', "")))
    assert answer.dead_head is not None
    assert answer.dead_head.pressure is None
    assert [case.label for case in answer.cases] == ["only way", "on", "bypass"]
    alone = answer.cases[2]
    assert alone.pumped == pytest.approx(alone.branches[0].flow)


def test_a_plan_without_branches_asks_for_a_run() -> None:
    text = """
[vessels.high]
level = "40 in"
[vessels.low]
level = "10 in"
[[runs]]
name = "pipe"
from = "high"
to = "low"
parts = [{ pipe = "1 in sch 40", length = "40 in" }]
"""
    with pytest.raises(UsageError, match="no branches; name a run"):
        close(read_text(text))
    (case,) = close(read_text(text), ["pipe"]).cases
    assert case.pumped == 0.0 < case.pumped_before
