"""All branches of a fish room shut one at a time and two at a time, in one batch, and by hand."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import root

from balance.network.arrays import Network, network_of
from balance.plan.model import Plan
from balance.plan.read import read_text
from balance.questions.close import close
from balance.questions.close.cases import Scenario, arrays, each_branch, pairs_of
from balance.questions.close.holding import hold
from balance.questions.close.solved import BASE, Solved, solve_all
from tests.speed._cases import Setting, seconds
from tests.speed.kernel import Equations

Floats = NDArray[np.float64]

BRANCHES = 40
HEADERS = 4
SAMPLE = 40  # scenarios of all that the general root finder is timed on

_TOP = """
title = "A fish room of forty tanks"
units = "metric"

[water]
salinity = "0 g/kg"

[vessels.sump]
level = "30 cm"

[pumps.main]
points = ["0 L/h at 6 m, 300 W", "12000 L/h at 5 m, 420 W", "24000 L/h at 0 m, 450 W"]
from = "sump"
to = "riser foot"

[[runs]]
name = "riser"
from = "riser foot"
to = "split"
parts = [{ check = "spring", size = "63 mm" }, { pipe = "63 mm PN10", length = "120 cm" }]
"""


def fish_room() -> Plan:
    """Forty tanks on two tiers, fed by hoses from four headers that begin at one joint."""
    text = _TOP
    for header in range(HEADERS):
        mine = range(header, BRANCHES, HEADERS)
        taps = ", ".join(
            f'{{ branch = "feed {n}", after = "40 cm", side_size = "20 mm"'
            + (', end = "cap" }' if n == mine[-1] else " }")
            for n in mine
        )
        text += f'[[headers]]\nname = "header {header}"\nfrom = "split"\n'
        text += f'pipe = "40 mm PN10"\ntaps = [{taps}]\n'
    for n in range(BRANCHES):
        tier = 110 if n % HEADERS < HEADERS // 2 else 170
        text += f"""
[vessels."tank {n}"]
level = "{tier} cm"

[[branches]]
name = "feed {n}"
to = "tank {n}"
target = "400 L/h"
limits = "<= 600 L/h"
parts = [
  {{ valve = "ball", size = "20 mm", open = "{40 + n} deg" }},
  {{ pipe = "20 mm PN16", length = "10 cm" }},
  {{ fitting = "barb", size = "20 mm", hose = "12 mm" }},
  {{ hose = "12 mm", length = "{80 + n} cm" }},
]
"""
    return read_text(text)


def scenarios(network: Network) -> list[Scenario]:
    """Every branch shut, and every two."""
    moves = each_branch(network)
    return [*(Scenario((move,)) for move in moves), *(Scenario(both) for both in pairs_of(moves))]


class Shut(Equations):
    """The equations of one scenario, with the flow of what is shut in place of its head."""

    def __init__(self, solved: Solved, column: int) -> None:
        network = solved.network
        super().__init__(Setting(network, network.openings, network.speeds))
        self.laws = solved.laws.take(np.array([column]))
        self.rows = np.flatnonzero(solved.given[:, column])

    def begin(self, solved: Solved) -> Floats:
        """The flows and heads of the plan as it stands, at rest in what is shut."""
        flow = solved.state.flow[:, BASE] / self.flow_unit
        flow[self.rows] = 0.0
        joints = solved.network.topology.joints
        return np.concatenate([flow, solved.state.heads[:joints, BASE] / self.head_unit])

    def residual(self, x: Floats) -> Floats:
        found = super().residual(x)
        found[self.rows] = x[self.rows]
        return found

    def jacobian(self, x: Floats) -> Floats:
        matrix = super().jacobian(x)
        matrix[self.rows] = 0.0
        matrix[self.rows, self.rows] = 1.0
        return matrix


def by_hand(solved: Solved, columns: Sequence[int]) -> tuple[float, float]:
    """Time that scipy's root takes for some scenarios [s], and how far its flows are off [ratio].

    With our laws, the exact Jacobian, and a start from the plan as it stands.
    """
    runs = solved.network.topology.runs
    cases = [(column, Shut(solved, column)) for column in columns]
    off: list[float] = []

    def solve() -> None:
        off.clear()
        for column, equations in cases:
            start = equations.begin(solved)
            found = root(equations.residual, start, jac=equations.jacobian, method="hybr")
            flow = found.x[:runs] * equations.flow_unit
            off.append(float(np.abs(flow - solved.state.flow[:, column]).max()))

    taken = seconds(solve, repeats=1)
    return taken, max(off) / float(np.abs(solved.state.flow).max())


def main() -> None:
    """Prints times of the batch, of the whole answer, and of a general root finder."""
    plan = fish_room()
    network = network_of(plan)
    every = scenarios(network)
    solved = solve_all(network, every)
    print(f"{len(every)} cases of {BRANCHES} branches, {network.topology.runs} runs with tees")
    ours = seconds(lambda: solve_all(network, every))
    print(f"  solved in one batch                {ours * 1e3:8.1f} ms")
    whole = seconds(lambda: close(plan, pairs=True), repeats=3)
    print(f"  the whole answer from the plan     {whole * 1e3:8.1f} ms")
    moves = [Scenario((move,)) for move in each_branch(network)]
    one = seconds(lambda: hold(network, arrays(network, moves[:1])), repeats=3)
    print(f"  the others held, one shut          {one * 1e3:8.1f} ms")
    each_held = seconds(lambda: hold(network, arrays(network, moves)), repeats=3)
    print(f"  the others held, each shut in turn {each_held * 1e3:8.1f} ms")
    sample = np.linspace(1, len(every), SAMPLE).astype(int).tolist()
    theirs, off = by_hand(solved, sample)
    each = theirs / SAMPLE * len(every)
    print(
        f"  scipy root hybr, exact Jacobian    {each * 1e3:8.0f} ms  {each / ours:5.0f} times ours"
        f", agrees within {off:.0e} ({SAMPLE} cases timed)"
    )


if __name__ == "__main__":
    main()
