"""What each scenario shuts, turns and clogs: from names to arrays."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from balance.errors import QuantityError, UsageError
from balance.network.arrays import Network
from balance.plan.model import ValveRef
from balance.plan.openings import parse_opening
from balance.questions.clogs import clog_factor, rows_of_owners
from balance.questions.handles import valve_of
from balance.questions.named import Named

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]


@dataclass(frozen=True)
class Move:
    """One stretch that is shut, or whose valve is turned.

    Attributes
    ----------
    name : of the branch, run or valve, as the plan spells it
    valve : that is turned; None where the stretch has none and is capped off at its start
    opening : to which it is turned, 0 for shut [ratio]
    """

    name: str
    valve: ValveRef | None
    opening: float = 0.0

    @property
    def stretch(self) -> str:
        """The stretch through which it stops the water."""
        return self.name if self.valve is None else self.valve.stretch

    @property
    def shuts(self) -> bool:
        """Whether no water passes any more."""
        return self.opening == 0.0


@dataclass(frozen=True)
class Scenario:
    """What is done in one scenario; nothing in that of the plan as it stands.

    Attributes
    ----------
    moves : stretches shut or turned
    clogs : branches, runs and headers with the share by which they lose more
    """

    moves: tuple[Move, ...] = ()
    clogs: tuple[tuple[str, float], ...] = ()

    def shuts(self, stretch: str) -> bool:
        """Whether it shuts a stretch on purpose."""
        return any(move.shuts and move.stretch == stretch for move in self.moves)


@dataclass(frozen=True)
class Arrays:
    """Scenarios as the solver takes them.

    Attributes
    ----------
    openings : (V, S) of the network's valves
    held : (E, S) runs that are capped off
    factor : (E, S) multiples of what runs lose clean
    """

    openings: Floats
    held: Bools
    factor: Floats


def arrays(network: Network, scenarios: Sequence[Scenario]) -> Arrays:
    """The scenarios as the solver takes them."""
    places = {valve.name: place for place, valve in enumerate(network.valves)}
    rows = rows_of_owners(network)
    count = len(scenarios)
    openings = np.repeat(network.openings, count, axis=1)
    held = np.zeros((network.topology.runs, count), dtype=np.bool_)
    factor = np.ones((network.topology.runs, count))
    for column, scenario in enumerate(scenarios):
        for move in scenario.moves:
            if move.valve is None:
                held[rows[move.name][0], column] = True
            else:
                openings[places[move.valve.name], column] = move.opening
        if scenario.clogs:
            factor[:, [column]] = clog_factor(network, scenario.clogs)
    return Arrays(openings, held, factor)


def each_branch(network: Network, to: str | None = None) -> tuple[Move, ...]:
    """A move for each branch that water can flow through as the plan stands.

    With an opening `to` turn to, only those whose handle has such a mark.
    """
    found = []
    for branch in network.plan.branches:
        ref = valve_of(network.plan, branch.name)
        if network.capped[network.row_of[branch.name], 0] or (ref and ref.part.open == 0.0):
            continue
        if to is None:
            found.append(Move(branch.name, ref))
        elif ref is not None and _has_mark(ref, to):
            found.append(Move(branch.name, ref, parse_opening(to, ref.part)))
    if not found and not network.plan.branches:
        raise UsageError("this plan has no branches; name a run to shut")
    if not found:
        raise UsageError(
            "no branch of this plan can be shut: none is open"
            if to is None
            else _no_mark(network, to)
        )
    return tuple(found)


def _no_mark(network: Network, to: str) -> str:
    """Why no handle has a mark: what is wrong with it for the first, where there is one."""
    none = f'no branch that is open has a valve with a mark "{to}"'
    for branch in network.plan.branches:
        ref = valve_of(network.plan, branch.name)
        if ref is None:
            continue
        try:
            parse_opening(to, ref.part)
        except QuantityError as error:
            return f'{none}; "{ref.name}": {error}'
    return none


def every_branch(network: Network) -> Scenario:
    """Every branch shut that is not capped anyway."""
    plan = network.plan
    return Scenario(
        tuple(
            Move(branch.name, valve_of(plan, branch.name))
            for branch in plan.branches
            if not network.capped[network.row_of[branch.name], 0]
        )
    )


def _has_mark(ref: ValveRef, to: str) -> bool:
    try:
        parse_opening(to, ref.part)
    except ValueError:
        return False
    return True


def moves_of(network: Network, names: Iterable[str], to: str | None = None) -> tuple[Move, ...]:
    """Moves of what names mean: branches, runs, valves, all branches of groups and headers.

    Raises
    ------
    UnknownNameError
        With the nearest name.
    UsageError
        It has no valve to turn to a mark, or one without such a mark.
    """
    named = Named(network)
    stretches = dict.fromkeys(found for name in names for found in named.meant(name))
    return tuple(_move(named, name, to) for name in stretches)


def _move(named: Named, name: str, to: str | None) -> Move:
    """The move that shuts a stretch or valve, or turns it to a mark."""
    ref = named.valve(name)
    if to is None:
        return Move(name, ref)
    if ref is None:
        raise UsageError(f'"{name}" has no valve that could be turned to "{to}"')
    try:
        return Move(name, ref, parse_opening(to, ref.part))
    except ValueError as error:
        raise UsageError(f'"{name}": {error}') from error


def pairs_of(moves: Sequence[Move]) -> Iterator[tuple[Move, Move]]:
    """Every two of some moves."""
    return combinations(moves, 2)
