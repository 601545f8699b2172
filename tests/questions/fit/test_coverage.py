"""Nine of ten: how often bands hold the true flows of simulated systems, and who is named wrongly.

The true systems differ from their plan in all that `[spread]` names, most of which a fit has no
number for, and their valves are of no family that it knows.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from balance.network.arrays import Network, network_of
from balance.plan.read import read
from balance.questions.learning.experiment import DOUBTFUL
from balance.questions.learning.learn import learn
from tests.questions.fit.simulated import Held, held, trials

DEMO = Path(__file__).parents[3] / "pump_curves_demo"
PLANS = ["lagoon", "fish-room"]


def network_named(name: str) -> Network:
    return network_of(read(DEMO / f"{name}.toml"))


def all_held(name: str, count: int, *, seed: int) -> list[Held]:
    network = network_named(name)
    found = []
    for number, trial in enumerate(trials(network, count, seed=seed)):
        found.append(held(network, trial, seed=seed + number))
    return found


def share(found: list[Held], which: str) -> float:
    return float(np.mean([inside for each in found for inside in getattr(each, which)]))


@pytest.mark.parametrize("name", PLANS)
def test_bands_hold_about_nine_of_ten(name: str) -> None:
    """Few systems: the limits are those of the long run below, three standard errors wider."""
    found = all_held(name, 8, seed=21)
    wider = 3.0 * (0.1 * 0.9 / sum(len(each.last) for each in found)) ** 0.5
    for which in ("last", "new"):
        assert 0.85 - wider < share(found, which) < 0.95 + wider
    assert sum(each.strays > 0 for each in found) <= 1


@pytest.mark.slow
@pytest.mark.parametrize("name", PLANS)
def test_bands_hold_nine_of_ten(name: str) -> None:
    """docs/wet_test.md tells these shares."""
    found = all_held(name, 200, seed=31)
    for which in ("last", "new"):
        assert 0.85 <= share(found, which) <= 0.95
    # A log without slips names none.
    assert np.mean([each.strays == 0 for each in found]) >= 0.95


@pytest.mark.parametrize("factor", [1.3, 0.7])
def test_a_slip_among_like_readings_is_named_and_counts_little(factor: float) -> None:
    network = network_named("lagoon")
    (trial,) = trials(network, 1, seed=8)
    branch = trial.log[-1].branch
    again = tuple(replace(trial.log[-1], turned=(), line=90 + more) for more in range(3))
    clean = (*trial.log, *again)
    slip = replace(clean[-2], seconds=tuple(factor * each for each in clean[-2].seconds))
    wrong = (*clean[:-2], slip, clean[-1])
    without = (*clean[:-2], clean[-1])
    fits = {"wrong": learn(network, wrong), "without": learn(network, without)}
    residuals = np.abs(fits["wrong"].regression.residuals)
    assert residuals.argmax() == len(wrong) - 2
    assert (residuals > DOUBTFUL).sum() == 1
    assert fits["wrong"].regression.weights[-2] < 0.1
    assert (np.abs(fits["without"].regression.residuals) <= DOUBTFUL).all()
    assert branch is not None
    row = network.row_of[branch]
    stand = fits["without"].log.last
    flows, sizes = [], []
    for each in fits.values():
        drawn = each.drawn(np.random.default_rng(1).standard_normal((len(each.z), 300)))
        flows.append(float(each.states(each.z[:, None], stand).flow[row, 0]))
        sizes.append(float(each.states(drawn, stand).flow[row].std()))
    assert abs(flows[0] - flows[1]) < 0.5 * sizes[1]
