"""The terms of the runs' laws, each a group of like parts evaluated in one call.

Every term adds the head lost in its parts, and the slope against flow, to arrays over all runs.
Arrays are (rows, S) or (rows, 1) where all scenarios share them; scenarios last.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import NamedTuple, Self

import numpy as np
from numpy.typing import NDArray

from balance.network.elimination import SlotSum
from balance.parts.friction import FrictionLaw, friction
from balance.parts.tees import TeeBank

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]


def some(array: Floats, columns: Ints) -> Floats:
    """The columns of an array, or the array itself where all scenarios share its one column."""
    return array if array.shape[1] == 1 else array.take(columns, axis=1)


@dataclass(frozen=True)
class Friction:
    """Darcy-Weisbach friction of pipes and hoses, runs of several bores in pieces.

    Attributes
    ----------
    onto : from pieces to runs
    of : (N,) the run of each piece
    reynolds_per_flow : (N, c) 4 / (pi D nu) [s/m³]
    head : (N, c) (L / D) (nu / D)² / 2 g, so that a piece loses head * f_D Re² [m]
    law : friction law of the pieces' relative roughness
    """

    onto: SlotSum
    of: Ints
    reynolds_per_flow: Floats
    head: Floats
    law: FrictionLaw

    def add(self, flow: Floats, head: Floats, slope: Floats) -> None:
        """Adds to head and slope (E, S) at flow (E, S)."""
        here = flow.take(self.of, axis=0)
        term = friction(np.abs(here) * self.reynolds_per_flow, self.law)
        lost = np.copysign(term.y * self.head, here)
        steep = term.slope * (self.head * self.reynolds_per_flow)
        head[self.onto.into] += self.onto.of(lost)
        slope[self.onto.into] += self.onto.of(steep)

    def take(self, columns: Ints) -> Self:
        """The term for some of the scenarios."""
        return replace(
            self,
            reynolds_per_flow=some(self.reynolds_per_flow, columns),
            head=some(self.head, columns),
        )


@dataclass(frozen=True)
class PowerLaw:
    """Devices with a loss through one point and an exponent: coefficient |q|^(n-1) q.

    Below ``small`` of flow the curve goes on as a straight line, so that its slope stays finite
    and above zero for any exponent.
    """

    onto: SlotSum
    of: Ints
    coefficient: Floats  # (N, c) [m/(m³/s)^n]
    exponent: Floats  # (N, 1)
    small: Floats  # (N, 1) [m³/s]

    def add(self, flow: Floats, head: Floats, slope: Floats) -> None:
        """Adds to head and slope (E, S) at flow (E, S)."""
        here = flow.take(self.of, axis=0)
        size = np.abs(here)
        chord = self.coefficient * np.maximum(size, self.small) ** (self.exponent - 1.0)
        head[self.onto.into] += self.onto.of(chord * here)
        slope[self.onto.into] += self.onto.of(
            np.where(size > self.small, self.exponent * chord, chord)
        )

    def take(self, columns: Ints) -> Self:
        """The term for some of the scenarios."""
        return replace(self, coefficient=some(self.coefficient, columns))


class Knots(NamedTuple):
    """Monotone cubics of several curves, padded to one length with knots at infinity."""

    x: Floats  # (C, P)
    coefficients: Floats  # (4, C, P - 1), in the distance from the knot before

    def evaluate(self, at: Floats) -> tuple[Floats, Floats]:
        """Value and slope (C, S) of curve c at at[c], inside the knots."""
        inner = self.x[:, 1:-1]
        piece = (at[:, None, :] >= inner[:, :, None]).sum(axis=1)
        row = np.arange(len(self.x))[:, None]
        t = at - self.x[row, piece]
        a0, a1, a2, a3 = (self.coefficients[order][row, piece] for order in range(4))
        return a0 + t * (a1 + t * (a2 + t * a3)), a1 + t * (2 * a2 + t * (3 * a3))


def knots(curves: list[tuple[Floats, Floats, Floats]]) -> Knots:
    """Packs curves given as (x, y, slope at x)."""
    most = max(len(x) for x, _, _ in curves)
    xs = np.full((len(curves), most), np.inf)
    coefficients = np.zeros((4, len(curves), most - 1))
    for c, (x, y, d) in enumerate(curves):
        xs[c, : len(x)] = x
        step = np.diff(x)
        rise = np.diff(y) / step
        n = len(step)
        coefficients[0, c, :n] = y[:-1]
        coefficients[1, c, :n] = d[:-1]
        coefficients[2, c, :n] = (3 * rise - 2 * d[:-1] - d[1:]) / step
        coefficients[3, c, :n] = (d[:-1] + d[1:] - 2 * rise) / step**2
    return Knots(xs, coefficients)


@dataclass(frozen=True)
class Points:
    """Devices with a loss through several points, odd in flow, quadratic beyond the last."""

    onto: SlotSum
    of: Ints
    knots: Knots
    last: Floats  # (N, 3) flow, head and slope at the last point
    factor: Floats  # (N, c) fouling

    def add(self, flow: Floats, head: Floats, slope: Floats) -> None:
        """Adds to head and slope (E, S) at flow (E, S)."""
        here = flow.take(self.of, axis=0)
        size = np.abs(here)
        end, end_head, end_slope = (self.last[:, column, None] for column in range(3))
        value, steep = self.knots.evaluate(np.minimum(size, end))
        # Beyond the last point h = h_end + p (q² - q_end²), with the same slope there.
        p = end_slope / (2 * end)
        beyond = size > end
        value = np.where(beyond, end_head + p * (size**2 - end**2), value)
        steep = np.where(beyond, 2 * p * size, steep)
        head[self.onto.into] += self.onto.of(np.copysign(value, here) * self.factor)
        slope[self.onto.into] += self.onto.of(steep * self.factor)

    def take(self, columns: Ints) -> Self:
        """The term for some of the scenarios."""
        return replace(self, factor=some(self.factor, columns))


@dataclass(frozen=True)
class Pumps:
    """Pumps by affinity: H = n² h(q/n), or a family's mean of that between measured speeds.

    In reverse flow and beyond run-out the curves go on as quadratics that hold for a speed of
    zero too, where the pump is a resistance both ways.

    Attributes
    ----------
    of : (P,) the run of each pump; no two pumps share one
    pump : (C,) the pump of each curve, rising
    starts : (P,) first curve of each pump
    knots : the curves at full speed
    ends : (C, 5) head and slope at zero flow, flow, head and slope at run-out
    stopped : (C, 1) loss coefficient at rest [m/(m³/s)²]
    speed : (P, c) speed ratios
    weight : (C, c) share of each curve in its pump's head, and
    weight_slope : (C, c) its slope against the speed
    """

    of: Ints
    pump: Ints
    starts: Ints
    knots: Knots
    ends: Floats
    stopped: Floats
    speed: Floats
    weight: Floats
    weight_slope: Floats

    def curves(self, flow: Floats) -> tuple[Floats, Floats, Floats]:
        """Head of each pump and its slopes against flow and speed, (P, S), at flow (P, S)."""
        n = np.broadcast_to(self.speed, (len(self.of), flow.shape[1])).take(self.pump, axis=0)
        q = flow.take(self.pump, axis=0)
        h0, d0, q_end, h_end, d_end = (self.ends[:, column, None] for column in range(5))
        u = np.divide(q, n, out=np.full_like(q, np.inf), where=n > 0.0)
        inside = np.clip(u, 0.0, q_end)
        value, steep = self.knots.evaluate(inside)
        head = n * n * value
        by_flow = n * steep
        by_speed = 2 * n * value - q * steep
        back = q < 0.0
        head = np.where(back, n * n * h0 + n * d0 * q + self.stopped * q * q, head)
        by_flow = np.where(back, n * d0 + 2 * self.stopped * q, by_flow)
        by_speed = np.where(back, 2 * n * h0 + d0 * q, by_speed)
        p = -d_end / (2 * q_end)
        past = (u > q_end) & ~back
        head = np.where(past, n * n * h_end + p * (n * n * q_end**2 - q * q), head)
        by_flow = np.where(past, -2 * p * q, by_flow)
        by_speed = np.where(past, 2 * n * (h_end + p * q_end**2), by_speed)
        return (
            np.add.reduceat(self.weight * head, self.starts, axis=0),
            np.add.reduceat(self.weight * by_flow, self.starts, axis=0),
            np.add.reduceat(self.weight * by_speed + self.weight_slope * head, self.starts, axis=0),
        )

    def add(self, flow: Floats, head: Floats, slope: Floats) -> None:
        """Adds to head and slope (E, S) at flow (E, S): a pump's head is a negative loss."""
        given, by_flow, _ = self.curves(flow.take(self.of, axis=0))
        head[self.of] -= given
        slope[self.of] -= by_flow

    def take(self, columns: Ints) -> Self:
        """The term for some of the scenarios."""
        return replace(
            self,
            speed=some(self.speed, columns),
            weight=some(self.weight, columns),
            weight_slope=some(self.weight_slope, columns),
        )


@dataclass(frozen=True)
class Tees:
    """Losses of tees on two of their legs each.

    Attributes
    ----------
    legs : (T, 2) the runs of the two legs, no run twice
    into : (T, 2) +1 where the run ends at the tee, -1 where it starts there
    bank : the tees' losses
    share : (T, c) how much of the loss counts (1, or a spread's factor, or a continuation)
    """

    legs: Ints
    into: Floats
    bank: TeeBank
    share: Floats

    def add(self, flow: Floats, head: Floats, slope: Floats) -> Floats:
        """Adds to head and slope (E, S); returns the crossed slopes (2 T, S)."""
        first, second = self.legs[:, 0], self.legs[:, 1]
        to_1, to_2 = self.into[:, :1], self.into[:, 1:]
        loss = self.bank.losses(to_1 * flow.take(first, axis=0), to_2 * flow.take(second, axis=0))
        head[first] -= self.share * to_1 * loss.first
        head[second] -= self.share * to_2 * loss.second
        slope[first] -= self.share * loss.slopes[0]
        slope[second] -= self.share * loss.slopes[3]
        mixed = -self.share * to_1 * to_2
        return np.concatenate([mixed * loss.slopes[1], mixed * loss.slopes[2]])

    def take(self, columns: Ints) -> Self:
        """The term for some of the scenarios."""
        return replace(self, share=some(self.share, columns))
