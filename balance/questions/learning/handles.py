"""Where handles stood, and what of that is known: each setting by eye is off by a hidden amount.

A handle set to a mark stands a little beside it.  Nudged from there it keeps that error and adds a
small one; set to a mark anew it gets another.  At its stops it stands where it says.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from balance.network.arrays import Network, Valve
from balance.plan.model import Spread
from balance.plan.reading import Reading, Turned
from balance.questions.learning.doubts import handle_spread, offset_spread

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

NUDGED = 0.25  # of a setting by eye, what a nudge is off at the least; common practice, no source
NUDGED_BY = 0.2  # of the nudge, what it is off besides; common practice, no source
APART = 10.0 / 90.0
"""Of travel, between two readings of a valve from which its offset may be told; our own choice."""


@dataclass(frozen=True)
class Setting:
    """One hidden error of a handle.

    Attributes
    ----------
    valve : its place in the network
    sd : of the error by itself, of travel
    shared : of what all settings of that valve to a mark have in common, of travel: its offset
        where readings cannot tell it
    """

    valve: int
    sd: float
    shared: float = 0.0


@dataclass(frozen=True)
class Stand:
    """Where all handles and pumps stood.

    Attributes
    ----------
    openings : of the network's valves by their marks
    speeds : of its pumps
    errors : for each valve the settings whose errors add up where it stands
    """

    openings: tuple[float, ...]
    speeds: tuple[float, ...]
    errors: tuple[tuple[int, ...], ...]


@dataclass(frozen=True)
class HandleLog:
    """All settings by eye of a log, and the stand at each of its readings.

    Attributes
    ----------
    settings : with their errors
    stands : of each reading
    last : where handles stand after them
    told : (V,) valves of which the offset may be told
    """

    settings: tuple[Setting, ...]
    stands: tuple[Stand, ...]
    last: Stand
    told: tuple[bool, ...]


class Following:
    """Follows handles from the plan's positions on."""

    def __init__(self, network: Network, told: Sequence[bool]) -> None:
        self.network = network
        self.spread = network.plan.spread
        self.told = told
        self.settings: list[Setting] = []
        self.place = {valve.name: place for place, valve in enumerate(network.valves)}
        self.openings = [float(opening) for opening in network.openings[:, 0]]
        self.speeds = [float(speed) for speed in network.speeds[:, 0]]
        self.errors: list[tuple[int, ...]] = [() for _ in network.valves]
        for place, opening in enumerate(self.openings):
            if not at_stop(opening):
                self._set(place)

    def turn(self, turned: Turned) -> None:
        """Turns a handle."""
        if turned.valve not in self.place:
            return  # in a drain
        place = self.place[turned.valve]
        before, self.openings[place] = self.openings[place], turned.to
        if at_stop(turned.to):
            self.errors[place] = ()
        elif turned.by == "mark":
            self._set(place)
        else:
            valve = self.network.valves[place]
            self._add(Setting(place, nudge_spread(valve, self.spread, turned.to - before)))

    def _set(self, place: int) -> None:
        self.errors[place] = ()
        self._add(setting_to_mark(self.network, place, told=self.told[place]))

    def _add(self, setting: Setting) -> None:
        self.settings.append(setting)
        place = setting.valve
        self.errors[place] = (*self.errors[place], len(self.settings) - 1)

    @property
    def stand(self) -> Stand:
        """Where everything stands now."""
        return Stand(tuple(self.openings), tuple(self.speeds), tuple(self.errors))


def handle_log(
    network: Network, readings: Sequence[Reading], *, then: Sequence[Turned] = ()
) -> HandleLog:
    """Follows the handles through a log.

    Parameters
    ----------
    then : what has been turned since its last reading
    """
    told = _told(network, readings)
    following = Following(network, told)
    stands = []
    for reading in readings:
        for turned in reading.turned:
            following.turn(turned)
        following.speeds = list(reading.speeds)
        stands.append(following.stand)
    for turned in then:
        following.turn(turned)
    return HandleLog(tuple(following.settings), tuple(stands), following.stand, told)


def setting_to_mark(network: Network, place: int, *, told: bool) -> Setting:
    """What is hidden of a handle that is set to a mark by eye.

    Parameters
    ----------
    place : of its valve in the network
    told : its offset is an unknown by itself
    """
    valve, spread = network.valves[place], network.plan.spread
    # An offset that cannot be told from what the hand does is a part of that, at every mark alike.
    shared = 0.0 if told else offset_spread(valve, spread)
    return Setting(place, handle_spread(valve, spread), shared)


def covariance_of(settings: Sequence[Setting]) -> Floats:
    """Covariance of the errors of settings, (n, n)."""
    valve = np.array([setting.valve for setting in settings])
    shared = np.array([setting.shared for setting in settings])
    same = np.equal.outer(valve, valve)
    alone = np.diag([setting.sd**2 for setting in settings])
    return np.asarray(alone + same * np.outer(shared, shared)).reshape(len(valve), len(valve))


def at_stop(opening: float) -> bool:
    """Whether a handle stands at a stop, shut or full, which no eye can miss."""
    return opening <= 0.0 or opening >= 1.0


def nudge_spread(valve: Valve, spread: Spread, move: float) -> float:
    """Standard deviation of a small turn against the bucket, of travel."""
    return NUDGED * handle_spread(valve, spread) + NUDGED_BY * abs(move)


def _told(network: Network, readings: Sequence[Reading]) -> tuple[bool, ...]:
    """Valves that were read at two places far enough apart, of those that have an offset."""
    seen: list[list[float]] = [[] for _ in network.valves]
    openings = list(network.openings[:, 0])
    place = {valve.name: number for number, valve in enumerate(network.valves)}
    branches = {branch.name for branch in network.plan.branches}
    for reading in readings:
        for turned in reading.turned:
            if turned.valve in place:
                openings[place[turned.valve]] = turned.to
        if reading.branch is None:
            continue
        for number, valve in enumerate(network.valves):
            reads_it = valve.stretch == reading.branch or valve.stretch not in branches
            if reads_it and not at_stop(openings[number]):
                seen[number].append(float(openings[number]))
    return tuple(
        len(places) > 1
        and max(places) - min(places) >= APART - 1e-9
        and offset_spread(valve, network.plan.spread) > 0.0
        for valve, places in zip(network.valves, seen, strict=True)
    )
