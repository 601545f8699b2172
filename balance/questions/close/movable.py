"""What a hand may move to hold the others: valves to other marks, pumps to other steps of speed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from balance.network.arrays import Machine, Network, Valve
from balance.plan.model import OUTSIDE
from balance.questions.aims import aims_of
from balance.questions.close.cases import Arrays
from balance.questions.close.disturbance import dry_runs, shut_by_hand
from balance.questions.marks import Marks
from balance.questions.sources import source_of
from balance.questions.speeds import is_free, speed_range, step_of

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

AT_MARK = 1e-6  # of a step, by which a handle stands off its mark by rounding


@dataclass(frozen=True)
class Movable:
    """A valve, or the speed of a pump, and where it may stand.

    Attributes
    ----------
    of : the valve or the pump
    place : its row among the network's valves or machines
    positions : (m,) openings or speeds, rising; where it stands is one of them
    stands : which one that is
    """

    of: Valve | Machine
    place: int
    positions: Floats
    stands: int

    @property
    def stretch(self) -> str:
        """The stretch that the valve stands in; the pump."""
        return self.of.stretch if isinstance(self.of, Valve) else self.of.name


def movables_of(network: Network, marks: Marks) -> tuple[Movable, ...]:
    """Every valve and pump that an answer may move, with its marks and steps."""
    shut = shut_by_hand(network, network.openings)[:, 0]
    spares = _spares(network)
    found = []
    for place, valve in enumerate(network.valves):
        if valve.part.locked or network.capped[valve.run, 0]:
            continue
        # What stands shut was shut on purpose; only a spare that leads back may be opened.
        if shut[valve.run] and valve.stretch not in spares:
            continue
        least, most = valve.part.stops or (0.0, 1.0)
        positions = _positions(marks.step(valve), least, most, valve.part.open)
        found.append(_movable(valve, place, _one_shut(valve, positions), valve.part.open))
    for place, machine in enumerate(network.machines):
        if is_free(machine):
            speed = machine.pump.speed
            positions = _positions(step_of(machine), *speed_range(machine), speed)
            found.append(_movable(machine, place, positions[positions > 0.0], speed))
    return tuple(each for each in found if len(each.positions) > 1)


def usable(movables: tuple[Movable, ...], network: Network, cases: Arrays) -> Bools:
    """Which of them are left to move in some cases, (H, C).

    A valve that a case has turned stays there, and one in a run that it has shut moves nothing.
    """
    newly = dry_runs(network, cases) & ~shut_by_hand(network, network.openings)
    found = np.ones((len(movables), newly.shape[1]), dtype=np.bool_)
    for row, each in enumerate(movables):
        found[row] = ~newly[each.of.run]
        if isinstance(each.of, Valve):
            found[row] &= cases.openings[each.place] == each.of.part.open
    return found


def _spares(network: Network) -> set[str]:
    """Branches that may be opened: bleeds, and those asked nothing that lead back to a pump.

    What leads outside would be lost, and what leads to a tank might be more than its drains carry.
    """
    plan = network.plan
    back = {source_of(network, pump.from_) for pump in plan.pumps.values()}
    for weir in reversed(plan.weirs):
        if weir.to in back:
            back.add(weir.from_)
    found = set()
    for branch, aim in zip(plan.branches, aims_of(plan), strict=False):  # then come totals
        leads_back = branch.to in back if not aim.asked else aim.asked == "bleed"
        if leads_back and branch.to != OUTSIDE:
            found.add(branch.name)
    return found


def _positions(step: float, least: float, most: float, stands: float) -> Floats:
    """Marks between two stops, the stops, and where a handle stands."""
    marks = step * np.arange(np.ceil(least / step), np.floor(most / step + AT_MARK) + 1.0)
    special = np.unique([least, most, stands])
    apart = np.abs(marks[:, None] - special).min(axis=1) > AT_MARK * step
    return np.sort(np.concatenate([marks[apart], special]))


def _one_shut(valve: Valve, positions: Floats) -> Floats:
    """Without marks at which the valve is shut as well as at its least one."""
    shut = np.isinf(valve.law.loss_coefficient(positions).k)
    again = shut & (positions > positions[0]) & (positions != valve.part.open)
    return np.asarray(positions[~again])


def _movable(of: Valve | Machine, place: int, positions: Floats, stands: float) -> Movable:
    return Movable(of, place, positions, int(np.abs(positions - stands).argmin()))
