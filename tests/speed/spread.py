"""A hundred thousand systems drawn from the demo's plan, and a few of them as scipy alone would."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from time import perf_counter

import numpy as np
from scipy.optimize import root

from balance.network.arrays import network_of
from balance.plan.read import read
from balance.questions.learning.doubts import Doubts
from balance.questions.spread import spread
from balance.questions.spread.monte_carlo import solve_drawn
from tests.speed._cases import Setting
from tests.speed.kernel import Equations

DEMO = Path(__file__).parents[2] / "pump_curves_demo" / "lagoon.toml"
SYSTEMS = 100_000
FEW = 50  # that scipy solves; the rest would take as long each
SHUT = 1e18  # loss per flow squared of a run that is shut, for a solver that knows no such thing


def main() -> None:
    """Prints how long it takes."""
    plan = read(DEMO)
    spread(plan, systems=1000)  # loads what is loaded once
    before = perf_counter()
    answer = spread(plan, systems=SYSTEMS).before
    ours = perf_counter() - before
    print(f"{SYSTEMS} systems drawn from lagoon.toml, {answer.unsettled} of them unsettled")
    print(f"  ours, with bands and shares        {ours:8.2f} s")

    network = network_of(plan)
    sampler = Doubts(network)
    normal = np.random.default_rng(1).standard_normal((len(sampler.all), FEW))
    solved = solve_drawn(network, sampler.drawn(normal), factor=np.ones((network.topology.runs, 1)))
    equations = Equations(Setting(network, network.openings, network.speeds))
    start, runs = equations.start(), network.topology.runs
    heads = solved.state.heads[network.topology.joints :]
    known = np.zeros((runs, FEW))
    inner = network.topology.joints
    for ends, sign in ((network.topology.start, 1.0), (network.topology.end, -1.0)):
        fixed = ends >= inner
        known[fixed] += sign * heads[ends[fixed] - inner]
    taken, off, failed = 0.0, 0.0, 0
    for column in range(FEW):
        laws = solved.laws.take(np.array([column]))
        shut = SHUT * solved.shut[:, [column]]
        equations.laws = replace(laws, forward=laws.forward + shut, backward=laws.backward + shut)
        equations.known = known[:, column]
        before = perf_counter()
        found = root(equations.residual, start, jac=equations.jacobian, method="hybr")
        taken += perf_counter() - before
        failed += not found.success
        if found.success:
            flow = found.x[:runs] * equations.flow_unit
            largest = np.abs(solved.state.flow[:, column]).max()
            off = max(off, float(np.abs(flow - solved.state.flow[:, column]).max() / largest))
    theirs = taken / FEW * SYSTEMS
    print(f"  scipy root hybr, exact Jacobian    {theirs:8.0f} s, from {FEW} systems one by one")
    print(f"  within {off:.0e} of ours, {failed} not solved; ratio {theirs / ours:.0f}")


if __name__ == "__main__":
    main()
