"""Every scenario obeys the laws, and the batch says what one solve at a time would."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from balance.cli.changes import changed
from balance.errors import NoSolutionError
from balance.network.arrays import Network, network_of
from balance.plan.read import read, read_text
from balance.questions.close import close
from balance.questions.close.cases import Scenario, clogs_of, each_branch, moves_of
from balance.questions.close.solved import BASE, Solved, solve_all
from balance.questions.flows import flows
from tests.laws import check_check_valves, check_laws, check_loops
from tests.network.random_plans import draw_plan

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


def test_a_draw_that_is_cut_off_is_refused() -> None:
    text = """
units = "us"
[vessels.sump]
level = "40 in"
[vessels.low]
level = "10 in"
[joints.far]
draw = "20 gph"
[[runs]]
name = "only way"
from = "sump"
to = "far"
parts = [{ pipe = "1 in sch 40", length = "40 in" }]
[[branches]]
name = "on"
from = "sump"
to = "low"
parts = [{ pipe = "1 in sch 40", length = "40 in" }]
"""
    with pytest.raises(NoSolutionError, match='joint "far" draws water'):
        close(read_text(text), ["only way"])
