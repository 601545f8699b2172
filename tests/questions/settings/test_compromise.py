"""The problem that a compromise minimises: its slopes, and the speeds that it may use."""

from __future__ import annotations

import numpy as np
import pytest

from balance.network.arrays import network_of
from balance.network.solve import solve
from balance.plan.model import Plan
from balance.questions.aims import aims_of, wishes_of
from balance.questions.settings.compromise import Compromise
from balance.questions.settings.flowspace import FlowRange, FlowSpace, controls_of
from balance.questions.settings.search import search
from balance.questions.speeds import drives_of, next_step
from tests.questions.settings.manifolds import FREE, STRONG, WEAK, branch, manifold

STOPPED = '{ valve = "ball", size = "3/4 in", open = "30 deg", stops = ["20 deg", "60 deg"] }'
PLANS = {
    "fixed speed": manifold(
        branch("a", 'target = "300 gph"', 'limits = "<= 320 gph"', to="tank"),
        branch("b", 'target = "300 gph"', valve=STOPPED), points=WEAK,
    ),
    "free speed and a range to keep": manifold(
        branch("a", 'target = ">= 350 gph"', to="tank", valve=STOPPED),
        branch("b", 'target = "100..150 gph"', 'limits = ["90 gph", "160 gph"]'),
        branch("c", 'target = ">= 0 gph"'), points=STRONG, speed=FREE,
    ),
    "no watts": manifold(
        branch("a", 'target = "300 gph"', to="tank"), branch("b", 'target = "200 gph"'),
        points=WEAK, speed=FREE,
    ),
}  # fmt: skip


def problem_of(plan: Plan) -> Compromise:
    network = network_of(plan)
    names = tuple(each.name for each in plan.branches)
    space = FlowSpace(network, controls_of(network, set(names)), network.openings)
    machine = network.machines[0]
    useful = machine.useful_range(1.0)
    return Compromise(
        space,
        wishes_of(aims_of(plan), names),
        drives_of(network),
        network.speeds,
        () if useful is None else (FlowRange(machine.run, *useful),),
    )


@pytest.mark.parametrize("name", PLANS)
def test_slopes_against_central_differences(name: str) -> None:
    problem = problem_of(PLANS[name])
    free = [0.9] if problem.drives else []
    x = np.array([*np.linspace(0.4, 0.6, len(problem.space.controls)), *free])
    here, small = problem._point(x), 1e-5
    for place, unit in enumerate(np.eye(len(x))):
        up, down = problem._point(x + small * unit), problem._point(x - small * unit)
        slope = (up.objective - down.objective) / (2 * small)
        assert here.gradient[place] == pytest.approx(slope, rel=1e-5, abs=1e-8)
        np.testing.assert_allclose(
            here.jacobian[:, place],
            (up.constraints - down.constraints) / (2 * small),
            rtol=1e-5,
            atol=1e-7,
        )
        # Flows of a tree are straight in the unknowns; power, the rest, weighs a millionth.
        np.testing.assert_allclose(
            here.curvature[:, place], (up.gradient - down.gradient) / (2 * small), atol=1e-4
        )


def test_speeds_are_set_in_their_steps_within_their_range() -> None:
    machine = network_of(PLANS["no watts"]).machines[0]  # 20 to 100 % in steps of 1 %
    for asked, given in ((0.501, 0.51), (0.5, 0.5), (0.05, 0.2), (0.999, 1.0), (1.2, 1.0)):
        assert next_step(machine, asked) == pytest.approx(given, abs=1e-12)
    fixed = network_of(PLANS["fixed speed"]).machines[0]
    assert next_step(fixed, 0.7) == 1.0


UNKEEPABLE = {
    "a limit on a branch that is locked": manifold(
        branch("a", 'limits = "<= 60 gph"',
               valve='{ valve = "ball", size = "3/4 in", open = "full", locked = true }'),
        branch("b", 'target = "90 gph"', 'limits = "<= 120 gph"'),
        branch("c", 'target = "90 gph"', "weight = 100"),
    ),
    "two lower limits for one weak pump": manifold(
        branch("a", 'target = ">= 400 gph"', 'limits = ">= 400 gph"', to="tank"),
        branch("b", 'target = "400 gph"', 'limits = ">= 380 gph"'),
        branch("c", 'target = "90 gph"', "weight = 100"), points=WEAK,
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", UNKEEPABLE)
def test_limits_that_cannot_be_kept_are_broken_by_flows_that_can_be_had(name: str) -> None:
    network = network_of(UNKEEPABLE[name])
    found = search(network)
    solution = solve(network, openings=found.openings, speeds=found.speeds)
    flows = [solution.flow(each.name) for each in network.plan.branches]
    assert found.flow == pytest.approx(flows, rel=1e-5, abs=1e-9)
