"""A power cut followed until all is at rest, by our own solver and by scipy's root."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import Any
from unittest.mock import patch

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import root

from balance.network.course import Course, course
from balance.network.laws import RunLaws
from balance.network.settle import State
from balance.network.topology import Topology
from balance.plan.model import Plan
from balance.plan.read import read
from balance.questions.outage import outage
from balance.questions.outage.checks import checks_of, with_failed
from tests.speed._cases import seconds

Floats = NDArray[np.float64]

DEMO = Path(__file__).parents[2] / "pump_curves_demo"
LONG = 3600.0  # [s]
FLOW = 1e-3  # [m³/s], the unit of flows for the root finder
CLOSED = 1e-6  # [m] and, in that unit, of flow: more left over is no solution
SOLVES: list[bool] = []  # whether each solve of the root finder closed


def by_root(
    topology: Topology,
    laws: RunLaws,
    *,
    fixed_heads: Floats,
    held: NDArray[np.bool_],
    held_flow: Floats,
    draw: Floats,
    near: State | None,
    scenarios: int,
) -> State:
    """What `settle` does, as one would write it with scipy: hybr with the exact Jacobian, warm."""
    runs, joints = topology.runs, topology.joints
    incidence = np.zeros((runs, joints + topology.fixed))
    incidence[np.arange(runs), topology.start] = 1.0
    incidence[np.arange(runs), topology.end] = -1.0
    free, known = incidence[:, :joints], incidence[:, joints:]
    flow, heads = np.zeros((runs, scenarios)), np.zeros((joints, scenarios))
    for column in range(scenarios):
        shut = held[:, column]
        fixed = known @ fixed_heads[:, column]

        def residual(x: Floats, shut: Any = shut, fixed: Floats = fixed, c: int = column) -> Floats:
            own = x[:runs] * FLOW
            missing = free @ x[runs:] + fixed - laws(own[:, None]).head[:, 0]
            missing[shut] = (own - held_flow[:, c])[shut] / FLOW
            return np.concatenate([missing, -free.T @ x[:runs] - draw[:, 0] / FLOW])

        def jacobian(x: Floats, shut: Any = shut) -> Floats:
            linear = laws(x[:runs, None] * FLOW)
            own = np.diag(-linear.slope[:, 0] * FLOW)
            if linear.crossed is not None:
                first, second = topology.pairs.T
                own[first, second] = -linear.crossed[: len(first), 0] * FLOW
                own[second, first] = -linear.crossed[len(first) :, 0] * FLOW
            upper = free.copy()
            own[shut], upper[shut] = 0.0, 0.0
            own[shut, shut] = 1.0
            return np.block([[own, upper], [-free.T, np.zeros((joints, joints))]])

        if near is None:
            span = laws.lift() + np.ptp(fixed_heads[:, column])
            guess = laws.start(np.maximum(span, 1e-3))[0][:, 0]
            heads_ = np.full(joints, fixed_heads[:, column].mean())
            begin = np.concatenate([np.where(shut, held_flow[:, column], guess) / FLOW, heads_])
        else:
            begin = np.concatenate([near.flow[:, 0] / FLOW, near.heads[:joints, 0]])
        found = root(residual, begin, jac=jacobian, method="hybr", options={"xtol": 1e-10})
        SOLVES.append(float(np.abs(residual(found.x)).max()) < CLOSED)
        flow[:, column], heads[:, column] = found.x[:runs] * FLOW, found.x[runs:]
    return State(
        flow,
        np.concatenate([heads, np.broadcast_to(fixed_heads, (topology.fixed, scenarios))]),
        laws(flow).head,
        held,
        np.ones(scenarios, dtype=np.bool_),
        np.ones(scenarios, dtype=np.intp),
    )


def stopped(name: str) -> Plan:
    """A demo with its pump at rest and every check valve failed."""
    plan = read(DEMO / f"{name}.toml")
    return with_failed(plan, checks_of(plan)).with_speed({"main": 0.0})


def with_root(plan: Plan) -> Course:
    """The same course with scipy's root for the network."""
    with patch("balance.network.course.plumbing.settle", by_root):
        return course(plan, until=LONG)


def main() -> None:
    """Prints times of one simulation either way, and of the whole answer."""
    for name in ("lagoon", "fish-room"):
        plan = stopped(name)
        SOLVES.clear()
        ours, theirs = course(plan, until=LONG), with_root(plan)
        open_ = f"{SOLVES.count(False)} of its {len(SOLVES)} solves did not close"
        off = max(abs(ours.last[vessel] - theirs.last[vessel]) for vessel in ours.vessels)
        own = seconds(partial(course, plan, until=LONG), repeats=3)
        other = seconds(partial(with_root, plan), repeats=1)
        whole = seconds(partial(outage, read(DEMO / f"{name}.toml")), repeats=1)
        print(
            f"{name}: one course {own:.2f} s, with scipy's root {other:.2f} s, {other / own:.1f} "
            f"times as long; levels differ by {1e3 * off:.2g} mm, {open_}; "
            f"the whole answer {whole:.1f} s"
        )


if __name__ == "__main__":
    main()
