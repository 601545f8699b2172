"""What would be read at the real plumbing, were the unknowns so and so, and its slopes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from itertools import combinations
from math import hypot, log, pi
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from balance.network.arrays import Machine, Network
from balance.network.gradients import by_lost_head
from balance.network.laws import RunLaws
from balance.network.real import Real
from balance.network.settle import State, settle
from balance.parts.pumps import GRAVITY
from balance.plan.model import Spread
from balance.questions.learning.handles import Stand
from balance.questions.learning.unknowns import Unknowns

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]
Bools = NDArray[np.bool_]

MODEL_FLOW = 0.01
"""Of a flow, what the model of few numbers cannot follow; our own choice."""
DOUBTFUL = 3.0  # standard deviations beyond which a reading pulls less; our own choice
NEVER = 1e6  # the same of a reading that was confirmed
ALIKE = 4.0  # standard deviations, within which two readings confirm each other; our own choice
TRICKLE = 0.05
"""Velocity [m/s] below which a flow is told by itself and no more by its logarithm, and of which no
bucket catches anything; our own choice."""
NO_WATER = 0.25  # of a trickle, to which "no water comes" is sure; our own choice
METER = 0.03  # of a flow read off a meter; common practice, no source
STANDPIPE = 0.005  # [m], reading a level; common practice, no source
WATTS = 0.05  # of a power; common practice, no source
STEP = 1e-4  # of a pump's run-out and strength, for slopes of its power


@dataclass(frozen=True)
class Observation:
    """One thing that was, or may be, measured.

    Attributes
    ----------
    kind : flow by bucket, flow by meter, no water at all, level of a standpipe, watts of a pump
    stand : number of the stand at which it was
    run : row of the run whose flow, level or power it is
    joint : of the standpipe, for a level
    bore : there [m]
    value : logarithm of a flow [m³/s] or power [W], or a level [m]; 0 where no water comes
    sd : of the value
    line : of the log
    """

    kind: Literal["bucket", "meter", "dry", "level", "watts"]
    stand: int
    run: int
    value: float
    sd: float
    joint: int = -1
    bore: float = 1.0
    line: int = 0


def bucket_observation(
    spread: Spread, *, stand: int, run: int, volume: float, seconds: Sequence[float], line: int = 0
) -> Observation:
    """A flow from the seconds of several fills."""
    mean = sum(seconds) / len(seconds)
    timed = spread.stopwatch / (mean * len(seconds) ** 0.5)
    return Observation(
        "bucket", stand, run, log(volume / mean), hypot(timed, MODEL_FLOW), line=line
    )


@dataclass(frozen=True)
class Look:
    """The network at one vector of unknowns.

    Attributes
    ----------
    real, laws, shut, state : of all stands
    """

    real: Real
    laws: RunLaws
    state: State


@dataclass
class Experiment:
    """Observations of a network at several stands.

    Attributes
    ----------
    unknowns : with their prior
    stands : where handles and pumps stood
    observations : in order
    """

    unknowns: Unknowns
    stands: tuple[Stand, ...]
    observations: tuple[Observation, ...]
    near: State | None = field(default=None, repr=False)

    @property
    def network(self) -> Network:
        """As planned."""
        return self.unknowns.network

    @cached_property
    def openings(self) -> Floats:
        """By the marks, (V, T)."""
        return np.array([stand.openings for stand in self.stands]).T.reshape(
            len(self.network.valves), len(self.stands)
        )

    @cached_property
    def speeds(self) -> Floats:
        """(P, T)."""
        return np.array([stand.speeds for stand in self.stands]).T.reshape(
            len(self.network.machines), len(self.stands)
        )

    def look(self, z: Floats) -> Look:
        """Solves all stands at unknowns z (P,)."""
        network = self.network
        real = self.unknowns.real(z[:, None])
        handles = self.unknowns.handles(z, self.stands)
        here = replace(real, offset=real.offset - handles)
        laws, shut = network.at(self.openings, self.speeds, real=here)
        state = settle(
            network.topology,
            laws,
            fixed_heads=network.fixed_heads,
            held=shut,
            draw=network.draw,
            near=self.near,
            scenarios=len(self.stands),
        )
        if state.converged.all():
            self.near = state
        return Look(here, laws, state)

    def state_of(self, stands: Sequence[Stand]) -> State | None:
        """Where these stands were last found, or the last of them for one that is new."""
        if self.near is None:
            return None
        place = {stand: number for number, stand in enumerate(self.stands)}
        columns = np.array([place.get(stand, len(self.stands) - 1) for stand in stands])
        return self.near.take(columns)

    @property
    def measured(self) -> Floats:
        """(N,)."""
        return np.array([each.value for each in self.observations])

    @property
    def sd(self) -> Floats:
        """(N,)."""
        return np.array([each.sd for each in self.observations])

    @cached_property
    def doubtful(self) -> Floats:
        """Standard deviations beyond which each reading pulls less, (N,).

        A slip of the pen or of a bucket happens once.  What was read twice with nothing moved
        between, and alike, is no slip, whatever speaks against it.
        """
        limits = np.full(len(self.observations), DOUBTFUL)
        for one, other in combinations(range(len(self.observations)), 2):
            first, second = self.observations[one], self.observations[other]
            same = (first.kind, first.run, first.stand) == (second.kind, second.run, second.stand)
            if same and abs(first.value - second.value) <= ALIKE * hypot(first.sd, second.sd):
                limits[[one, other]] = NEVER
        return limits

    def __call__(self, z: Floats) -> tuple[Floats, Floats]:
        """Values (N,) and slopes (N, P) at unknowns (P,); not a number where no water flows."""
        look = self.look(z)
        return self.values(z, look), self.slopes(z, look)

    def values(self, z: Floats, look: Look) -> Floats:
        """What would be read, (N,)."""
        found = values(self.unknowns, self.stands, self.observations, z[:, None], look.state)
        return found[:, 0]

    def slopes(self, z: Floats, look: Look) -> Floats:
        """Slopes of what would be read, (N, P)."""
        return slopes(self.unknowns, self.stands, self.observations, z, look)


class Logarithm(NamedTuple):
    """Logarithm of a flow, and its slope."""

    value: Floats
    slope: Floats


def logarithm(network: Network, run: int, flow: Floats) -> Logarithm:
    """Logarithm of flows (S,) of a run; below a trickle straight on, so that it is told backwards.

    Not a number where something shuts the run, unless a check valve may do that.
    """
    least = _trickle(network, run)
    small = flow < least
    safe = np.where(small, least, flow)
    value = np.log(safe) + np.where(small, flow / least - 1.0, 0.0)
    if run not in network.passive.one_way:
        value = np.where(flow == 0.0, np.nan, value)
    return Logarithm(value, np.where(np.isnan(value), np.nan, 1.0 / safe))


def _trickle(network: Network, run: int) -> float:
    return TRICKLE * float(network.passive.area[run, 0])


def values(
    unknowns: Unknowns,
    stands: Sequence[Stand],
    observations: Sequence[Observation],
    z: Floats,
    state: State,
) -> Floats:
    """What would be read, (N, S), at unknowns z (P, S).

    Parameters
    ----------
    state : of all stands for the first system, then for the next ...
    """
    systems = z.shape[1]
    bucket = unknowns.rows["bucket", ""]
    found = np.empty((len(observations), systems))
    for row, each in enumerate(observations):
        columns = each.stand + len(stands) * np.arange(systems)
        flow = state.flow[each.run, columns]
        with np.errstate(divide="ignore", invalid="ignore"):
            if each.kind in ("bucket", "meter"):
                found[row] = logarithm(unknowns.network, each.run, flow).value
                if each.kind == "bucket":
                    found[row] -= z[bucket]
            elif each.kind == "dry":
                found[row] = np.maximum(flow / _trickle(unknowns.network, each.run), 0.0)
            elif each.kind == "level":
                velocity = flow / (pi / 4 * each.bore**2)
                found[row] = state.heads[each.joint, columns] - velocity**2 / (2 * GRAVITY)
            else:
                found[row] = np.log(_power(unknowns, stands, each, flow, z))
        found[row, ~state.converged[columns]] = np.nan
    return found


def slopes(
    unknowns: Unknowns,
    stands: Sequence[Stand],
    observations: Sequence[Observation],
    z: Floats,
    look: Look,
) -> Floats:
    """Slopes (N, P) of what would be read against unknowns z (P,)."""
    network, topology = unknowns.network, unknowns.network.topology
    count = len(observations)
    at = np.array([each.stand for each in observations], dtype=np.intp)
    runs = np.array([each.run for each in observations], dtype=np.intp)
    every = np.arange(count)
    state = look.state.take(at)
    laws = look.laws.take(at)
    by_flow = np.zeros((topology.runs, count))
    by_head = np.zeros((topology.joints, count))
    found = np.zeros((count, len(unknowns.all)))
    through = state.flow[runs, every]
    for row, each in enumerate(observations):
        if each.kind in ("bucket", "meter"):
            by_flow[each.run, row] = logarithm(network, each.run, through[row : row + 1]).slope[0]
            if each.kind == "bucket":
                found[row, unknowns.rows["bucket", ""]] = -1.0
        elif each.kind == "dry":
            by_flow[each.run, row] = (through[row] > 0.0) / _trickle(network, each.run)
        elif each.kind == "level":
            area = pi / 4 * each.bore**2
            by_flow[each.run, row] = -through[row] / (GRAVITY * area**2)
            by_head[each.joint, row] = 1.0
        else:
            own = unknowns.rows["pump", network.layout.runs[each.run].name]
            by_flow[each.run, row], found[row, own] = _power_slopes(
                unknowns, stands, each, through[row], z
            )
    unread = np.isnan(by_flow).any(axis=0)
    by_flow[:, unread] = 0.0
    # (E, N): what the reading does for each metre more that a run loses.
    worth = by_lost_head(topology, laws, state, flow=by_flow, heads=by_head)
    _by_strength(unknowns, laws, state, worth, found)
    _by_loss(unknowns, look, state, worth, found)
    _by_valves(unknowns, stands, at, look, state, worth, found)
    found[unread] = np.nan
    return found


def _by_strength(
    unknowns: Unknowns, laws: RunLaws, state: State, worth: Floats, found: Floats
) -> None:
    rows = unknowns.of("pump")
    if laws.pumps is None or not len(rows):
        return
    steep = laws.pumps.by_strength(state.flow.take(laws.pumps.of, axis=0))
    found[:, rows] -= (worth.take(laws.pumps.of, axis=0) * steep).T


def _by_loss(unknowns: Unknowns, look: Look, state: State, worth: Floats, found: Floats) -> None:
    network = unknowns.network
    passive = look.real.passive
    alone = replace(
        passive,
        constant=np.zeros_like(passive.constant),
        one_way=passive.one_way[:0],
        pumps=None,
        tees=None,
    )
    lost = alone(state.flow).head
    square = state.flow * np.abs(state.flow)
    for place, valve in enumerate(network.valves):
        for row, scale in valve.places:
            open_factor = look.real.open_factor[place]
            lost[row] += valve.law.k_open * scale * open_factor * square[row]
    told = worth * lost
    for run, row in enumerate(unknowns.loss_rows):
        if row >= 0:
            found[:, row] += told[run]


def _by_valves(
    unknowns: Unknowns,
    stands: Sequence[Stand],
    at: Ints,
    look: Look,
    state: State,
    worth: Floats,
    found: Floats,
) -> None:
    network = unknowns.network
    square = state.flow * np.abs(state.flow)
    openings = np.array([stand.openings for stand in stands])
    for place, valve in enumerate(network.valves):
        row = unknowns.rows["throttling", valve.name]
        beyond = valve.law.throttled(
            openings[:, place],
            log_factor=look.real.log_factor[place],
            offset=look.real.offset[place],
        )
        k = np.where(np.isinf(beyond.k), 0.0, beyond.k).take(at)
        steep = beyond.slope.take(at)
        told = sum(worth[run] * square[run] * scale for run, scale in valve.places)
        found[:, row] += told * k
        if ("offset", valve.name) in unknowns.rows:
            found[:, unknowns.rows["offset", valve.name]] -= told * steep
        for number, stand in enumerate(stands):
            here = at == number
            for error in stand.errors[place]:
                found[here, unknowns.first_setting + error] += (told * steep)[here]


def _power(
    unknowns: Unknowns,
    stands: Sequence[Stand],
    each: Observation,
    flow: Floats,
    z: Floats,
) -> Floats:
    """Watts of a pump, (S,), of strength as in z (P, S)."""
    place, machine = _machine(unknowns, each)
    drawn = machine.power(
        flow,
        np.full(len(flow), stands[each.stand].speeds[place]),
        density=unknowns.network.water.density,
        strength=np.exp(z[unknowns.rows["pump", machine.name]]),
    )
    return np.full(len(flow), np.nan) if drawn is None else drawn


def _power_slopes(
    unknowns: Unknowns, stands: Sequence[Stand], each: Observation, flow: float, z: Floats
) -> tuple[float, float]:
    """Slopes of the logarithm of a pump's power against its flow, and against its own strength."""
    place, machine = _machine(unknowns, each)
    hair = STEP * machine.run_out(max(stands[each.stand].speeds[place], STEP))
    own = unknowns.rows["pump", machine.name]
    flows = flow + hair * np.array([1.0, -1.0, 0.0, 0.0])
    strengths = np.repeat(z[:, None], len(flows), axis=1)
    strengths[own] += STEP * np.array([0.0, 0.0, 1.0, -1.0])
    drawn = np.log(_power(unknowns, stands, each, flows, strengths))
    return float(drawn[0] - drawn[1]) / (2 * hair), float(drawn[2] - drawn[3]) / (2 * STEP)


def _machine(unknowns: Unknowns, each: Observation) -> tuple[int, Machine]:
    """The pump of whose power an observation tells, and its place among the pumps."""
    return next(
        (place, machine)
        for place, machine in enumerate(unknowns.network.machines)
        if machine.run == each.run
    )
