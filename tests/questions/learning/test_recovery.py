"""A fit finds what made its readings, and what scipy finds at the same cost."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.optimize import least_squares

from balance.network.arrays import Network, network_of
from balance.plan.read import read, read_text
from balance.questions.learning.experiment import Experiment, Observation
from balance.questions.learning.handles import HandleLog, Setting, Stand
from balance.questions.learning.learn import fitted
from balance.questions.learning.unknowns import unknowns_of
from tests.questions.learning.test_slopes import everything
from tests.questions.learning.two_pumps import GAUGES, TWO_PUMPS

Floats = NDArray[np.float64]

DEMO = Path(__file__).parents[3] / "pump_curves_demo"


def network_with_gauges(name: str) -> Network:
    plan = read_text(TWO_PUMPS) if name == "two pumps" else read(DEMO / f"{name}.toml")
    return network_of(plan, gauges=GAUGES[name])


def many_stands(
    network: Network, *, count: int, sd: float, seed: int
) -> tuple[Experiment, HandleLog]:
    """Every reading there is, at many stands of handles that were set by eye."""
    rng = np.random.default_rng(seed)
    settings: list[Setting] = []
    stands = []
    for _ in range(count):
        openings, errors = [], []
        for place, valve in enumerate(network.valves):
            capped = bool(network.capped[valve.run, 0])
            opening = 0.0 if capped else float(rng.choice([1.0, rng.uniform(0.45, 0.9)]))
            openings.append(opening)
            errors.append(() if opening in (0.0, 1.0) else (len(settings),))
            if errors[-1]:
                settings.append(Setting(place, sd))
        speeds = tuple(float(rng.uniform(0.85, 1.0)) for _ in network.machines)
        stands.append(Stand(tuple(openings), speeds, tuple(errors)))
    told = tuple(valve.part.handle == "degrees" for valve in network.valves)
    unknowns = unknowns_of(network, tuple(settings), told=told, supply_told=True)
    observations = tuple(
        replace(each, stand=stand, sd=sd)
        for stand in range(count)
        for each in everything(network)
        if each.stand == 0
    )
    experiment = Experiment(unknowns, tuple(stands), observations)
    return experiment, HandleLog(tuple(settings), tuple(stands), stands[-1], told)


def readable(experiment: Experiment, z: Floats) -> Experiment:
    """With values as unknowns would have them, and without what cannot be read then."""
    values = experiment.values(z, experiment.look(z))
    kept: list[Observation] = [
        replace(each, value=float(value))
        for each, value in zip(experiment.observations, values, strict=True)
        if np.isfinite(value)
    ]
    return replace(experiment, observations=tuple(kept))


@pytest.mark.parametrize("name", GAUGES)
def test_what_made_the_readings_is_found(name: str) -> None:
    network = network_with_gauges(name)
    experiment, log = many_stands(network, count=12, sd=1e-7, seed=4)
    rng = np.random.default_rng(5)
    unknowns = experiment.unknowns
    # Within one standard deviation of the prior, whatever correlates.
    standard = rng.standard_normal(len(unknowns.all))
    root = np.linalg.cholesky(unknowns.covariance)
    true = np.asarray(root @ (standard / np.linalg.norm(standard)))
    true[unknowns.first_setting :] = 0.0
    found = fitted(readable(experiment, true), log)
    assert found.regression.converged
    told = np.sqrt(np.diag(found.covariance)) < 1e-5
    kinds = {unknowns.all[row].of for row in np.flatnonzero(told)}
    assert kinds == {"pump", "mains", "loss", "throttling", "offset", "bucket", "handle"}
    assert told.sum() >= 0.85 * len(told)
    assert np.abs(true[told]).max() > 0.01
    assert np.abs(found.z - true)[told].max() < 1e-4


def test_it_is_what_scipy_finds() -> None:
    """The same cost, residuals and prior, with slopes by differences."""
    network = network_with_gauges("two pumps")
    experiment, log = many_stands(network, count=4, sd=0.02, seed=6)
    rng = np.random.default_rng(7)
    unknowns = experiment.unknowns
    root = np.linalg.cholesky(unknowns.covariance)
    true = root @ rng.standard_normal(len(unknowns.all))
    experiment = readable(experiment, true)
    experiment = replace(
        experiment,
        observations=tuple(
            replace(each, value=each.value + 0.02 * float(rng.standard_normal()))
            for each in experiment.observations
        ),
    )
    found = fitted(experiment, log)
    assert (found.regression.weights == 1.0).all()  # so the robust cost is the plain one

    def residuals(at: Floats) -> Floats:
        z = root @ at
        values = experiment.values(z, experiment.look(z))
        return np.concatenate([(experiment.measured - values) / experiment.sd, at])

    wanted = least_squares(residuals, np.zeros(len(root)), jac="3-point", xtol=1e-10, ftol=1e-12)
    sd = np.sqrt(np.diag(found.covariance))
    assert np.abs((found.z - root @ wanted.x) / sd).max() < 1e-3
    assert found.regression.cost == pytest.approx(wanted.cost, rel=1e-7)
    steep = np.asarray(wanted.jac)
    inverse = root @ np.linalg.inv(steep.T @ steep) @ root.T
    assert np.abs((found.covariance - inverse) / np.outer(sd, sd)).max() < 1e-3
