"""Levels of vessels over time: what flows at each moment, summed up from event to event."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import partial
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from balance.errors import NoSolutionError, UsageError
from balance.network.course.answer import Course, Event
from balance.network.course.mouths import IN
from balance.network.course.plumbing import NOTHING, Modes, Moment, Plumbing, plumbing_of
from balance.network.course.watch import Stop, Watch, at_start, watches
from balance.network.settle import State
from balance.plan.model import OUTSIDE, CheckPart, Plan

Floats = NDArray[np.float64]

STEP = 1e-6  # [m], of levels, for slopes: far above rounding, far below what bends a law
BETWEEN = 4  # points told for each step of the integration
SETTLED = 1e-4  # [m]: surfaces that move by no more from now on have settled ...
AT_REST = 0.8  # ... and are at rest if they have by this share of the time
RELATIVE, ABSOLUTE = 1e-5, 1e-6  # tolerances of the integration, the second in m³
NO_FLOW = 1e-8  # [m³/s], of an outlet that is dry
STILL = 1e-6  # [m³/s], below which a stretch is told to have come to its end
AIR_BELOW = 1e-3  # [m] of head under a free outlet's axis, that draws air


def course(
    plan: Plan,
    *,
    until: float,
    start: Mapping[str, float] | None = None,
    blocked: Iterable[str] = (),
    opened: Iterable[str] = (),
    primed: Iterable[str] | None = None,
    primes: Mapping[str, float] | None = None,
    holes: bool = True,
    metered: Iterable[str] = (),
    stop: Stop | None = None,
) -> Course:
    """Levels of all vessels from now on, as the plan's pumps, valves and check valves stand.

    At each moment the network is solved with the levels of that moment; drains and weirs flow as
    `balance.network.gravity` and `balance.parts.weirs` say; water that passes a rim is lost on the
    floor.  It ends when nothing moves any more, at the latest at `until`.

    Parameters
    ----------
    until : the most time [s]
    start : levels that differ from the plan's, from vessel to height [m]
    blocked : drains that carry nothing
    opened : drains, pumps and runs used for changes, that are in use
    primed : drains that run full from the start; left out: all siphons
    primes : from a drain to the level at which it begins to run full [m]
    holes : siphon breaks let air in; otherwise only the mouths themselves
    metered : pumps, runs, branches and drains of which the volume passed is wanted
    stop : ends it once so much has passed

    Raises
    ------
    NoSolutionError
        The integration failed.
    SolveError
        The network did not settle at some moment.
    UsageError
        An unknown name.
    """
    plumbing = plumbing_of(plan, blocked=blocked, opened=opened)
    meters = tuple(dict.fromkeys((*metered, *(() if stop is None else (stop.stretch,)))))
    unknown = [name for name in meters if name not in plumbing.network.row_of]
    if unknown:
        raise UsageError(f'nothing flows through "{unknown[0]}" here')
    begin = {name: vessel.level for name, vessel in plan.vessels.items()} | dict(start or {})
    levels = np.array([begin[name] for name in plumbing.vessels])
    siphons = (drain.name for drain in plumbing.drains if drain.role == "siphon")
    modes = at_start(
        plumbing, levels, holes=holes, primed=frozenset(siphons if primed is None else primed)
    )
    track = _Track(plumbing, meters, holes=holes, primes=dict(primes or {}), stop=stop)
    return track.run(plumbing.stores(levels), modes, until=until)


@dataclass
class _Piece:
    """The time between two events."""

    time: Floats
    stores: Floats  # (V + 2 + meters, T)
    modes: Modes


@dataclass
class _Track:
    """One simulation under way."""

    plumbing: Plumbing
    meters: tuple[str, ...]
    holes: bool
    primes: dict[str, float]
    stop: Stop | None
    near: State | None = None
    pieces: list[_Piece] = field(default_factory=list)
    events: list[Event] = field(default_factory=list)

    def run(self, stores: Floats, modes: Modes, *, until: float) -> Course:
        from scipy.integrate import solve_ivp

        now, state = 0.0, np.concatenate([stores, np.zeros(len(self.meters))])
        while now < until:
            waiting = tuple(watches(self.plumbing, modes, holes=self.holes, primes=self.primes))
            # At rest its steps grow without end, so nothing need watch for that.
            solve = partial(
                solve_ivp,
                partial(self._rates, modes),
                (now, until),
                state,
                jac=partial(self._slopes, modes),
                events=self._events(waiting),
                rtol=RELATIVE,
                atol=ABSOLUTE,
                dense_output=True,
            )
            try:
                solved = solve(method="LSODA")
            except ValueError:
                # Its polynomials miss by a hair the point that a step began from, so what happens
                # right there is nowhere to be found on them; those of the other method do not.
                solved = solve(method="BDF")
            if solved.sol is None or not solved.success:
                raise NoSolutionError(f"the levels could not be followed: {solved.message}")
            self.pieces.append(_piece(solved.t, solved.y, solved.sol, modes))
            now, state = float(solved.t[-1]), solved.y[:, -1]
            enough, *happened = solved.t_events or [np.zeros(0)]
            for watch, times in zip(waiting, happened, strict=True):
                self.events += [watch.event(float(time)) for time in times]
                if len(times) and watch.then is not None:
                    modes = watch.then(modes)
            if len(enough) and self.stop is not None:
                self.events.append(Event(now, "enough", self.stop.stretch, ""))
                break
        return self._course(until)

    def _moment(self, stores: Floats, modes: Modes) -> Moment:
        moment = self.plumbing.moment(stores, modes, self.near)
        self.near = moment.state.one(0)
        return moment

    def _rates(self, modes: Modes, _: float, stores: Floats) -> Floats:
        """What all stores and meters gain (V + 2 + meters,) [m³/s]."""
        return self._gains(stores[:, None], modes)[:, 0]

    def _gains(self, stores: Floats, modes: Modes) -> Floats:
        moment = self._moment(stores[: len(stores) - len(self.meters)], modes)
        rows = [self.plumbing.network.row_of[name] for name in self.meters]
        metered = moment.flow[rows]
        # A meter too counts no rounding: by noise alone the integration finds no step.
        metered = np.where(np.abs(metered) > NOTHING, metered, 0.0)
        return np.concatenate([moment.net, metered])

    def _slopes(self, modes: Modes, _: float, stores: Floats) -> Floats:
        """How these gains change with what is stored, (n, n) [1/s], by differences in one batch.

        Flows follow levels alone, so only finite vessels have columns that are not zero.
        """
        own = [row for row, basin in enumerate(self.plumbing.basins) if basin is not None]
        levels = self.plumbing.levels(stores[:, None])[:, 0]
        more = self.plumbing.stores(levels + STEP) - self.plumbing.stores(levels)
        moved = np.repeat(stores[:, None], 1 + len(own), axis=1)
        moved[own, 1 + np.arange(len(own))] += more[own]
        gains = self._gains(moved, modes)
        slopes = np.zeros((len(stores), len(stores)))
        slopes[:, own] = (gains[:, 1:] - gains[:, :1]) / more[own]
        return slopes

    def _events(self, waiting: tuple[Watch, ...]) -> list[Callable[[float, Floats], float]]:
        """Functions of time and stores that pass zero: enough has passed, and each watch."""
        return [
            _event(self._missing, falling=True, ends=True),
            *(
                _event(self._volume_over(watch), falling=watch.falling, ends=watch.then is not None)
                for watch in waiting
            ),
        ]

    def _missing(self, stores: Floats) -> float:
        """What has yet to pass until it is enough [m³]."""
        if self.stop is None:
            return 1.0
        meter = len(self.plumbing.vessels) + 2 + self.meters.index(self.stop.stretch)
        return self.stop.volume - float(stores[meter])

    def _volume_over(self, watch: Watch) -> Callable[[Floats], float]:
        row = self.plumbing.vessels.index(watch.vessel)
        basin = self.plumbing.basins[row]
        if basin is None:
            raise ValueError(watch.vessel)
        full = float(basin.volume(watch.height))  # a level ends at the floor, a volume does not
        return lambda stores: float(stores[row]) - full

    def _course(self, until: float) -> Course:
        plumbing = self.plumbing
        own = len(plumbing.vessels)
        moments = [self._moments(piece) for piece in self.pieces]
        stores = np.concatenate([piece.stores for piece in self.pieces], axis=1)
        time = np.concatenate([piece.time for piece in self.pieces])
        flow, weir, spilt = (
            np.concatenate([getattr(moment, name) for moment in moments], axis=1)
            for name in ("flow", "weir", "spilt")
        )
        level = plumbing.levels(stores[: own + 2])
        moving = (np.abs(level - level[:, -1:]) > SETTLED).any(axis=0)
        settled = float(time[int(np.flatnonzero(moving)[-1]) + 1]) if moving.any() else 0.0
        found = [*self.events, *_dried(plumbing, self.pieces, moments), *self._stilled(time, flow)]
        named = dict(zip(plumbing.network.row_of, flow, strict=True))
        named |= {row.name: over for row, over in zip(plumbing.plan.weirs, weir, strict=True)}
        return Course(
            time=time,
            vessels=plumbing.vessels,
            level=level,
            volume=stores[:own],
            outside=stores[own],
            floor=stores[own + 1],
            flow=named,
            spilt=dict(zip(plumbing.vessels, spilt, strict=True)),
            passed={
                name: float(stores[own + 2 + place, -1]) for place, name in enumerate(self.meters)
            },
            events=tuple(sorted(found, key=lambda event: event.time)),
            settled=settled,
            at_rest=settled <= AT_REST * until,
        )

    def _moments(self, piece: _Piece) -> Moment:
        stores = piece.stores[: len(piece.stores) - len(self.meters)]
        return self.plumbing.moment(stores, piece.modes, self.near)

    def _stilled(self, time: Floats, flow: Floats) -> Iterator[Event]:
        """Stretches by which a vessel lost water until surfaces were level, not broken by air."""
        aired, drains = self.pieces[-1].modes.aired, {drain.name for drain in self.plumbing.drains}
        for place, mouth in enumerate(self.plumbing.mouths.each):
            kind = self.plumbing.network.layout.runs[mouth.run].kind
            if mouth.free or place in aired or mouth.vessel == OUTSIDE:
                continue
            if kind == "pump" or mouth.name in drains:
                continue
            lost = (-flow if mouth.way == IN else flow)[mouth.run] > STILL
            if lost.any() and not lost[-1]:
                last = int(np.flatnonzero(lost)[-1]) + 1
                yield Event(float(time[last]), "level", mouth.name, mouth.vessel)


def _piece(steps: Floats, ends: Floats, curve: Callable[[Floats], Floats], modes: Modes) -> _Piece:
    """What was found at steps, with points between them, where its own curve leads."""
    within = [np.linspace(*step, BETWEEN, endpoint=False) for step in pairwise(steps)]
    time = np.concatenate([*within, steps[-1:]])
    stores = np.concatenate([ends[:, :1], curve(time[1:-1]), ends[:, -1:]], axis=1)
    return _Piece(time, stores, modes)


def _event(
    value: Callable[[Floats], float], *, falling: bool, ends: bool
) -> Callable[[float, Floats], float]:
    """A function as scipy wants its events, with what it looks for written on it."""

    def event(_: float, stores: Floats) -> float:
        return value(stores)

    event.terminal = ends  # type: ignore[attr-defined]
    event.direction = -1.0 if falling else 1.0  # type: ignore[attr-defined]
    return event


def _dried(plumbing: Plumbing, pieces: list[_Piece], moments: list[Moment]) -> Iterator[Event]:
    """Free outlets that run dry while the water behind them hangs below: air can come in there."""
    shut = plumbing.network.at(plumbing.network.openings, plumbing.network.speeds)[1][:, 0]
    for mouth in plumbing.mouths.each:
        run = plumbing.network.layout.runs[mouth.run]
        checked = any(isinstance(p, CheckPart) and not p.failed for p in run.parts)
        if not mouth.free or shut[mouth.run] or checked:
            continue
        for piece, moment in zip(pieces, moments, strict=True):
            drop = plumbing.mouths.topology.drop(moment.state.heads)[mouth.run]
            dry = (np.abs(moment.flow[mouth.run]) < NO_FLOW) & (drop < -AIR_BELOW)
            if dry.any():
                first = float(piece.time[int(dry.argmax())])
                yield Event(first, "air", mouth.name, mouth.vessel)
                break
