"""The laws of all runs together: head lost at given flows, slope, and how tees couple them."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Self

import numpy as np
from numpy.typing import NDArray

from balance.network.newton import Linear
from balance.network.terms import Friction, Points, PowerLaw, Pumps, Tees, some

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]

# The least slope of any law, and the slope of a shut check valve, per head and flow of the
# network.  Their ratio decides whether Newton's method goes round in circles.
LEAST_SLOPE = 1e-8
REVERSE_SLOPE = 1e5
START_SHARE = 0.3  # of the network's range of head, that the first guess spends on each run
START_VELOCITY = 4.0  # [m/s], the most of the first guess


@dataclass(frozen=True)
class RunLaws:
    """f(q) = a q + b |q| q + friction + devices - pump head + opening head + tees.

    Attributes
    ----------
    linear : (E, c) a [m/(m³/s)]
    forward, backward : (E, c) b for either direction [m/(m³/s)²]
    constant : (E, c) opening heads of check valves [m]
    area : (E, 1) least flow area of each run [m²]
    one_way : (N,) runs with a check valve or a free outlet
    reverse : slope of those against reverse flow [m/(m³/s)]
    """

    linear: Floats
    forward: Floats
    backward: Floats
    constant: Floats
    area: Floats
    one_way: Ints
    reverse: float
    friction: Friction | None = None
    power: PowerLaw | None = None
    points: Points | None = None
    pumps: Pumps | None = None
    tees: Tees | None = None

    def _alone(self, flow: Floats) -> tuple[Floats, Floats]:
        """Head and slope of the runs without their tees."""
        size = np.abs(flow)
        quadratic = self.forward
        if self.backward is not self.forward:
            quadratic = np.where(flow >= 0.0, self.forward, self.backward)
        part = quadratic * size
        head = (part + self.linear) * flow
        slope = 2.0 * part
        slope += self.linear
        head += self.constant
        for term in (self.friction, self.power, self.points, self.pumps):
            if term is not None:
                term.add(flow, head, slope)
        if len(self.one_way):
            back = np.minimum(flow.take(self.one_way, axis=0), 0.0)
            head[self.one_way] += self.reverse * back
            slope[self.one_way] += np.where(back < 0.0, self.reverse, 0.0)
        return head, slope

    def __call__(self, flow: Floats) -> Linear:
        """Head lost along each run and its slopes, at flows (E, S)."""
        head, slope = self._alone(flow)
        crossed = None if self.tees is None else self.tees.add(flow, head, slope)
        return Linear(head, slope, crossed)

    def secant(self, flow: Floats) -> Linear:
        """The same with passive runs replaced by their secant through zero flow, uncoupled."""
        head, slope = self._alone(flow)
        passive = flow != 0.0
        if self.pumps is not None:
            passive[self.pumps.of] = False
        chord = np.divide(head - self.constant, flow, out=slope.copy(), where=passive)
        return Linear(head, np.maximum(chord, self.linear), None)

    def lift(self) -> Floats:
        """Sum of the pumps' heads at no flow, (1,) or (S,) [m]."""
        if self.pumps is None:
            return np.zeros(1)
        at_rest = self.pumps.ends[self.pumps.starts, 0][:, None]
        return np.asarray((at_rest * self.pumps.speed**2).sum(axis=0))

    def start(self, head_range: Floats) -> Floats:
        """First guess of the flows (E, S) for ranges of head (S,) over the network [m]."""
        shape = (len(self.linear), len(head_range))
        unit = np.broadcast_to(self.area, shape)  # the flow at 1 m/s
        head, _ = self._alone(unit.copy())
        spent = head - self.constant
        if self.pumps is not None:
            spent[self.pumps.of] = np.inf
        guess = unit * np.minimum(
            np.sqrt(START_SHARE * head_range / np.maximum(spent, 1e-12)), START_VELOCITY
        )
        if self.pumps is not None:
            run_out = self.pumps.ends[self.pumps.starts, 2][:, None]
            guess[self.pumps.of] = 0.5 * run_out * self.pumps.speed
        return guess

    def take(self, columns: Ints) -> Self:
        """The laws of some of the scenarios."""
        forward = some(self.forward, columns)
        return replace(
            self,
            linear=some(self.linear, columns),
            forward=forward,
            backward=(forward if self.backward is self.forward else some(self.backward, columns)),
            constant=some(self.constant, columns),
            friction=None if self.friction is None else self.friction.take(columns),
            power=None if self.power is None else self.power.take(columns),
            points=None if self.points is None else self.points.take(columns),
            pumps=None if self.pumps is None else self.pumps.take(columns),
            tees=None if self.tees is None else self.tees.take(columns),
        )

    def with_tees(self, share: float) -> Self:
        """The same with only a part of the tees' losses, for continuation."""
        if self.tees is None:
            return self
        return replace(self, tees=replace(self.tees, share=self.tees.share * share))
