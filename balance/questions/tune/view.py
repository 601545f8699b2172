"""A walk at one moment: what is known, where everything stands, and where it leads."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from balance.network.arrays import Network
from balance.network.settle import settle
from balance.plan.reading import Reading, Turned
from balance.questions.learning.handles import Stand
from balance.questions.learning.learn import Learnt, learn
from balance.questions.marks import Marks, travel
from balance.questions.tune.goal import Goal, Wanted, controls_in, goal_of, wanted
from balance.questions.tune.turns import Turns, turns_of

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]


@dataclass(frozen=True)
class View:
    """A walk at one moment.

    Attributes
    ----------
    learnt : from all readings
    goal : flows to be reached
    turns : so far
    stand : where everything stands
    read : branches that were read before any handle was turned
    repeats : readings of each branch since anything was moved
    skipped : names of branches that are not to be read, and valves that are not to be turned
    """

    learnt: Learnt
    goal: Goal
    turns: Turns
    stand: Stand
    read: frozenset[str]
    repeats: dict[str, int]
    skipped: frozenset[str] = frozenset()

    @cached_property
    def network(self) -> Network:
        """As it most likely is."""
        return self.learnt.network

    @cached_property
    def openings(self) -> Floats:
        """Where handles most likely stand, (V,), as marks set without error."""
        return np.array(self.stand.openings) + self.learnt.handles(self.stand)

    @cached_property
    def turned(self) -> Ints:
        """Places of the goal's valves in the network, (C,)."""
        places = {valve.name: place for place, valve in enumerate(self.network.valves)}
        return np.array([places[name] for name in self.goal.valves], dtype=np.intp)

    @cached_property
    def aimed(self) -> Wanted:
        """Where the goal's valves should stand, the speed being what it is."""
        goal = replace(self.goal, speeds=self.stand.speeds)
        return wanted(self.network, goal, openings=self.openings)

    @cached_property
    def by(self) -> Floats:
        """How far each of the goal's valves should turn, (C,), of travel: to what a hand can set.

        Within its stops; to a whole mark where the way is long, and else to a part of one.
        """
        found = []
        controls = controls_in(self.network, self.goal)
        for place, control, flow in zip(self.turned, controls, self.goal.flows, strict=True):
            valve = self.network.valves[place]
            mark = self.stand.openings[place]
            aimed = float(self.aimed.openings[place])
            # A valve that is wanted wide open goes to its stop, whatever its handle hides.
            to = control.most
            if aimed < control.most:
                step = MARKS.step(valve)
                by = aimed - float(self.openings[place])
                if abs(by) > LONG * step:
                    to = in_steps(mark + by, step, travel(valve))
                else:
                    to = mark + in_steps(by, step * PART[valve.part.handle], travel(valve))
                # What is to carry anything is not shut, however much it seems to carry.
                least = max(control.least, step * PART[valve.part.handle] if flow > 0.0 else 0.0)
                to = min(max(to, least), control.most)
            found.append(to - mark)
        return np.array(found)

    @cached_property
    def _alone(self) -> tuple[Floats, Floats]:
        """Flows (C,) of the valves' runs as they stand, and each with its valve alone turned."""
        count = len(self.turned)
        columns = np.repeat(self.openings[:, None], count + 1, axis=1)
        columns[self.turned, np.arange(count)] = self.aimed.openings[self.turned]
        flow = self.flows(columns)
        rows = [self.network.valves[place].run for place in self.turned]
        return flow[rows, -1], flow[rows, np.arange(count)]

    @property
    def now(self) -> Floats:
        """Flow through each of the goal's valves as everything stands, (C,) [m³/s]."""
        return self._alone[0]

    @property
    def then(self) -> Floats:
        """The same were that valve alone where it should stand: what to trim it to now."""
        return self._alone[1]

    @property
    def gaps(self) -> Floats:
        """Logarithm of the one over the other, (C,)."""
        return np.asarray(np.log(np.maximum(self.then, TRACE) / np.maximum(self.now, TRACE)))

    def flows(self, openings: Floats) -> Floats:
        """Flows of all runs (E, S) with handles at openings (V, S), as marks set without error."""
        network = self.network
        laws, shut = network.at(openings, np.array([self.stand.speeds]).T)
        return settle(
            network.topology,
            laws,
            fixed_heads=network.fixed_heads,
            held=shut,
            draw=network.draw,
            scenarios=openings.shape[1],
        ).flow


MARKS = Marks()
LONG = 5.0  # marks; our own choice
PART = {"degrees": 0.5, "turns": 0.25, "percent": 0.5}  # of a mark, a nudge; our own choice
TRACE = 1e-12  # [m³/s], for logarithms of no flow


def in_steps(opening: float, step: float, whole: float) -> float:
    """An opening, or a turn, in whole steps, as a person would write it in the handle's unit."""
    return round(round(opening / step) * step * whole, 6) / whole


def step_by(view: View, column: int) -> float:
    """A mark of one of the goal's valves, of travel; half of one of a spindle."""
    valve = view.network.valves[view.turned[column]]
    part = 0.5 if valve.part.handle == "turns" else 1.0
    step = MARKS.step(valve) * part
    return in_steps(step, step, travel(valve))


def within_stops(view: View, column: int, by: float) -> bool:
    """Whether one of the goal's valves can be turned so far."""
    place = int(view.turned[column])
    low, high = view.network.valves[place].part.stops or (0.0, 1.0)
    return low < view.stand.openings[place] + by < high


def view_of(
    network: Network,
    readings: Sequence[Reading],
    *,
    before: int = 0,
    then: Sequence[Turned] = (),
    speeds: Sequence[float] | None = None,
    skipped: frozenset[str] = frozenset(),
    near: View | None = None,
) -> View:
    """A walk after some readings.

    Parameters
    ----------
    network : as planned
    readings : of the walk, and those before it
    before : how many those are
    then : what has been turned since the last of them
    speeds : of the pumps now; left out: as at the last reading
    skipped : names of branches and valves to be left alone
    near : the walk a reading earlier, to begin from
    """
    learnt = learn(network, readings, then=then, near=None if near is None else near.learnt)
    turns = turns_of(readings, before=before)
    first = readings[: turns.start]
    if not turns.moved:
        goal = goal_of(learnt.network)
    elif near is not None and near.turns.start == turns.start:
        goal = near.goal
    else:
        goal = goal_of(learn(network, first).network)
    stand = learnt.log.last
    if speeds is not None:
        stand = replace(stand, speeds=tuple(speeds))
    repeats: dict[str, int] = {}
    for reading in reversed(() if then else readings):
        if reading.speeds != stand.speeds:
            break
        if reading.branch is not None:
            repeats[reading.branch] = repeats.get(reading.branch, 0) + 1
        if reading.turned:
            break
    return View(
        learnt,
        goal,
        turns,
        stand,
        frozenset(reading.branch for reading in first if reading.branch is not None),
        repeats,
        skipped,
    )
