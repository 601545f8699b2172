"""The terms of the runs' laws, each a group of like parts evaluated in one call.

Every term adds the head lost in its parts, and the slope against flow, to arrays over all runs.
Arrays are (rows, S) or (rows, 1) where all scenarios share them; scenarios last.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple, Self

import numpy as np
from numpy.typing import NDArray

from balance.network.rows import Placed, RowSum
from balance.parts.devices import power_law
from balance.parts.friction import FrictionLaw, friction
from balance.parts.tees import TeeBank

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]

STOPPED = 1e-8  # speed ratio that stands for none, so that flow over speed is a number


def some(array: Floats, columns: Ints) -> Floats:
    """The columns of an array, or the array itself where all scenarios share its one column."""
    return array if array.shape[1] == 1 else array.take(columns, axis=1)


@dataclass(frozen=True)
class Friction:
    """Darcy-Weisbach friction of pipes and hoses, runs of several bores in pieces.

    Attributes
    ----------
    at : the run of each of the N pieces
    reynolds_per_flow : (N, c) 4 / (pi D nu) [s/m³]
    head : (N, c) (L / D) (nu / D)² / 2 g, so that a piece loses head * f_D Re² [m]
    law : friction law of the pieces' relative roughness
    """

    at: Placed
    reynolds_per_flow: Floats
    head: Floats
    law: FrictionLaw

    def add(self, flow: Floats, head: Floats, slope: Floats) -> None:
        """Adds to head and slope (E, S) at flow (E, S)."""
        here = self.at.pick(flow)
        lost, steep = friction(np.abs(here) * self.reynolds_per_flow, self.law)
        lost *= self.head
        steep *= self.head * self.reynolds_per_flow
        self.at.add(head, np.copysign(lost, here, out=lost))
        self.at.add(slope, steep)

    def take(self, columns: Ints) -> Self:
        """The term for some of the scenarios."""
        return replace(
            self,
            reynolds_per_flow=some(self.reynolds_per_flow, columns),
            head=some(self.head, columns),
        )

    def lossier(self, factor: Floats) -> Self:
        """The term with what each run loses multiplied, (E, c)."""
        return replace(self, head=self.head * self.at.pick(factor))


@dataclass(frozen=True)
class PowerLaw:
    """Devices with a loss through one point and an exponent: coefficient |q|^(n-1) q."""

    at: Placed
    coefficient: Floats  # (N, c) [m/(m³/s)^n]
    exponent: Floats  # (N, 1)

    def add(self, flow: Floats, head: Floats, slope: Floats) -> None:
        """Adds to head and slope (E, S) at flow (E, S)."""
        lost = power_law(self.at.pick(flow), coefficient=self.coefficient, exponent=self.exponent)
        self.at.add(head, lost.value)
        self.at.add(slope, lost.slope)

    def take(self, columns: Ints) -> Self:
        """The term for some of the scenarios."""
        return replace(self, coefficient=some(self.coefficient, columns))

    def lossier(self, factor: Floats) -> Self:
        """The term with what each run loses multiplied, (E, c)."""
        return replace(self, coefficient=self.coefficient * self.at.pick(factor))


class Points(NamedTuple):
    """A curve through points (x, y) with a slope at each, and how it goes on beyond them."""

    x: Floats  # (P,) rising
    y: Floats
    slope: Floats
    before: float = 0.0  # below the first point y0 + slope0 t + before t², t the distance to it


@dataclass(frozen=True)
class Cubics:
    """Several curves in cubic pieces, evaluated all at once.

    Attributes
    ----------
    breaks : for each of the C curves, where one piece ends and the next begins
    first : (C, 1) number of each curve's first piece
    starts : (pieces,) where t counts from in each piece
    coefficients : (4, pieces) of powers of t
    """

    breaks: tuple[Floats, ...]
    first: Ints
    starts: Floats
    coefficients: Floats

    def evaluate(self, at: Floats) -> tuple[Floats, Floats]:
        """Value and slope (C, S) of curve c at at[c]."""
        piece = np.empty(at.shape, dtype=np.intp)
        for row, breaks in enumerate(self.breaks):
            piece[row] = breaks.searchsorted(at[row], side="right")
        piece += self.first
        t = at - self.starts.take(piece)
        a0, a1, a2, a3 = (powers.take(piece) for powers in self.coefficients)
        a3 *= t
        value = ((a3 + a2) * t + a1) * t + a0
        a3 *= 3.0
        a2 *= 2.0
        return value, (a3 + a2) * t + a1


def cubics(curves: Sequence[Points]) -> Cubics:
    """Packs curves; beyond its last point x_e each goes on as y_e + p (x² - x_e²)."""
    first: list[int] = []
    starts: list[Floats] = []
    packed: list[Floats] = []
    for x, y, slope, before in curves:
        step = np.diff(x)
        rise = np.diff(y) / step
        first.append(sum(len(part) for part in starts))
        starts.append(np.concatenate([x[:1], x]))
        flat = np.zeros(1)
        packed.append(
            np.array(
                [
                    np.concatenate([y[:1], y]),
                    np.concatenate([slope[:1], slope]),
                    np.concatenate(
                        [
                            [before],
                            (3 * rise - 2 * slope[:-1] - slope[1:]) / step,
                            slope[-1:] / (2 * x[-1:]),
                        ]
                    ),
                    np.concatenate([flat, (slope[:-1] + slope[1:] - 2 * rise) / step**2, flat]),
                ]
            )
        )
    return Cubics(
        tuple(curve.x for curve in curves),
        np.array(first, dtype=np.intp)[:, None],
        np.concatenate(starts),
        np.concatenate(packed, axis=1),
    )


@dataclass(frozen=True)
class PointLaw:
    """Devices with a loss through several points, odd in flow, quadratic beyond the last."""

    at: Placed
    curves: Cubics
    factor: Floats  # (N, c) fouling

    def add(self, flow: Floats, head: Floats, slope: Floats) -> None:
        """Adds to head and slope (E, S) at flow (E, S)."""
        here = self.at.pick(flow)
        value, steep = self.curves.evaluate(np.abs(here))
        self.at.add(head, np.copysign(value, here) * self.factor)
        self.at.add(slope, steep * self.factor)

    def take(self, columns: Ints) -> Self:
        """The term for some of the scenarios."""
        return replace(self, factor=some(self.factor, columns))

    def lossier(self, factor: Floats) -> Self:
        """The term with what each run loses multiplied, (E, c)."""
        return replace(self, factor=self.factor * self.at.pick(factor))


@dataclass(frozen=True)
class Pumps:
    """Pumps by affinity: H = n² h(q/n), or a family's mean of that between measured speeds.

    In reverse flow and beyond run-out the curves go on as quadratics.  A stopped pump is one whose
    speed is next to none: of its curve only that for reverse flow is left, a resistance both ways.

    Attributes
    ----------
    of : (P,) the run of each pump; no two share one
    pump : (C,) the pump of each curve, rising
    onto : from curves to pumps
    curves : at full speed; below zero flow with the loss of a pump at rest
    at_rest, run_out : (P, 1) head without flow and flow without rise of the curve of the highest
        speed, at full speed [m], [m³/s]
    speed : (P, c) speed ratios
    weight : (C, c) share of each curve in its pump's head, and
    weight_slope : (C, c) its slope against the speed
    head_factor, flow_factor : (P, c) of head and of flow, by which a pump differs from its curve
    """

    of: Ints
    pump: Ints
    onto: RowSum
    curves: Cubics
    at_rest: Floats
    run_out: Floats
    speed: Floats
    weight: Floats
    weight_slope: Floats
    head_factor: Floats
    flow_factor: Floats

    def heads(self, flow: Floats) -> tuple[Floats, Floats]:
        """Head of each pump and its slope against flow, (P, S), at flow (P, S)."""
        head, by_flow = self._by_curve(flow / self.flow_factor)
        head *= self.head_factor
        by_flow *= self.head_factor / self.flow_factor
        return head, by_flow

    def by_strength(self, flow: Floats) -> Floats:
        """Slope of each pump's head against the logarithm of its strength, (P, S).

        Strength acts as speed does, flow as its first power and head as its square, but not as a
        setting: a family of curves keeps its weights.
        """
        head, by_flow = self.heads(flow)
        return 2.0 * head - flow * by_flow

    def _by_curve(self, flow: Floats) -> tuple[Floats, Floats]:
        if len(self.pump) == len(self.at_rest):
            n, value, steep = self._at_full_speed(flow, self.speed)
            steep *= n
            value *= n * n
            return value, steep
        n, value, steep = self._at_full_speed(
            flow.take(self.pump, axis=0), self.speed.take(self.pump, axis=0)
        )
        head, by_flow = np.zeros(flow.shape), np.zeros(flow.shape)
        self.onto.add(head, self.weight * (n * n * value))
        self.onto.add(by_flow, self.weight * (n * steep))
        return head, by_flow

    def by_speed(self, flow: Floats) -> Floats:
        """Slope of each pump's head against its speed, (P, S), at flow (P, S)."""
        here = (flow / self.flow_factor).take(self.pump, axis=0)
        n, value, steep = self._at_full_speed(here, self.speed.take(self.pump, axis=0))
        slope = np.zeros(flow.shape)
        self.onto.add(
            slope,
            self.weight * (2 * n * value - here * steep) + self.weight_slope * (n * n * value),
        )
        slope *= self.head_factor
        return slope

    def _at_full_speed(self, flow: Floats, speed: Floats) -> tuple[Floats, Floats, Floats]:
        n = np.maximum(speed, STOPPED)
        still = speed <= 0.0
        if not still.any():
            return n, *self.curves.evaluate(flow / n)
        # At rest a pump resists alike both ways: as it does backwards.
        value, steep = self.curves.evaluate(np.where(still, -np.abs(flow), flow) / n)
        return n, np.where(still & (flow > 0.0), -value, value), steep

    def add(self, flow: Floats, head: Floats, slope: Floats) -> None:
        """Adds to head and slope (E, S) at flow (E, S): a pump's head is a negative loss."""
        given, by_flow = self.heads(flow.take(self.of, axis=0))
        head[self.of] -= given
        slope[self.of] -= by_flow

    def take(self, columns: Ints) -> Self:
        """The term for some of the scenarios."""
        return replace(
            self,
            speed=some(self.speed, columns),
            weight=some(self.weight, columns),
            weight_slope=some(self.weight_slope, columns),
            head_factor=some(self.head_factor, columns),
            flow_factor=some(self.flow_factor, columns),
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
