"""How likely targets are met, where handles stand and were one of them turned."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from balance.network.settle import settle
from balance.questions.aims import Aim
from balance.questions.learning.handles import at_stop, nudge_spread
from balance.questions.tune.drift import drifted
from balance.questions.tune.view import View

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

SYSTEMS = 256  # drawn from what the fit leaves in doubt, for a chance to some hundredths
ROUNDING = 1e-6  # of an aim
SEED = 20_26  # the same systems at each step, lest chances move by the draw


@dataclass(frozen=True)
class Chances:
    """What may be expected.

    Attributes
    ----------
    met : chance that all are within tolerance as everything stands
    out : for each aim the chance that it is not
    turned : (C,) how many aims would be within in the mean, were one of the goal's valves turned to
        its place
    faster : the same for each pump and step of speed (pump, speed, aims)
    """

    met: float
    out: dict[str, float]
    turned: Floats
    faster: tuple[tuple[int, float, float], ...]

    @property
    def within(self) -> float:
        """How many aims are within tolerance in the mean as everything stands."""
        return sum(1.0 - out for out in self.out.values())


def chances_of(view: View, *, steps: Sequence[tuple[int, float]] = ()) -> Chances:
    """The chances of a walk, as the fit leaves the system in doubt.

    Parameters
    ----------
    steps : pumps, by place, and speeds that they may be set to
    """
    turns = list(enumerate(view.by.tolist()))
    met = _met_after(view, [(), *((turn,) for turn in turns)], steps)
    within = met.sum(axis=0).mean(axis=1)
    turned = 1 + len(turns)
    return Chances(
        met=float(met[:, 0].all(axis=0).mean()),
        out={
            aim.name: 1.0 - float(row[0].mean())
            for aim, row in zip(view.goal.aims, met, strict=True)
        },
        turned=within[1:turned],
        faster=tuple(
            (pump, speed, float(aims_within))
            for (pump, speed), aims_within in zip(steps, within[turned:], strict=True)
        ),
    )


def within_after(view: View, cases: Sequence[Sequence[tuple[int, float]]]) -> Floats:
    """How many aims would be within in the mean in each of some cases, (T,).

    Parameters
    ----------
    cases : turns of the goal's valves that are made in each: the column, and how far, of travel
    """
    met = _met_after(view, cases, ())
    return np.asarray(met.sum(axis=0).mean(axis=1))


def _met_after(
    view: View,
    cases: Sequence[Sequence[tuple[int, float]]],
    steps: Sequence[tuple[int, float]],
) -> Bools:
    """Whether each aim is met in drawn systems, (A, cases and steps, SYSTEMS)."""
    learnt, network = view.learnt, view.network
    rng = np.random.default_rng(SEED)
    z = learnt.drawn(rng.standard_normal((len(learnt.z), SYSTEMS)))
    drift = drifted(view, SYSTEMS, rng)
    hand = rng.standard_normal(SYSTEMS)
    count = len(cases) + len(steps)
    handles = np.tile(learnt.unknowns.handles_of(z, view.stand), (1, count))
    marks = np.repeat(np.array([view.stand.openings]).T, SYSTEMS * count, axis=1)
    speeds = np.repeat(np.array([view.stand.speeds]).T, SYSTEMS * count, axis=1)
    for number, case in enumerate(cases):
        here = slice(number * SYSTEMS, (number + 1) * SYSTEMS)
        for column, by in case:
            place = view.turned[column]
            marks[place, here] += by
            valve = network.valves[place]
            if at_stop(float(marks[place, here.start])):
                handles[place, here] = 0.0
            else:
                handles[place, here] += hand * nudge_spread(valve, network.plan.spread, by)
    for number, (pump, speed) in enumerate(steps):
        first = (len(cases) + number) * SYSTEMS
        speeds[pump, first : first + SYSTEMS] = speed
    flow = _flows(view, np.tile(z, (1, count)), marks, handles, speeds)
    flow = flow * np.tile(drift, (1, count))
    rows = [[network.row_of[name] for name in aim.branches] for aim in view.goal.aims]
    met = [
        met_by(aim, flow[own].sum(axis=0)) for aim, own in zip(view.goal.aims, rows, strict=True)
    ]
    return np.array(met).reshape(len(met), count, SYSTEMS)


def met_by(aim: Aim, flow: Floats) -> Bools:
    """Whether flows (S,), of a branch or of a group together, are within tolerance."""
    return np.asarray(aim.missing(flow) <= ROUNDING)


def _flows(view: View, z: Floats, marks: Floats, handles: Floats, speeds: Floats) -> Floats:
    network = view.learnt.unknowns.network
    real = view.learnt.unknowns.real(z)
    laws, shut = network.at(marks, speeds, real=replace(real, offset=real.offset - handles))
    return settle(
        network.topology,
        laws,
        fixed_heads=network.fixed_heads,
        held=shut,
        draw=network.draw,
        scenarios=z.shape[1],
    ).flow
