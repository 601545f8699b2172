"""Systems as they may really be, and the hand, the bucket and the stopwatch of who balances them.

They differ from the plan by the spreads of the plan's own table, part by part; valves partly shut
differ beyond that, in ways that the fit's two numbers cannot follow.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from balance.network.arrays import Network
from balance.network.settle import State, settle
from balance.parts.monotone import Sample
from balance.parts.valve_shapes import Shape
from balance.questions.learning.doubts import Doubts, handle_spread
from balance.questions.learning.handles import at_stop, nudge_spread

Floats = NDArray[np.float64]

WAVES = 0.15  # of ln K, that a true curve lies to either side of its family, on and off
TILT = 0.15  # of the logarithm of the loss by throttling, by which a true curve is steeper


@dataclass(frozen=True, eq=False)
class TrueShape(Shape):
    """A valve's own curve, outside the family that a fit knows.

    ln e = (1 + tilt) ln(e of the family / e at half travel) + ln(e at half travel) + a wave.
    """

    family: Shape
    tilt: float
    wave: float
    phase: float

    def excess(self, opening: Floats) -> Sample:
        here = self.family.excess(opening)
        middle = float(self.family.excess(np.array([0.45])).value[0])
        passing = np.isfinite(here.value) & (here.value > 0.0)
        safe = np.where(passing, here.value, 1.0)
        angle = 4.0 * np.pi * opening + self.phase
        logarithm = (
            (1.0 + self.tilt) * np.log(safe / middle) + np.log(middle) + self.wave * np.sin(angle)
        )
        value = np.where(passing, np.exp(logarithm), here.value)
        steep = (1.0 + self.tilt) * here.slope / safe + self.wave * 4.0 * np.pi * np.cos(angle)
        return Sample(value, np.where(passing, value * steep, 0.0))


@dataclass
class System:
    """One real system, with its handles somewhere."""

    network: Network
    rng: np.random.Generator
    openings: Floats  # (V,) true
    marks: Floats  # (V,) as the handles say
    speeds: Floats  # (P,)
    bucket: float
    near: State | None = field(default=None, repr=False)
    moves: int = 0
    nudges: int = 0
    readings: int = 0

    def flows(self) -> Floats:
        """True flows of all runs, (E,)."""
        laws, shut = self.network.at(self.openings[:, None], self.speeds[:, None])
        state = settle(
            self.network.topology,
            laws,
            fixed_heads=self.network.fixed_heads,
            held=shut,
            draw=self.network.draw,
            near=self.near,
        )
        self.near = state
        return state.flow[:, 0]

    def set(self, valve: int, mark: float) -> None:
        """Turns a handle to a mark by eye."""
        spread = handle_spread(self.network.valves[valve], self.network.plan.spread)
        error = 0.0 if at_stop(mark) else spread * self.rng.standard_normal()
        self.marks[valve] = mark
        self.openings[valve] = min(max(mark + error, 0.0), 1.0)

    def nudge(self, valve: int, mark: float) -> None:
        """Turns a handle a little, from where it stands."""
        move = mark - self.marks[valve]
        part = self.network.valves[valve]
        sd = nudge_spread(part, self.network.plan.spread, move)
        error = 0.0 if at_stop(mark) else sd * self.rng.standard_normal()
        self.marks[valve] = mark
        self.openings[valve] = min(max(self.openings[valve] + move + error, 0.0), 1.0)
        if at_stop(mark):
            self.openings[valve] = mark

    def fill(self, branch: str, volume: float, fills: int) -> tuple[float, ...]:
        """Seconds of some fills of the bucket."""
        flow = max(float(self.flows()[self.network.row_of[branch]]), 1e-7)
        self.readings += 1
        seconds = self.bucket * volume / flow
        watch = self.network.plan.spread.stopwatch * self.rng.standard_normal(fills)
        return tuple(float(s) for s in np.maximum(seconds + watch, 0.5))


def systems(network: Network, count: int, *, seed: int) -> list[System]:
    """Real systems, all valves wide open and pumps at the plan's speed."""
    rng = np.random.default_rng(seed)
    doubts = Doubts(network)
    drawn = doubts.drawn(rng.standard_normal((len(doubts.all), count)))
    found = []
    for column in range(count):
        one = np.array([column])
        valves = tuple(
            replace(
                valve,
                law=replace(
                    valve.law,
                    k_open=valve.law.k_open * float(drawn.real.open_factor[place, column]),
                    log_factor=float(drawn.real.log_factor[place, column]),
                    own_offset=float(drawn.real.offset[place, column]),
                    shape=TrueShape(
                        valve.law.shape,
                        TILT * rng.standard_normal(),
                        WAVES * rng.standard_normal(),
                        rng.uniform(0.0, 2.0 * np.pi),
                    ),
                ),
            )
            for place, valve in enumerate(network.valves)
        )
        real = replace(
            network,
            passive=drawn.real.passive.take(one),
            fixed_heads=drawn.fixed_heads[:, one],
            valves=valves,
        )
        openings = np.array(
            [
                (valve.part.stops or (0.0, 1.0))[1] if valve.part.open > 0.0 else 0.0
                for valve in network.valves
            ]
        )
        found.append(
            System(
                real,
                np.random.default_rng([seed, column]),
                openings.copy(),
                openings.copy(),
                network.speeds[:, 0].copy(),
                1.0,
            )
        )
    return found
