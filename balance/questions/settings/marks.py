"""Rounding to marks that a hand can set: a search over neighbouring marks, all solved at once."""

from __future__ import annotations

import re
from dataclasses import dataclass
from itertools import combinations, product

import numpy as np
from numpy.typing import NDArray

from balance.errors import QuantityError, UsageError
from balance.network.arrays import Network, Valve
from balance.network.settle import State, settle
from balance.questions.aims import BREACH, Wishes
from balance.questions.settings.flowspace import Control, FlowRange
from balance.units import parse

Floats = NDArray[np.float64]

DEGREES = 90.0
DEFAULT = {"degrees": 1.0, "turns": 0.125, "percent": 1.0}
"""Finest marks that a hand can read off a handle; our own choice."""
RANGE_LEFT = 0.1  # weight of a left useful range: where the two conflict, targets win
MOST_AT_ONCE = 729  # three marks for each of six valves
MOST_ROUNDS = 50
KEPT = 1e-6  # of a limit, passed by no more than that: rounding


@dataclass(frozen=True)
class Marks:
    """Finest mark of each kind of handle: degrees, turns, percent of travel."""

    degrees: float = DEFAULT["degrees"]
    turns: float = DEFAULT["turns"]
    percent: float = DEFAULT["percent"]

    def step(self, valve: Valve) -> float:
        """Share of a valve's travel between two of its marks."""
        return {"degrees": self.degrees, "turns": self.turns, "percent": self.percent}[
            valve.part.handle
        ] / travel(valve)

    def label(self, valve: Valve) -> str:
        """A step as a person says it: "1 deg", "1/8 turn", "1 %"."""
        match valve.part.handle:
            case "degrees":
                return f"{self.degrees:g} deg"
            case "turns":
                return "1/8 turn" if self.turns == DEFAULT["turns"] else f"{self.turns:g} turn"
            case "percent":
                return f"{self.percent:g} %"


def travel(valve: Valve) -> float:
    """Travel of a handle in its own unit: 90 degrees, its turns, 100 percent."""
    match valve.part.handle:
        case "degrees":
            return DEGREES
        case "turns":
            return valve.part.turns or 1.0
        case "percent":
            return 100.0


def marks_of(text: str | None) -> Marks:
    """Marks from words such as "5 deg", "1/4 turn" or "2 %", several joined by commas.

    Raises
    ------
    UsageError
        If the text is none of these.
    """
    if text is None:
        return Marks()
    found: dict[str, float] = {}
    for word in re.split(r"\s*,\s*", text.strip()):
        for key, dimension, factor in (
            ("degrees", "angle", 1.0),
            ("turns", "turns", 1.0),
            ("percent", "percent", 100.0),
        ):
            try:
                value = parse(word, dimension) * factor
            except QuantityError:
                continue
            if value > 0.0:
                found[key] = value
            break
        else:
            value = 0.0
        if value <= 0.0:
            raise UsageError(
                f'"{word}" is no distance between marks; write "5 deg", "1/4 turn" or "2 %"'
            )
    return Marks(**found)


@dataclass(frozen=True)
class Marked:
    """Openings at marks, and the flows there.

    Attributes
    ----------
    openings : (V, 1) of all valves
    state : the flows there
    exact : flows of the branches before rounding, (B, 1) [m³/s]
    """

    openings: Floats
    state: State
    exact: Floats


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

    A limit that is kept without rounding ranks before all targets; one that is passed already is
    weighed against them, as the search did.

    Up to six valves all 3^n neighbours are solved in one batch; beyond that all single and
    paired moves by a mark, again from the best of them, until none is better.
    """
    names = {valve.name: place for place, valve in enumerate(network.valves)}
    places = np.array([names[control.valve.name] for control in turned], dtype=np.intp)
    steps = np.array([marks.step(control.valve) for control in turned])
    low = np.array([control.least for control in turned])
    high = np.array([control.most for control in turned])
    nearest = np.clip(np.round(openings[places, 0] / steps) * steps, low, high)
    shut = openings[places, 0] <= 0.0
    best = openings.copy()
    best[places, 0] = np.where(shut, 0.0, nearest)
    exact = _solve(network, openings, speeds, near).flow[_branch_rows(network)]
    state = _solve(network, best, speeds, near)
    if not len(turned):
        return Marked(best, state, exact)
    moves = _moves(len(turned))
    bounds = _kept_limits(network, exact)
    passed = float(_outside(network, state, bounds).sum(axis=0)[0])
    cost = float(_cost(network, state, wishes, ranges)[0])
    for _ in range(MOST_ROUNDS):
        tried = np.repeat(best, moves.shape[1], axis=1)
        # From a stop between two marks a move leads to the marks beside it.
        moved = np.round(best[places] / steps[:, None] + moves) * steps[:, None]
        # What is not moved stays, on its mark or at its stop; what the search shut stays shut.
        moved = np.where((moves == 0.0) | shut[:, None], best[places], moved)
        tried[places] = np.clip(moved, low[:, None], high[:, None])
        found = _solve(network, tried, speeds, state)
        excess = np.where(found.converged, _outside(network, found, bounds).sum(axis=0), np.inf)
        costs = np.where(excess <= excess.min(), _cost(network, found, wishes, ranges), np.inf)
        winner = int(costs.argmin())
        if excess[winner] > passed or (
            excess[winner] == passed and costs[winner] >= cost * (1 - 1e-9)
        ):
            break
        passed, cost = float(excess[winner]), float(costs[winner])
        best = tried[:, winner : winner + 1]
        state = _solve(network, best, speeds, state)
    return Marked(best, state, exact)


def _moves(valves: int) -> Floats:
    """Moves by marks to try at once, (valves, tries)."""
    if 3**valves <= MOST_AT_ONCE:
        return np.array(list(product((-1.0, 0.0, 1.0), repeat=valves))).T
    rows: list[Floats] = []
    for one in range(valves):
        rows.extend(sign * np.eye(valves)[one] for sign in (-1.0, 1.0))
    for one, other in combinations(range(valves), 2):
        for sign, turn in product((-1.0, 1.0), repeat=2):
            rows.append(sign * np.eye(valves)[one] + turn * np.eye(valves)[other])
    return np.array(rows).T


def _solve(network: Network, openings: Floats, speeds: Floats, near: State | None) -> State:
    scenarios = openings.shape[1]
    laws, shut = network.at(openings, np.repeat(speeds, scenarios, axis=1))
    return settle(
        network.topology,
        laws,
        fixed_heads=network.fixed_heads,
        held=shut,
        draw=network.draw,
        near=near,
        scenarios=scenarios,
    )


Bounds = tuple[Floats, Floats]  # least and most flow of every branch, (B, 1)


def _limits(network: Network) -> Bounds:
    limits = [branch.limits or (None, None) for branch in network.plan.branches]
    low = [[0.0 if least is None else least] for least, _ in limits]
    high = [[np.inf if most is None else most] for _, most in limits]
    return np.array(low), np.array(high)


def _kept_limits(network: Network, flow: Floats) -> Bounds:
    """The limits that flows (B, 1) keep; a branch without flow is shut and needs no least one."""
    low, high = _limits(network)
    return (
        np.where(flow >= low * (1 - KEPT), low, 0.0),
        np.where(flow <= high * (1 + KEPT), high, np.inf),
    )


def _outside(network: Network, state: State, bounds: Bounds) -> Floats:
    """How far each flow lies outside its bounds, as a share of the bound, (B, S)."""
    low, high = bounds
    flow = state.flow[_branch_rows(network)]
    short = np.where(low > 0.0, 1.0 - flow / np.where(low > 0.0, low, 1.0), 0.0)
    outside = np.maximum(short, np.where(np.isfinite(high), flow / high - 1.0, 0.0))
    return np.asarray(np.where(outside > KEPT, outside, 0.0))


def _branch_rows(network: Network) -> NDArray[np.intp]:
    return np.array(
        [network.row_of[branch.name] for branch in network.plan.branches], dtype=np.intp
    )


def _cost(network: Network, state: State, wishes: Wishes, ranges: tuple[FlowRange, ...]) -> Floats:
    """Cost of wishes, of limits that are passed and of ranges that are left, (S,)."""
    flow = state.flow[_branch_rows(network)]
    passed = np.where(flow > 0.0, _outside(network, state, _limits(network)), 0.0)
    cost = wishes.cost(flow) + BREACH * (passed**2).sum(axis=0)
    for each in ranges:
        pumped = state.flow[each.row]
        outside = np.maximum(each.low - pumped, 0.0) + np.maximum(pumped - each.high, 0.0)
        cost += RANGE_LEFT * (outside / each.high) ** 2
    return np.asarray(cost)
