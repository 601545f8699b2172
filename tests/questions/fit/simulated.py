"""Logs of simulated systems: who reads all wide open, sets each handle to a mark and reads it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from balance.network.arrays import Network
from balance.plan.reading import Reading, Turned
from balance.questions.learning.handles import Setting, Stand, at_stop, setting_to_mark
from balance.questions.learning.learn import Learnt, learn
from tests.walks.systems import System, systems

Floats = NDArray[np.float64]

FILLS = 3
LEAST_TIME = 10.0  # [s] of a fill
BUCKETS = (1e-3, 2e-3, 5e-3, 1e-2, 2e-2)  # [m³]
TRICKLE = 3e-6  # [m³/s], less than which nobody reads
OPENED = 0.1  # of travel, by which a handle is nudged that gave next to nothing
AROUND = 12.0 / 90.0  # of travel, at the most between a mark and the one that is set later
DRAWS = 600
BAND = (0.05, 0.95)


@dataclass(frozen=True)
class Trial:
    """A system, the log of its readings, and the branches that were read."""

    system: System
    log: tuple[Reading, ...]
    branches: tuple[str, ...]
    turned: tuple[int, ...]


def trials(network: Network, count: int, *, seed: int) -> Iterator[Trial]:
    """So many systems of a plan with the log of each, the bucket off as buckets are."""
    for number, system in enumerate(systems(network, count, seed=seed)):
        rng = np.random.default_rng([seed, number, 1])
        system.bucket = float(np.exp(network.plan.spread.bucket * rng.standard_normal()))
        yield _trial(network, system)


def flow_of(network: Network, system: System, branch: str) -> float:
    """True flow."""
    return float(system.flows()[network.row_of[branch]])


def read(network: Network, system: System, branch: str, turned: tuple[Turned, ...]) -> Reading:
    """A branch, by bucket and stopwatch."""
    flow = max(flow_of(network, system, branch), 1e-7)
    volume = next((each for each in BUCKETS if each / flow >= LEAST_TIME), BUCKETS[-1])
    return Reading(
        line=0,
        branch=branch,
        volume=volume,
        seconds=system.fill(branch, volume, FILLS),
        flow=None,
        openings=tuple(system.marks),
        turned=turned,
        speeds=tuple(system.speeds),
        head=None,
        at=None,
        watts=None,
        pump=None,
    )


def _trial(network: Network, system: System) -> Trial:
    branches = tuple(
        branch.name
        for branch in network.plan.branches
        if flow_of(network, system, branch.name) > TRICKLE
    )
    opened = tuple(
        Turned(valve.name, "mark", float(mark))
        for valve, mark in zip(network.valves, system.marks, strict=True)
        if valve.part.open != mark
    )
    log = []
    for branch in branches:
        log.append(read(network, system, branch, opened))
        opened = ()
    moved: tuple[Turned, ...] = ()
    places = []
    for place, valve in enumerate(network.valves):
        if at_stop(valve.part.open) or valve.stretch not in branches:
            continue
        places.append(place)
        system.set(place, valve.part.open)
        moved = (*moved, Turned(valve.name, "mark", valve.part.open))
        if flow_of(network, system, valve.stretch) < TRICKLE:
            system.nudge(place, valve.part.open + OPENED)
            moved = (*moved, Turned(valve.name, "nudge", float(system.marks[place])))
        if flow_of(network, system, valve.stretch) >= TRICKLE:
            log.append(read(network, system, valve.stretch, moved))
            moved = ()
    numbered = tuple(replace(each, line=line) for line, each in enumerate(log, start=2))
    return Trial(system, numbered, branches, tuple(places))


@dataclass(frozen=True)
class Held:
    """Of each branch's flow, whether its band held it: at the last stand, and at a new one."""

    branches: tuple[str, ...]
    last: tuple[bool, ...]
    new: tuple[bool, ...]
    strays: int


def held(network: Network, trial: Trial, *, seed: int) -> Held:
    """Whether the bands of a trial's fit hold the true flows."""
    rng = np.random.default_rng(seed)
    learnt = learn(network, trial.log)
    last = _within(learnt, learnt.log.last, trial, rng)
    then, stand = set_anew(network, trial, learnt, rng)
    return Held(
        trial.branches,
        last,
        _within(then, stand, trial, rng),
        int((np.abs(learnt.regression.residuals) > 3.0).sum()),
    )


def set_anew(
    network: Network, trial: Trial, learnt: Learnt, rng: np.random.Generator
) -> tuple[Learnt, Stand]:
    """Sets all handles that were set before to other marks by eye."""
    last = learnt.log.last
    openings, errors = list(last.openings), list(last.errors)
    more: list[Setting] = []
    for place in trial.turned:
        mark = network.valves[place].part.open + AROUND * float(rng.uniform(-1.0, 1.0))
        openings[place] = float(np.clip(mark, 0.3, 0.95))
        trial.system.set(place, openings[place])
        errors[place] = (len(learnt.unknowns.settings) + len(more),)
        more.append(setting_to_mark(network, place, told=learnt.log.told[place]))
    stand = Stand(tuple(openings), last.speeds, tuple(errors))
    return learnt.with_settings(more), stand


def _within(
    learnt: Learnt, stand: Stand, trial: Trial, rng: np.random.Generator
) -> tuple[bool, ...]:
    network = learnt.unknowns.network
    drawn = learnt.drawn(rng.standard_normal((len(learnt.z), DRAWS)))
    flow, true = learnt.states(drawn, stand).flow, trial.system.flows()
    found = []
    for branch in trial.branches:
        row = network.row_of[branch]
        low, high = np.quantile(flow[row], BAND)
        found.append(bool(low <= true[row] <= high))
    return tuple(found)
