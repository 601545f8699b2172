"""Systems as they may really be, and the hand, the bucket and the stopwatch of who balances them.

They differ from the plan by the spreads of the plan's own table, part by part; valves partly shut
differ beyond that, in ways that the fit's two numbers cannot follow.  A pump's curve keeps its
planned shape, and nothing drifts while the walk lasts.
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
MIDDLE = 0.45  # of travel, where a tilt changes nothing
LEAST_FLOW = 1e-7  # [m³/s], a drip: less is read as that


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
        middle = float(self.family.excess(np.array([MIDDLE])).value[0])
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
    bucket: float  # true volume of a fill, of what its mark says
    near: State | None = field(default=None, repr=False)

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

    def flow(self, branch: str) -> float:
        return max(float(self.flows()[self.network.row_of[branch]]), LEAST_FLOW)

    def set(self, valve: int, mark: float) -> None:
        """Turns a handle to a mark by eye."""
        spread = handle_spread(self.network.valves[valve], self.network.plan.spread)
        self._turn(valve, mark, from_=mark, spread=spread)

    def nudge(self, valve: int, mark: float) -> None:
        """Turns a handle a little, from where it stands."""
        move = mark - self.marks[valve]
        spread = nudge_spread(self.network.valves[valve], self.network.plan.spread, move)
        self._turn(valve, mark, from_=self.openings[valve] + move, spread=spread)

    def _turn(self, valve: int, mark: float, *, from_: float, spread: float) -> None:
        self.marks[valve] = mark
        if at_stop(mark):
            self.openings[valve] = mark
        else:
            error = spread * self.rng.standard_normal()
            self.openings[valve] = min(max(from_ + error, 0.0), 1.0)

    def fill(self, branch: str, volume: float, fills: int) -> tuple[float, ...]:
        """Seconds of some fills of the bucket."""
        seconds = self.bucket * volume / self.flow(branch)
        watch = self.network.plan.spread.stopwatch * self.rng.standard_normal(fills)
        return tuple(float(s) for s in np.maximum(seconds + watch, 0.5))


def system(network: Network, *, seed: int, number: int, bucket_off: bool = False) -> System:
    """One real system of a plan, all valves wide open and pumps at the plan's speed.

    Parameters
    ----------
    seed, number : the same truth for the same two, whoever walks it
    bucket_off : the bucket holds not quite what its mark says
    """
    rng = np.random.default_rng([seed, number])
    doubts = Doubts(network)
    drawn = doubts.drawn(rng.standard_normal((len(doubts.all), 1)))
    valves = tuple(
        replace(
            valve,
            law=replace(
                valve.law.learnt(
                    open_factor=float(drawn.real.open_factor[place, 0]),
                    log_factor=float(drawn.real.log_factor[place, 0]),
                    offset=float(drawn.real.offset[place, 0]),
                ),
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
    wrong = float(np.exp(network.plan.spread.bucket * rng.standard_normal()))
    openings = np.array(
        [
            (valve.part.stops or (0.0, 1.0))[1] if valve.part.open > 0.0 else 0.0
            for valve in network.valves
        ]
    )
    return System(
        replace(network, passive=drawn.real.passive, fixed_heads=drawn.fixed_heads, valves=valves),
        np.random.default_rng([seed, number, 1]),
        openings,
        openings.copy(),
        network.speeds[:, 0].copy(),
        wrong if bucket_off else 1.0,
    )


def systems(network: Network, count: int, *, seed: int) -> list[System]:
    """The first so many real systems of a seed."""
    return [system(network, seed=seed, number=number) for number in range(count)]
