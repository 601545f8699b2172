"""The next reading that would teach most.

What counts is how surely the flows are known where `balance settings` would put the handles of the
fitted plan: each set by eye, or where it stands if that is as good as there.  A reading with slopes
g and noise r takes |T C g|² / (g' C g + r²) off the sum of their variances, C the covariance of all
unknowns and T the slopes of those flows.  It is worked out for every branch as everything stands,
with all valves wide open, with its own handle turned to its mark, and with all handles at theirs.

Source: fedorov-1972.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, TypeVar

import numpy as np
from numpy.typing import NDArray

from balance.network.arrays import Network
from balance.questions.learning.experiment import (
    MODEL_FLOW,
    Experiment,
    Observation,
    slopes,
)
from balance.questions.learning.handles import Setting, Stand, at_stop, setting_to_mark
from balance.questions.learning.learn import Learnt
from balance.questions.marks import Marks
from balance.questions.settings.search import search

Floats = NDArray[np.float64]

T = TypeVar("T")
How = Literal["as it stands", "all wide open", "at its mark", "all at their marks"]
FILL = 12.0  # [s] of a fill, with a bucket that suits the flow; our own choice
FILLS = 3
THERE = 5.0 / 90.0
"""Of travel, between a handle and the mark it should have, that is as good as there already: by so
much a mark may differ from where a bucket has led; our own choice."""
DRY = 1e-8  # [m³/s]: what no bucket catches


@dataclass(frozen=True)
class Lesson:
    """A reading that could be taken next.

    Attributes
    ----------
    branch : to be read
    how : with the handles where
    mark : of its own valve then, of travel; None where it is not turned, or has none
    flow : that is to be expected [m³/s]
    before, after : root mean square of how surely the flows asked for are known, as a share
    """

    branch: str
    how: How
    mark: float | None
    flow: float
    before: float
    after: float


def lessons(learnt: Learnt) -> tuple[Lesson, ...]:
    """Readings that could be taken next, those that teach most first."""
    network = learnt.unknowns.network
    found = search(learnt.network)
    goal = _at_marks(network, found.openings[:, 0])
    valves = {valve.name: row for row, valve in enumerate(network.valves)}
    turned = [valves[name] for name in found.space.turned]
    known = len(learnt.unknowns.settings)
    more: list[Setting] = []
    fresh: dict[int, int] = {}
    last = learnt.log.last
    for place in turned:
        if abs(last.openings[place] - float(goal[place])) <= THERE:
            goal[place] = last.openings[place]  # it stays where it stands
        elif not at_stop(float(goal[place])):
            fresh[place] = known + len(more)
            more.append(setting_to_mark(network, place, told=learnt.log.told[place]))
    foreseen = learnt.with_settings(more)
    unknowns, covariance, z = foreseen.unknowns, foreseen.covariance, foreseen.z
    speeds = tuple(float(speed) for speed in found.speeds[:, 0])
    errors = tuple(
        (fresh[place],) if place in fresh else () if at_stop(float(mark)) else last.errors[place]
        for place, mark in enumerate(goal)
    )
    at_marks = Stand(tuple(float(each) for each in goal), speeds, errors)
    wide = Stand(
        tuple(
            (valve.part.stops or (0.0, 1.0))[1] if place in turned else last.openings[place]
            for place, valve in enumerate(network.valves)
        ),
        last.speeds,
        tuple(() if place in turned else last.errors[place] for place in range(len(goal))),
    )
    stands: list[Stand] = [at_marks, last, wide]
    names = [aim.branches[0] for aim in found.aims if aim.asked and not aim.group]
    own: dict[str, int] = {}
    for name in names:
        for place in (p for p in turned if network.valves[p].stretch == name and p in fresh):
            own[name] = len(stands)
            stands.append(
                Stand(
                    _with(last.openings, place, float(goal[place])),
                    last.speeds,
                    _with(last.errors, place, (fresh[place],)),
                )
            )
    experiment = Experiment(unknowns, tuple(stands), ())
    look = experiment.look(z)
    asked: list[tuple[str, How, int]] = [(name, "all at their marks", 0) for name in names]
    asked += [(name, "as it stands", 1) for name in names]
    asked += [(name, "all wide open", 2) for name in names]
    asked += [(name, "at its mark", stand) for name, stand in own.items()]
    rows = [network.row_of[name] for name, _, _ in asked]
    flows = [float(look.state.flow[row, a[2]]) for row, a in zip(rows, asked, strict=True)]
    sd = float(np.hypot(network.plan.spread.stopwatch / (FILL * FILLS**0.5), MODEL_FLOW))
    kept = [number for number, flow in enumerate(flows) if flow > DRY]
    observations = tuple(Observation("bucket", asked[n][2], rows[n], 0.0, sd) for n in kept)
    slope = slopes(unknowns, experiment.stands, observations, z, look)
    wanted = [k for k, n in enumerate(kept) if asked[n][1] == "all at their marks"]
    if not wanted:
        return ()
    flow_slopes = slope[wanted].copy()
    flow_slopes[:, unknowns.rows["bucket", ""]] = 0.0  # the flows themselves, not what is read
    spread_now = flow_slopes @ covariance
    total = float((spread_now * flow_slopes).sum())
    found_lessons = []
    for k, n in enumerate(kept):
        name, how, stand = asked[n]
        taken = float((np.square(spread_now @ slope[k])).sum()) / (
            float(slope[k] @ covariance @ slope[k]) + sd**2
        )
        its = [p for p in turned if network.valves[p].stretch == name]
        found_lessons.append(
            Lesson(
                name,
                how,
                stands[stand].openings[its[0]] if its else None,
                flows[n],
                before=float(np.sqrt(total / len(wanted))),
                after=float(np.sqrt(max(total - taken, 0.0) / len(wanted))),
            )
        )
    return tuple(sorted(found_lessons, key=lambda each: each.after))


def _at_marks(network: Network, openings: Floats) -> Floats:
    """The nearest openings that a hand can set."""
    found = openings.copy()
    for place, valve in enumerate(network.valves):
        step = Marks().step(valve)
        low, high = valve.part.stops or (0.0, 1.0)
        if low < openings[place] < high:
            found[place] = min(max(round(openings[place] / step) * step, low), high)
    return found


def _with(items: tuple[T, ...], place: int, item: T) -> tuple[T, ...]:
    return (*items[:place], item, *items[place + 1 :])
