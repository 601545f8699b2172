"""Slopes of what would be read, against differences of what would be read."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from balance.network.arrays import Network, network_of
from balance.plan.read import read, read_text
from balance.questions.learning.experiment import Experiment, Observation
from balance.questions.learning.handles import Setting, Stand
from balance.questions.learning.unknowns import unknowns_of
from tests.questions.learning.two_pumps import GAUGES, TWO_PUMPS

Floats = NDArray[np.float64]

DEMO = Path(__file__).parents[3] / "pump_curves_demo"
STEP = 3e-3  # of each unknown's standard deviation


def network_with_gauges(name: str) -> Network:
    plan = read_text(TWO_PUMPS) if name == "two pumps" else read(DEMO / f"{name}.toml")
    return network_of(plan, gauges=GAUGES[name])


def experiment_of(network: Network, *, seed: int) -> tuple[Experiment, Floats]:
    """Everything that can be read, at three stands, and unknowns as likely as any."""
    rng = np.random.default_rng(seed)
    settings: list[Setting] = []
    stands = []
    for number in range(3):
        openings, errors = [], []
        for place in range(len(network.valves)):
            shut = number == 2 and place % 4 == 1
            wide = number == 1 and place % 3 == 0
            opening = 0.0 if shut else 1.0 if wide else float(rng.uniform(0.45, 0.9))
            openings.append(opening)
            own: tuple[int, ...] = ()
            if not shut and not wide:  # set by eye, and of some nudged since
                for _ in range(1 + place % 2):
                    settings.append(Setting(place, 0.02))
                    own = (*own, len(settings) - 1)
            errors.append(own)
        speeds = tuple(float(rng.uniform(0.8, 1.0)) for _ in network.machines)
        stands.append(Stand(tuple(openings), speeds, tuple(errors)))
    unknowns = unknowns_of(
        network,
        tuple(settings),
        told=tuple(valve.part.handle == "degrees" for valve in network.valves),
        supply_told=True,
    )
    z = np.linalg.cholesky(unknowns.covariance) @ rng.uniform(-1.0, 1.0, len(unknowns.all))
    return Experiment(unknowns, tuple(stands), tuple(everything(network))), z


def everything(network: Network) -> list[Observation]:
    found: list[Observation] = []
    for stand in range(3):
        for branch in network.plan.branches:
            found += [
                Observation(kind, stand, network.row_of[branch.name], 0.0, 1.0)
                for kind in ("bucket", "meter")
                if branch.to is not None
            ]
        found += [
            Observation("watts", stand, machine.run, 0.0, 1.0) for machine in network.machines
        ]
        for row, run in enumerate(network.layout.runs):
            if run.end.startswith("gauge in"):
                bore = run.stretch.bore_end
                assert bore is not None
                joint = network.node_of[run.end]
                found.append(Observation("level", stand, row, 0.0, 1.0, joint=joint, bore=bore))
    return found


@pytest.mark.parametrize("seed", [1, 2])
@pytest.mark.parametrize("name", GAUGES)
def test_slopes_are_those_of_differences(name: str, seed: int) -> None:
    network = network_with_gauges(name)
    experiment, z = experiment_of(network, seed=seed)
    values, slopes = experiment(z)
    read = np.isfinite(values)
    assert read.mean() > 0.6
    assert {each.kind for each, is_read in zip(experiment.observations, read, strict=True)
            if is_read} == {"bucket", "meter", "level", "watts"}  # fmt: skip
    assert {each.of for each in experiment.unknowns.all} == {
        "pump", "mains", "loss", "throttling", "offset", "bucket", "handle",
    }  # fmt: skip
    sizes = np.sqrt(np.diag(experiment.unknowns.covariance))
    difference = np.empty(slopes.shape)
    for column, size in enumerate(sizes):

        def moved(by: float, column: int = column, size: float = size) -> Floats:
            there = z.copy()
            there[column] += by * STEP * size
            return experiment.values(there, experiment.look(there))

        # Exact to the fourth order, so that steps may be large beside what the solver leaves.
        near, far = moved(1.0) - moved(-1.0), moved(2.0) - moved(-2.0)
        difference[:, column] = (8.0 * near - far) / (12.0 * STEP * size)
    # Each reading by the most that any unknown of its size does to it; a level behind a shut valve
    # is that of its vessel, whatever they are.
    error = np.abs(slopes - difference)[read] * sizes
    most = (np.abs(difference[read]) * sizes).max(axis=1, keepdims=True)
    assert (most > 1e-4).mean() > 0.9
    assert (error / np.maximum(most, 1e-4)).max() < 1e-5
    assert np.isnan(slopes[~read]).all()
