"""Loops with more tees than runs to carry their losses: cutting runs in two changes no flow."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import root

from balance.network.arrays import _laws, network_of, plan_water
from balance.network.layout import lay_out
from balance.network.solve import solve
from balance.network.stretch import velocity_head
from balance.parts.tees import tee_bank, tee_table
from balance.plan.read import read_text

Floats = NDArray[np.float64]

# Two triangles of pipe joined by two more pipes, each corner a tee: eight runs between six tees,
# so that at least two of them carry the losses of a tee at either end.
PIPES = {
    "ab": ("a", "b", 40),
    "bc": ("b", "c", 70),
    "ca": ("c", "a", 30),
    "de": ("d", "e", 50),
    "ef": ("e", "f", 90),
    "fd": ("f", "d", 25),
    "ad": ("a", "d", 60),
    "be": ("b", "e", 35),
    "in": ("high", "c", 80),
    "out": ("f", "low", 45),
}
SIDES = {"a": "ad", "b": "be", "c": "in", "d": "de", "e": "be", "f": "out"}
PLAN = (
    'title = "Two triangles"\nunits = "metric"\n[vessels.high]\nlevel = "2 m"\n'
    '[vessels.low]\nlevel = "0 m"\n'
    + "".join(
        f'[[runs]]\nname = "{name}"\nfrom = "{start}"\nto = "{end}"\n'
        f'parts = [{{ pipe = "{"25 mm" if name in ("be", "de") else "32 mm"} PN10", '
        f'length = "{length} cm" }}]\n'
        for name, (start, end, length) in PIPES.items()
    )
    + "".join(f'[joints.{joint}]\nside = "{side}"\n' for joint, side in SIDES.items())
)


def uncut_flows(guess: Floats) -> Floats:
    """Flows of the runs as drawn, by a general root finder.

    Each tee's losses are counted from its first straight leg at the ends of its other two legs, so
    a run may have one at either end.
    """
    plan = read_text(PLAN)
    medium = plan_water(plan)
    layout = lay_out(plan, medium)
    laws = _laws(layout, medium, (), None)
    nodes = [*layout.joints(), *layout.heads]
    joints = len(layout.joints())
    fixed = np.array(list(layout.heads.values()))
    bank = tee_bank(
        [tee_table(area_ratio=tee.area_ratio, angle=tee.angle) for tee in layout.tees],
        [0] * len(layout.tees),
        [velocity_head(tee.straight_bore) for tee in layout.tees],
    )
    incidence = np.zeros((len(layout.runs), len(nodes)))
    for row, run in enumerate(layout.runs):
        incidence[row, nodes.index(run.start)] = 1.0
        incidence[row, nodes.index(run.end)] = -1.0
    legs = np.array([tee.legs for tee in layout.tees])
    into = np.array(
        [
            [1.0 if layout.runs[leg].end == tee.joint else -1.0 for leg in tee.legs]
            for tee in layout.tees
        ]
    )

    def residual(x: Floats) -> Floats:
        flow, heads = x[: len(incidence)] * 1e-3, x[len(incidence) :]
        drop = incidence @ np.concatenate([heads, fixed])
        loss = bank.losses(
            (into[:, 1] * flow[legs[:, 1]])[:, None], (into[:, 2] * flow[legs[:, 2]])[:, None]
        )
        for place, lower in ((1, loss.first[:, 0]), (2, loss.second[:, 0])):
            # The leg's own end stands lower than the joint's head by the loss.
            np.add.at(drop, legs[:, place], into[:, place] * lower)
        missing = drop - laws(flow[:, None]).head[:, 0]
        return np.concatenate([missing, (incidence.T @ flow)[:joints] * 1e3])

    found = root(residual, np.concatenate([guess * 1e3, np.ones(joints)]), tol=1e-12)
    assert np.abs(found.fun).max() < 1e-9
    return np.asarray(found.x[: len(incidence)] * 1e-3)


def test_cut_runs_carry_what_whole_ones_do() -> None:
    network = network_of(read_text(PLAN))
    assert len(network.layout.tees) == 6
    cut = [run.name for run in network.layout.runs if run.name.endswith("second half")]
    assert len(cut) >= 2
    solution = solve(network)
    ours = np.array([solution.flow(name) for name in PIPES])
    for name in PIPES:
        half = f"{name}, second half"
        if half in cut:
            assert abs(solution.flow(half) - solution.flow(name)) < 1e-12
    theirs = uncut_flows(ours * np.linspace(0.8, 1.2, len(ours)))
    assert np.abs(theirs - ours).max() < 1e-6 * np.abs(ours).max()
