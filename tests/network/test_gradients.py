"""Slopes of one measured thing, against the slopes of all things in one scenario."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from balance.network.arrays import Network, network_of
from balance.network.gradients import by_lost_head
from balance.network.real import Real, stronger
from balance.network.slopes import respond
from balance.network.solve import settled, solve
from balance.plan.read import read

DEMO = Path(__file__).parents[2] / "pump_curves_demo"


@pytest.fixture(params=["lagoon.toml", "fish-room.toml"])
def network(request: pytest.FixtureRequest) -> Network:
    return network_of(read(DEMO / request.param))


def test_flows_and_heads_answer_to_lost_head_as_in_the_forward_system(network: Network) -> None:
    here = solve(network)
    topology = network.topology
    runs, joints = topology.runs, topology.joints
    forward = respond(
        topology, here.laws, here.state, flow=np.zeros((runs, runs)), head=np.eye(runs)
    )
    things = runs + joints
    flow, heads = np.zeros((runs, things)), np.zeros((joints, things))
    flow[:, :runs], heads[:, runs:] = np.eye(runs), np.eye(joints)
    found = by_lost_head(topology, here.laws, here.state.repeated(things), flow=flow, heads=heads)
    for mine, theirs in ((found[:, :runs], forward.flow.T), (found[:, runs:], forward.heads.T)):
        assert mine == pytest.approx(theirs, rel=1e-9, abs=1e-9 * float(np.abs(theirs).max()))


def test_a_flow_answers_to_the_strength_of_its_pump_as_a_difference_says(network: Network) -> None:
    def flows(logarithm: float) -> np.ndarray:
        strength = np.full((len(network.machines), 1), np.exp(logarithm))
        real = Real(
            stronger(network.passive, strength),
            network.as_planned.open_factor,
            network.as_planned.log_factor,
            network.as_planned.offset,
        )
        laws, shut = network.at(network.openings, network.speeds, real=real)
        return settled(network, laws, held=shut).flow[:, 0]

    here = solve(network)
    topology = network.topology
    adjoint = by_lost_head(
        topology,
        here.laws,
        here.state.repeated(topology.runs),
        flow=np.eye(topology.runs),
        heads=np.zeros((topology.joints, topology.runs)),
    )
    pumps = here.laws.pumps
    assert pumps is not None
    steep = pumps.by_strength(here.state.flow[pumps.of])[:, 0]
    slope = -(adjoint[pumps.of] * steep[:, None]).sum(axis=0)
    difference = (flows(1e-4) - flows(-1e-4)) / 2e-4
    assert slope == pytest.approx(difference, rel=1e-5, abs=1e-6 * float(np.abs(slope).max()))
