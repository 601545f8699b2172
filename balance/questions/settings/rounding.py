"""Rounding to marks: a search over neighbouring marks, all of them solved at once."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations, product

import numpy as np
from numpy.typing import NDArray

from balance.network.arrays import Network
from balance.network.settle import State
from balance.network.solve import settled
from balance.questions.aims import Wishes
from balance.questions.marks import Marks
from balance.questions.settings.flowspace import Control, FlowRange

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Ints = NDArray[np.intp]

MOST_AT_ONCE = 729  # settings solved in one batch; all neighbours of six valves are 3^6 = 729
MOST_ROUNDS = 50
NEARLY_OPEN = 0.95  # of the upper stop: from there on a hand just opens it
AT_MARK = 1e-6  # of a step, by which a handle stands off its mark by rounding
KEPT = 1e-6  # of a limit, by which a flow may pass it by rounding
TELLING = 1e-7  # of the cost, as much as a hundredth of an aim: less is no reason to move a handle
AS_BAD = 1e-4  # of a limit or a range: breaches that differ by less are the same


@dataclass(frozen=True)
class Marked:
    """Openings at marks, and the flows there."""

    openings: Floats  # (V, 1)
    state: State


def round_to_marks(
    network: Network,
    *,
    openings: Floats,
    speeds: Floats,
    turned: tuple[Control, ...],
    wishes: Wishes,
    marks: Marks,
    ranges: tuple[FlowRange, ...],
    near: State | None,
) -> Marked:
    """Best marks near some openings.

    Parameters
    ----------
    openings : (V, 1) that would be best without rounding
    speeds : (P, 1), at their steps already
    turned : the valves to round; others stay as they are
    ranges : flows of pumps that are to be kept
    near : a state at about these openings

    From the nearest marks to the best of their neighbours, and so on until no neighbour is better.
    Of two settings the one that breaks limits less is the better, then the one that misses targets
    less, then the one that leaves useful ranges of pumps less, then the one nearer to the aims.
    What the search shut stays shut, and what it left wide open stays so unless a limit demands it.
    """
    names = {valve.name: place for place, valve in enumerate(network.valves)}
    places = np.array([names[control.valve.name] for control in turned], dtype=np.intp)
    travels = _Travels(
        np.array([[marks.step(control.valve)] for control in turned]).reshape(-1, 1),
        np.array([[control.least] for control in turned]).reshape(-1, 1),
        np.array([[control.most] for control in turned]).reshape(-1, 1),
    )
    exact = openings[places]
    shut, wide = exact <= 0.0, exact >= travels.most
    begin = openings.copy()
    begin[places] = np.where(shut, 0.0, travels.nearest(exact))
    trial = _Trial(network, speeds, wishes, ranges, _excused(network, openings))
    best = trial.of(begin, near)
    for still in (shut | wide, shut):
        free = np.flatnonzero(~still[:, 0])
        best = _descend(trial, best, places.take(free), travels.take(free))
        if best.breach[0] <= 0.0:
            break
    return Marked(_shut(best.openings, turned, places), best.state)


def _shut(openings: Floats, turned: tuple[Control, ...], places: Ints) -> Floats:
    """The same with handles that let nothing through at their mark at their lower stop."""
    found = openings.copy()
    for control, place in zip(turned, places, strict=True):
        if np.isinf(control.valve.law.loss_coefficient(openings[place]).k[0]):
            found[place] = control.least
    return found


@dataclass(frozen=True)
class _Travels:
    """Where handles may stand: (n, 1) distances between marks, lower and upper stops."""

    step: Floats
    least: Floats
    most: Floats

    def take(self, rows: Ints) -> _Travels:
        return _Travels(self.step[rows], self.least[rows], self.most[rows])

    def nearest(self, at: Floats) -> Floats:
        """The nearest marks; wide open where that is all but the same."""
        marks = np.clip(np.round(at / self.step) * self.step, self.least, self.most)
        return np.where(at >= NEARLY_OPEN * self.most, self.most, marks)

    def beside(self, at: Floats, moves: Floats) -> Floats:
        """Openings (n, S) one mark up, one down or none from some (n, 1).

        From a stop between two marks a move leads to the mark beside it.
        """
        marks = at / self.step
        up = (np.floor(marks + AT_MARK) + 1.0) * self.step
        down = (np.ceil(marks - AT_MARK) - 1.0) * self.step
        moved = np.where(moves > 0.0, up, np.where(moves < 0.0, down, at))
        return np.clip(moved, self.least, self.most)


@dataclass(frozen=True)
class _Tried:
    """Settings with what came of them.

    Attributes
    ----------
    openings : (V, S)
    breach : of limits, (S,)
    miss : of targets beyond their tolerances, (S,)
    left : useful ranges of pumps, (S,)
    cost : distance from the aims, (S,)
    """

    openings: Floats
    state: State
    breach: Floats
    miss: Floats
    left: Floats
    cost: Floats

    def best(self) -> int:
        """What ranks first decides, then the next."""
        return int(np.lexsort((self.cost, self.left, self.miss, self.breach))[0])

    def beats(self, winner: int, other: _Tried) -> bool:
        """Whether one of them is better than another setting, by more than nobody could tell."""
        for rank in ("breach", "miss", "left"):
            ours, theirs = getattr(self, rank)[winner], getattr(other, rank)[0]
            if ours != theirs:
                return bool(ours < theirs)
        return bool(self.cost[winner] < other.cost[0] - TELLING)


@dataclass(frozen=True)
class _Trial:
    """Solves settings and judges them.

    Attributes
    ----------
    excused : (B,) branches shut on purpose, whose lower limit does not count
    """

    network: Network
    speeds: Floats
    wishes: Wishes
    ranges: tuple[FlowRange, ...]
    excused: Bools

    def of(self, openings: Floats, near: State | None) -> _Tried:
        """Solves (V, S) openings, all at once."""
        network, scenarios = self.network, openings.shape[1]
        laws, shut = network.at(openings, np.repeat(self.speeds, scenarios, axis=1))
        state = settled(network, laws, held=shut, near=near, scenarios=scenarios)
        rows = [network.row_of[branch.name] for branch in network.plan.branches]
        flow = state.flow[rows]
        marks = (
            np.where(state.converged, mark, np.inf)
            for mark in (
                self._breach(flow),
                self._miss(flow),
                self._left(state),
                self.wishes.distance(flow),
            )
        )
        return _Tried(openings, state, *marks)

    def _breach(self, flow: Floats) -> Floats:
        """Sum of the shares by which branches pass their limits, (S,)."""
        total = np.zeros(flow.shape[1])
        for row, branch in enumerate(self.network.plan.branches):
            low, high = branch.limits or (None, None)
            if low is not None and not self.excused[row]:
                total += np.maximum(1.0 - flow[row] / low - KEPT, 0.0)
            if high is not None:
                total += np.maximum(flow[row] / high - 1.0 - KEPT, 0.0)
        return np.ceil(total / AS_BAD)

    def _miss(self, flow: Floats) -> Floats:
        """What targets beyond their tolerances cost, in steps of what one could tell, (S,)."""
        return np.ceil((self.wishes.misses(flow) - KEPT**2) / TELLING)

    def _left(self, state: State) -> Floats:
        """Sum of the shares by which pumps leave ranges that are to be kept, (S,)."""
        total = np.zeros(state.flow.shape[1])
        for each in self.ranges:
            pumped = state.flow[each.row]
            total += np.maximum(1.0 - pumped / each.low, 0.0) if each.low > 0.0 else 0.0
            total += np.maximum(pumped / each.high - 1.0, 0.0)
        return np.ceil(total / AS_BAD)


def _descend(trial: _Trial, best: _Tried, places: Ints, travels: _Travels) -> _Tried:
    """From a setting to the best of its neighbours until none is better.

    Parameters
    ----------
    places : rows of the valves that may move
    """
    if not len(places):
        return best
    moves, most = _moves(len(places))
    centres: list[Floats] = []
    for _ in range(MOST_ROUNDS):
        here = best.openings[places]
        beside = travels.beside(here, moves)
        # What lies beside an earlier centre too was tried from there.
        apart = [np.abs(beside - centre) / travels.step for centre in centres]
        seen = [(d <= 1 + AT_MARK).all(axis=0) & ((d > AT_MARK).sum(axis=0) <= most) for d in apart]
        fresh = np.flatnonzero(~np.any(seen, axis=0)) if seen else np.arange(beside.shape[1])
        if not len(fresh):
            break
        openings = np.repeat(best.openings, len(fresh), axis=1)
        openings[places] = beside[:, fresh]
        tried = trial.of(openings, best.state)
        winner = tried.best()
        if not tried.beats(winner, best):
            break
        centres.append(here)
        best = trial.of(openings[:, winner : winner + 1], best.state)
    return best


def _moves(valves: int) -> tuple[Floats, int]:
    """Moves by marks to try at once, (valves, tries), and how many valves move at most.

    All of them, or those of one valve and of two where all are more than `MOST_AT_ONCE`.
    """
    if 3**valves <= MOST_AT_ONCE:
        return np.array(list(product((-1.0, 0.0, 1.0), repeat=valves))).T, valves
    unit = np.eye(valves)
    single = [sign * row for row in unit for sign in (-1.0, 1.0)]
    paired = [
        sign * one + turn * other
        for one, other in combinations(unit, 2)
        for sign, turn in product((-1.0, 1.0), repeat=2)
    ]
    return np.array(single + paired).T, 2


def _excused(network: Network, openings: Floats) -> Bools:
    """Branches (B,) that some openings shut on purpose."""
    shut = {
        valve.stretch
        for valve, opening in zip(network.valves, openings[:, 0], strict=True)
        if opening <= 0.0
    }
    return np.array([branch.name in shut for branch in network.plan.branches], dtype=np.bool_)
