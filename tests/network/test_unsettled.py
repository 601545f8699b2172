"""What did not settle is told by the run where it shows, and by how much."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from balance.network.arrays import network_of
from balance.network.solve import solve, unsettled
from balance.plan.read import read

DEMO = Path(__file__).parents[2] / "pump_curves_demo" / "lagoon.toml"


def test_what_does_not_settle_is_told_by_its_run_and_head() -> None:
    network = network_of(read(DEMO))
    found = solve(network)
    moved = found.state.flow.copy()
    moved[network.row_of["carbon reactor"]] *= 2.0
    error = unsettled(network, found.laws, replace(found.state, flow=moved))
    assert error.worst_run == "carbon reactor"
    assert 0.1 < error.residual < 100.0
