"""The demo's log fitted to its plan, and the same cost left to scipy with slopes by differences."""

from __future__ import annotations

from pathlib import Path
from time import perf_counter, process_time

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

from balance.network.arrays import network_of
from balance.plan.read import read
from balance.plan.readings import read_readings
from balance.questions.fit import fit
from balance.questions.learning.learn import learn

Floats = NDArray[np.float64]

DEMO = Path(__file__).parents[2] / "pump_curves_demo"
TIMES = 5


def main() -> None:
    """Prints how long it takes."""
    plan = read(DEMO / "lagoon.toml")
    log = read_readings(DEMO / "lagoon-readings.csv", plan)
    network = network_of(plan)
    learnt = learn(network, log.rows)  # loads what is loaded once
    before = perf_counter()
    for _ in range(TIMES):
        learnt = learn(network, log.rows)
    ours = (perf_counter() - before) / TIMES
    count, unknowns = len(log.rows), learnt.unknowns
    print(f"{count} readings of lagoon.toml, {len(unknowns.all)} unknowns")
    print(f"  ours, slopes by one transposed system a reading  {ours * 1e3:8.1f} ms")

    experiment = learnt.experiment
    root = np.linalg.cholesky(unknowns.covariance)

    def residuals(at: Floats) -> Floats:
        z = root @ at
        values = experiment.values(z, experiment.look(z))
        return np.concatenate([(experiment.measured - values) / experiment.sd, at])

    before = perf_counter()
    theirs = least_squares(residuals, np.zeros(len(root)), jac="3-point", ftol=1e-12, xtol=1e-9)
    taken = perf_counter() - before
    sd = np.sqrt(np.diag(learnt.covariance))
    off = float(np.abs((root @ theirs.x - learnt.z) / sd).max())
    print(f"  scipy least_squares, central differences         {taken * 1e3:8.1f} ms")
    print(f"  within {off:.0e} standard deviations of ours; ratio {taken / ours:.0f}")
    used = process_time()
    fit(plan, log)
    print(
        f"  all that `balance fit` answers                   {process_time() - used:8.2f} s of CPU"
    )


if __name__ == "__main__":
    main()
