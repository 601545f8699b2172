"""Who balances: turns handles, fills buckets, and stops when moves or readings are used up."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from balance.network.arrays import Network
from balance.network.settle import settle
from balance.plan.reading import Reading, Turned
from balance.questions.settings.answer import Settings
from tests.walks.judge import Wish, wishes_of
from tests.walks.systems import System

Floats = NDArray[np.float64]

FILLS = 3  # a reading
NUDGES = 2  # of one handle, that go with one move: a third counts as a move
BUCKETS = (1e-3, 2e-3, 5e-3, 1e-2, 2e-2)  # [m³], the usual ones
LEAST_TIME = 10.0  # [s] of a fill


class SpentError(Exception):
    """No move, or no reading, is left."""


@dataclass
class Keeper:
    """One who walks one system, with its plan in hand.

    Attributes
    ----------
    system : the real one
    network : as planned
    answer : of the plan, where each handle should go
    most_moves, most_readings : that may be made
    moves : handles turned to a new place, and speeds set
    nudges : small turns of the handle that was turned last
    readings : branches measured
    most_nudges : of one handle in a row, that were made
    """

    system: System
    network: Network
    answer: Settings
    most_moves: int
    most_readings: int
    moves: int = 0
    nudges: int = 0
    readings: int = 0
    most_nudges: int = 0
    _last: int | None = field(default=None, repr=False)
    _in_a_row: int = field(default=0, repr=False)

    @property
    def wishes(self) -> tuple[Wish, ...]:
        return wishes_of(self.network.plan)

    @property
    def answered_speeds(self) -> tuple[float, ...]:
        """Of all pumps, as the answer has them."""
        return tuple(pump.speed for pump in self.answer.pumps)

    @property
    def readings_left(self) -> int:
        return self.most_readings - self.readings

    def valve_of(self, branch: str) -> int:
        """Place of the valve that is turned for a branch."""
        return next(
            place
            for place, valve in enumerate(self.network.valves)
            if valve.stretch == branch and not valve.part.locked
        )

    def is_last(self, valve: int) -> bool:
        """Whether this handle was turned last, so that it may be nudged without a move."""
        return valve == self._last

    def read(self, branch: str, turned: tuple[Turned, ...] = ()) -> Reading:
        """Fills the bucket from a branch."""
        if self.readings >= self.most_readings:
            raise SpentError
        self.readings += 1
        flow = self.system.flow(branch)
        volume = next((each for each in BUCKETS if each / flow >= LEAST_TIME), BUCKETS[-1])
        return Reading(
            line=self.readings,
            branch=branch,
            volume=volume,
            seconds=self.system.fill(branch, volume, FILLS),
            flow=None,
            openings=tuple(self.system.marks),
            turned=turned,
            speeds=tuple(self.system.speeds),
            head=None,
            at=None,
            watts=None,
            pump=None,
        )

    def measure(self, branch: str) -> float:
        """Flow of a branch by the bucket [m³/s]."""
        reading = self.read(branch)
        assert reading.volume is not None
        return reading.volume * len(reading.seconds) / sum(reading.seconds)

    def set(self, valve: int, mark: float) -> None:
        """Turns a handle to a mark."""
        self._move(valve)
        self.system.set(valve, mark)

    def nudge(self, valve: int, mark: float) -> None:
        """Turns a handle a little; a move too, unless that handle was turned last."""
        if self.is_last(valve) and self._in_a_row < NUDGES:
            self.nudges += 1
            self._in_a_row += 1
            self.most_nudges = max(self.most_nudges, self._in_a_row)
        else:
            self._move(valve)
        self.system.nudge(valve, mark)

    def set_speed(self, pump: int, speed: float) -> None:
        """Sets a pump's speed."""
        self._move(None)
        self.system.speeds[pump] = speed

    def _move(self, valve: int | None) -> None:
        if self.moves >= self.most_moves:
            raise SpentError
        self.moves += 1
        self._last, self._in_a_row = valve, 0

    def planned(self, branches: tuple[str, ...], *, marks: Floats, speeds: Floats) -> Floats:
        """Flows by the plan (branches, S), were handles at marks (V, S), pumps at speeds (P, S)."""
        network = self.network
        laws, shut = network.at(marks, speeds)
        state = settle(
            network.topology,
            laws,
            fixed_heads=network.fixed_heads,
            held=shut,
            draw=network.draw,
            scenarios=marks.shape[1],
        )
        return np.maximum(state.flow[[network.row_of[name] for name in branches]], 0.0)
