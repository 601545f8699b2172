"""One solve against a general root finder, batches of scenarios, and the marks around a setting."""

from __future__ import annotations

from collections.abc import Callable
from itertools import product
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import root

from balance.network.arrays import Network
from tests.speed._cases import Setting, manifold, scattered, seconds

Floats = NDArray[np.float64]

SCENARIOS = 20_000
MARK = 5.0 / 90.0  # of travel


class Equations:
    """The head and flow equations of one scenario, scaled, for a general root finder.

    The unknowns are the flows of all runs and the heads of all joints.
    """

    def __init__(self, setting: Setting) -> None:
        network = setting.network
        self.topology = network.topology
        self.laws, _ = setting.at()
        self.fixed = network.fixed_heads
        self.head_unit, self.flow_unit = 1.0, 1e-3
        runs, nodes = self.topology.runs, self.topology.joints + self.topology.fixed
        incidence = np.zeros((runs, nodes))
        incidence[np.arange(runs), self.topology.start] = 1.0
        incidence[np.arange(runs), self.topology.end] = -1.0
        self.incidence = incidence[:, : self.topology.joints]
        self.known = incidence[:, self.topology.joints :] @ self.fixed[:, 0]

    def start(self) -> Floats:
        """Where our own solve begins."""
        span = self.laws.lift() + np.ptp(self.fixed)
        flow = self.laws.start(span)[0][:, 0] / self.flow_unit
        heads = np.full(self.topology.joints, self.fixed.mean() / self.head_unit)
        return np.concatenate([flow, heads])

    def residual(self, x: Floats) -> Floats:
        runs = self.topology.runs
        flow, heads = x[:runs] * self.flow_unit, x[runs:] * self.head_unit
        missing = self.incidence @ heads + self.known - self.laws(flow[:, None]).head[:, 0]
        return np.concatenate([missing / self.head_unit, self.incidence.T @ x[:runs]])

    def jacobian(self, x: Floats) -> Floats:
        runs, joints = self.topology.runs, self.topology.joints
        linear = self.laws(x[:runs, None] * self.flow_unit)
        own = np.diag(linear.slope[:, 0])
        if linear.crossed is not None:
            tees = len(self.topology.pairs)
            first, second = self.topology.pairs.T
            own[first, second] = linear.crossed[:tees, 0]
            own[second, first] = linear.crossed[tees:, 0]
        matrix = np.zeros((runs + joints, runs + joints))
        matrix[:runs, :runs] = -own * self.flow_unit / self.head_unit
        matrix[:runs, runs:] = self.incidence
        matrix[runs:, :runs] = self.incidence.T
        return matrix


def one_solve(network: Network) -> None:
    """Our solve beside that of a general root finder, on the same equations and start."""
    setting = Setting(network, network.openings, network.speeds)
    laws, shut = setting.at()
    state = setting.settled(laws, shut)
    ours = seconds(lambda: setting.settled(laws, shut), repeats=51)
    warm = seconds(lambda: setting.settled(laws, shut, near=state), repeats=51)
    print(f"  ours, cold                         {ours * 1e3:8.3f} ms")
    print(f"  ours, warm                         {warm * 1e3:8.3f} ms")
    equations = Equations(setting)
    start, runs = equations.start(), network.topology.runs
    finders: dict[str, Callable[[], Any]] = {
        "differences": lambda: root(equations.residual, start, method="hybr"),
        "exact Jacobian": lambda: root(
            equations.residual, start, jac=equations.jacobian, method="hybr"
        ),
    }
    for words, solve in finders.items():
        found = solve()
        theirs = seconds(solve)
        flow = found.x[:runs] * equations.flow_unit
        off = np.abs(flow - state.flow[:, 0]).max() / np.abs(state.flow).max()
        ended = f"agrees within {off:.0e}" if found.success else "does not converge"
        print(
            f"  scipy root hybr, {words:<16}  {theirs * 1e3:8.3f} ms"
            f"  {theirs / ours:5.1f} times ours, {ended}"
        )


def batch(network: Network) -> None:
    """Scenarios a second, with valves and speed different in each, from nothing."""
    setting = scattered(network, SCENARIOS)
    laws, shut = setting.at()
    assert setting.settled(laws, shut).converged.all()
    solving = seconds(lambda: setting.settled(laws, shut), repeats=3)
    whole = seconds(lambda: setting.settled(*setting.at()), repeats=3)
    print(f"  solving                            {SCENARIOS / solving:8,.0f} a second")
    print(f"  looking up the valves too          {SCENARIOS / whole:8,.0f} a second")


def marks(network: Network) -> None:
    """All settings of eight valves one mark to either side, from the solution in the middle."""
    base = Setting(network, network.openings, network.speeds)
    state = base.settled(*base.at())
    moves = np.array(list(product((-MARK, 0.0, MARK), repeat=8))).T
    openings = np.repeat(network.openings, moves.shape[1], axis=1)
    openings[:8] = np.clip(openings[:8] + moves, 0.0, 1.0)
    around = Setting(network, openings, np.repeat(network.speeds, moves.shape[1], axis=1))
    assert around.settled(*around.at(), near=state).converged.all()
    laws, shut = around.at()
    solving = seconds(lambda: around.settled(laws, shut, near=state))
    whole = seconds(lambda: around.settled(*around.at(), near=state))
    print(f"  solving                            {solving * 1e3:8.1f} ms")
    print(f"  looking up the valves too          {whole * 1e3:8.1f} ms")


def main() -> None:
    """Prints all of it, without and with tees."""
    for tees in (False, True):
        network = manifold(tees=tees)
        kind = "with tees" if tees else "without tees"
        print(f"one solve, manifold of {network.topology.runs} runs {kind}")
        one_solve(network)
        print(f"{SCENARIOS:,} scenarios of it, cold")
        batch(network)
        print(f"the {3**8:,} settings around one, eight valves, warm")
        marks(network)


if __name__ == "__main__":
    main()
