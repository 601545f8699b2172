"""The answer for the demo: met, true to the laws, and with keys that stay."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from scipy.interpolate import PchipInterpolator

from balance.network.arrays import network_of
from balance.network.solve import solve
from balance.plan.curves import read_curve
from balance.plan.read import read
from balance.questions.settings import Settings, settings
from balance.questions.settings.search import search

DEMO = Path(__file__).parents[3] / "pump_curves_demo"


@pytest.fixture(scope="module")
def lagoon() -> Settings:
    return settings(read(DEMO / "lagoon.toml"))


def test_every_branch_is_met_within_its_words(lagoon: Settings) -> None:
    assert lagoon.met
    assert not lagoon.changes
    assert not lagoon.binding
    assert not lagoon.out_of_reach
    for row in lagoon.branches:
        assert row.met
        assert row.within_limits
        assert row.low is None or row.flow >= row.low
        assert row.high is None or row.flow <= row.high
        low, high = row.limits
        assert row.flow == 0.0 or low is None or row.flow >= low
        assert high is None or row.flow <= high


def test_flows_balance_heads_close_and_the_pump_is_on_its_curve(lagoon: Settings) -> None:
    network = network_of(lagoon.plan)
    solution = solve(network)
    for row in lagoon.branches:
        assert row.flow == pytest.approx(solution.flow(row.branch), rel=1e-9)
    flow, heads = solution.state.flow[:, 0], solution.state.heads[:, 0]
    topology = network.topology
    net = np.zeros(len(heads))
    np.add.at(net, topology.end, flow)
    np.subtract.at(net, topology.start, flow)
    assert np.abs(net[: len(network.joint_names)]).max() < 1e-9 * flow.max()
    assert lagoon.worst_mismatch < 1e-6

    # What the pump gives goes to the branches, and the spare that is shut takes none of it.
    (pump,) = lagoon.pumps
    assert sum(row.flow for row in lagoon.branches) == pytest.approx(pump.flow, rel=1e-9)
    curve = read_curve(DEMO / "demo-dc-60.csv")
    n = pump.speed
    by_affinity = n**2 * PchipInterpolator(curve.flow, curve.head)(pump.flow / n)
    assert pump.head == pytest.approx(float(by_affinity), abs=1e-6)
    assert solution.head("riser foot") - solution.head("sump") == pytest.approx(pump.head, abs=1e-6)


def test_keys_carry_units_and_are_plain(lagoon: Settings) -> None:
    found = json.loads(json.dumps(lagoon.to_dict()))
    assert found.keys() >= {
        "title", "met", "handles", "branches", "pumps", "out_of_reach", "binding", "changes",
        "bleed", "notes", "worst_imbalance_l_per_h", "worst_mismatch_m",
    }  # fmt: skip
    assert "plan" not in found
    branch = found["branches"][0]
    assert branch.keys() >= {
        "branch", "valve", "flow_l_per_h", "aim_l_per_h", "low_l_per_h", "high_l_per_h", "asked",
        "met", "missing_percent", "limits_l_per_h", "within_limits", "velocity_m_per_s", "step",
        "flow_per_step_percent", "index", "bucket", "bucket_time_s", "read_by", "coarse", "remedy",
    }  # fmt: skip
    assert found["handles"][0].keys() == {
        "valve", "stretch", "handle", "travel", "opening_percent", "mark", "stood_percent",
        "exact_percent", "role",
    }  # fmt: skip
    assert branch["flow_l_per_h"] == pytest.approx(lagoon.branches[0].flow * 3.6e6)


def test_tables_have_a_row_for_each(lagoon: Settings) -> None:
    assert list(lagoon.to_frame()["branch"]) == [row.branch for row in lagoon.branches]
    assert len(lagoon.handles_frame()) == len(lagoon.handles)


def test_one_step_slower_the_pump_leaves_its_useful_range(lagoon: Settings) -> None:
    # The aims could be had with less head; what sets the speed is the pump's useful range.
    plan = read(DEMO / "lagoon.toml")
    (duty,) = lagoon.pumps
    slower = plan.pumps["main"].model_copy(
        update={"speed": duty.speed - 0.01, "speed_range": None, "useful_range": (0.0, 1.0)}
    )
    network = network_of(plan.model_copy(update={"pumps": {"main": slower}}))
    found = search(network)
    assert float(found.wishes.cost(found.flow[:, None])[0]) < 1e-9
    assert duty.useful_range is not None
    assert duty.flow <= duty.useful_range[1]
    # Half a percent inside, so that rounding to marks does not leave it.
    upper = 0.995 * duty.useful_range[1]
    assert found.flow.sum() <= upper
    assert found.flow.sum() > upper * (duty.speed - 0.01) / duty.speed
