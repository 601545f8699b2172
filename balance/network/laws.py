"""The laws of all runs together: head lost at given flows, slope, and how tees couple them."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Self

import numpy as np
from numpy.typing import NDArray

from balance.network.newton import Linear
from balance.network.terms import Friction, PointLaw, PowerLaw, Pumps, Tees, some

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]

# The least slope of any law, and the slope of a shut check valve, per head and flow of the
# network.  Their ratio decides whether Newton's method goes round in circles.
LEAST_SLOPE = 1e-8
REVERSE_SLOPE = 1e5
START_SHARE = 0.3  # of the network's range of head, that the first guess spends on each run
START_VELOCITY = 4.0  # [m/s], the most of the first guess
LEAST_LOSS = 1e-12  # [m], of a run at 1 m/s


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
    points: PointLaw | None = None
    pumps: Pumps | None = None
    tees: Tees | None = None

    def _alone(self, flow: Floats) -> tuple[Floats, Floats]:
        """Head and slope of the runs without their tees."""
        slope = np.abs(flow)
        slope *= (
            self.forward
            if self.backward is self.forward
            else np.where(flow >= 0.0, self.forward, self.backward)
        )
        head = slope + self.linear
        slope += head
        head *= flow
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

    def lift(self) -> Floats:
        """Sum of the pumps' heads at no flow, (1,) or (S,) [m]."""
        if self.pumps is None:
            return np.zeros(1)
        return np.asarray((self.pumps.at_rest * self.pumps.speed**2).sum(axis=0))

    def start(self, head_range: Floats) -> tuple[Floats, Linear]:
        """First guess of the flows (E, S), and chords from rest to about there.

        Each passive run spends a share of the network's range of head, (S,) [m], by what it loses
        at 1 m/s and the square of flow.  Chords need not be exact: what Newton's first step finds
        with them balances at every joint whatever they are.  Pumps have their tangents.
        """
        # At 1 m/s the flow is the area; valves apart, scenarios mostly share what a run loses then.
        lost = self._without_valves(np.repeat(self.area, self._shared(), axis=1))
        lost = np.maximum(lost - self.constant + self.forward * self.area**2, LEAST_LOSS)
        share = np.minimum(np.sqrt(START_SHARE * head_range / lost), START_VELOCITY)
        flow = self.area * share
        chord = np.maximum(lost * share / self.area, self.linear)
        head = chord * flow + self.constant
        if self.pumps is not None:
            of = self.pumps.of
            flow[of] = 0.5 * self.pumps.run_out * self.pumps.speed
            chord[of] = self.linear[of]
            head[of] = 0.0
            self.pumps.add(flow, head, chord)
        return flow, Linear(head, chord, None)

    def _without_valves(self, flow: Floats) -> Floats:
        """Head lost but for the quadratic terms, in which valves are, pumps and tees."""
        none = np.zeros((len(self.linear), 1))
        return replace(self, forward=none, backward=none, pumps=None, tees=None)(flow).head

    def _shared(self) -> int:
        """Columns of all but valves and pumps: 1 where all scenarios share them."""
        arrays = [self.linear, self.constant]
        if self.friction is not None:
            arrays += [self.friction.reynolds_per_flow, self.friction.head]
        if self.power is not None:
            arrays.append(self.power.coefficient)
        if self.points is not None:
            arrays.append(self.points.factor)
        return max(len(array.T) for array in arrays)

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

    def lossier(self, factor: Floats) -> Self:
        """The same with what each run loses to flow multiplied, (E, c); pumps and tees as they are.

        Loss at equal flow: what growth and clogging do.  Opening heads of check valves stay.
        """
        forward = self.forward * factor
        return replace(
            self,
            linear=self.linear * factor,
            forward=forward,
            backward=forward if self.backward is self.forward else self.backward * factor,
            friction=None if self.friction is None else self.friction.lossier(factor),
            power=None if self.power is None else self.power.lossier(factor),
            points=None if self.points is None else self.points.lossier(factor),
        )

    def with_tees(self, share: float) -> Self:
        """The same with only a part of the tees' losses, for continuation."""
        if self.tees is None:
            return self
        return replace(self, tees=replace(self.tees, share=self.tees.share * share))
