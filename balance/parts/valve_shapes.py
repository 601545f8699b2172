"""How much a valve throttles: its loss beyond that of the open valve, against opening.

Every shape gives the excess e of the loss coefficient over that of the open valve, on the velocity
in its own port: zero when open, rising as it shuts, infinite where nothing passes. The opening is
the fraction of travel from shut.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from math import pi, radians, sin

import numpy as np
from numpy.typing import NDArray

from balance.parts import monotone
from balance.parts.monotone import Sample

Floats = NDArray[np.float64]

LEAST_AREA = 1e-9
"""Share of the port below which it counts as shut: K is then above 1e18, less than a drip, and
the difference of the two terms of the area has lost its digits."""

# 81° fitted to weisbach, see `ball_area`.
_BALL_CHORD = sin(radians(81.0) / 2.0)
_GRID = 257
_INVERSE_STEPS = 80


class Shape(ABC):
    """Excess loss against opening, and the opening that gives an excess."""

    @abstractmethod
    def excess(self, opening: Floats) -> Sample:
        """Excess e and de/dopening at openings from 0 to 1; (inf, 0) where nothing passes."""

    @cached_property
    def dead_band(self) -> float:
        """Opening up to which nothing passes."""
        low, high = 0.0, 1.0
        while high - low > 1e-12:
            middle = 0.5 * (low + high)
            if np.isinf(self.excess(np.array([middle])).value[0]):
                low = middle
            else:
                high = middle
        return low

    def opening(self, excess: Floats) -> Floats:
        """Return the opening [0, 1] at which the excess is the one given, to 1e-12 of travel.

        Zero for an infinite excess, one for an excess of zero or less.
        """
        wanted = _passing(excess)
        above = np.clip(np.searchsorted(self._passed, wanted), 1, _GRID - 1)
        low, high = self._openings[above - 1], self._openings[above]
        bottom, top = self._passed[above - 1], self._passed[above]
        at = low + (high - low) * np.clip((wanted - bottom) / (top - bottom), 0.0, 1.0)
        for _ in range(_INVERSE_STEPS):
            sample = self.excess(at)
            error = _passing(sample.value) - wanted
            low, high = np.where(error < 0.0, at, low), np.where(error < 0.0, high, at)
            moved = at - _step(sample, error)
            # The inverse runs between two openings that hold it; where Newton leaves them, halve.
            inside = (moved >= low) & (moved <= high)
            after = np.where(inside, moved, 0.5 * (low + high))
            settled = bool((np.abs(after - at) < 1e-13).all())
            at = after
            if settled:
                break
        at = np.where(excess <= 0.0, 1.0, np.where(np.isinf(excess), 0.0, at))
        return np.asarray(at)

    @cached_property
    def _openings(self) -> Floats:
        return np.linspace(self.dead_band, 1.0, _GRID)

    @cached_property
    def _passed(self) -> Floats:
        return _passing(self.excess(self._openings).value)


def _passing(excess: Floats) -> Floats:
    """Flow at equal head, 1/(1 + √e): from 0 when shut to 1 when open, and nearly straight."""
    return np.asarray(1.0 / (1.0 + np.sqrt(np.maximum(excess, 0.0))))


def _step(sample: Sample, error: Floats) -> Floats:
    """Newton's step of `_passing`; nan where its slope is none, so that the caller halves."""
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        root = np.sqrt(sample.value)
        slope = -0.5 * sample.slope / (root * (1.0 + root) ** 2)
        return np.asarray(np.where(error == 0.0, 0.0, error / slope))


def circle_overlap(distance: Floats) -> Sample:
    """Overlap of two equal circles, as a share of one, and its slope.

    Parameters
    ----------
    distance : of their centres over their diameter, 0 (one on the other) to 1 (apart).

    Equation: (2 gamma - sin 2 gamma)/pi, cos gamma = distance. Source: geometry.
    """
    inside = np.clip(distance, 0.0, 1.0)
    gamma = np.arccos(inside)
    overlap = (2.0 * gamma - np.sin(2.0 * gamma)) / pi
    return Sample(overlap, -4.0 / pi * np.sqrt((1.0 - inside) * (1.0 + inside)))


def ball_area(opening: Floats) -> Sample:
    """Open share of a round port through a ball that turns by 90 degrees, and its slope.

    Equation: the overlap of two circles at a distance of sin(m/2)/sin(81°/2), m = 90° (1 - opening)
    the angle from open: nothing passes within 9° of shut. The printed areas of a cock lie above
    it, by 0.03 at most.

    Source: the shape is geometry, the 81° fitted to the losses printed in weisbach.
    """
    half = pi / 4.0 * (1.0 - opening)
    area = circle_overlap(np.sin(half) / _BALL_CHORD)
    return Sample(area.value, area.slope * np.cos(half) / _BALL_CHORD * (-pi / 4.0))


def gate_area(opening: Floats) -> Sample:
    """Open share of a round pipe behind a round gate lifted by `opening` of its bore, and slope.

    Equation: the full circle less its overlap with the gate.
    Source: weisbach, whose printed areas it gives to all their digits.
    """
    covered = circle_overlap(opening)
    return Sample(1.0 - covered.value, -covered.slope)


def disc_area(opening: Floats) -> Sample:
    """Open share beside a disc that turns by 90 degrees, 1 - sin(angle from open), and its slope.

    Source: weisbach, whose printed areas are these.
    """
    angle = pi / 2.0 * (1.0 - opening)
    return Sample(1.0 - np.sin(angle), pi / 2.0 * np.cos(angle))


def squeezed_area(opening: Floats) -> Sample:
    """Open share of a round tube squeezed to a gap of `opening` diameters, and its slope.

    Equation: 1 - (1 - opening)², a slot with half-round ends and the tube's circumference.
    Source: geometry.
    """
    return Sample(opening * (2.0 - opening), 2.0 * (1.0 - opening))


def jet_loss(area: Floats) -> Sample:
    """Excess of a port of open share `area` whose jet contracts and then fills it again.

    Equation: e = 2 [1/(C a) - 1]², C = 0.70 + 0.30 a³.
    Source: the sudden enlargement of the jet, borda-carnot; its constants fitted to the cock of
    weisbach, see `balance.parts.valves.valve`.
    """
    jet = area * (0.70 + 0.30 * area**3)
    over = 1.0 / jet - 1.0
    return Sample(2.0 * over**2, -4.0 * over * (0.70 + 1.20 * area**3) / jet**2)


def edge_loss(*, first: float, second: float) -> Callable[[Floats], Sample]:
    """Make the law e = first x + second x², x = 1/area - 1, the covered over the open area.

    Source: the two numbers are fitted to print, see `balance.parts.valves.valve`.
    """

    def loss(area: Floats) -> Sample:
        covered = 1.0 / area - 1.0
        slope = -(first + 2.0 * second * covered) / area**2
        return Sample(covered * (first + second * covered), slope)

    return loss


@dataclass(frozen=True, eq=False)
class AreaShape(Shape):
    """A closed form: the open area against opening, and the loss against area."""

    area: Callable[[Floats], Sample]
    loss: Callable[[Floats], Sample]

    def excess(self, opening: Floats) -> Sample:
        """See `Shape.excess`."""
        area = self.area(opening)
        shut = area.value < LEAST_AREA
        loss = self.loss(np.where(shut, 1.0, area.value))
        return Sample(
            np.where(shut, np.inf, loss.value), np.where(shut, 0.0, loss.slope * area.slope)
        )


@dataclass(frozen=True, eq=False)
class TableShape(Shape):
    """Points of print or measurement: conductance 1/√K as a monotone cubic against opening.

    `openings`, `conductances`, `slopes` : (P,), from (0, 0) on. Where the points end before full
    travel, conductance goes on along a straight line.
    """

    openings: Floats
    conductances: Floats
    slopes: Floats

    @staticmethod
    def through(openings: Floats, conductances: Floats) -> TableShape:
        """Make the shape through points with openings and conductances rising from above zero."""
        x, y = np.concatenate(([0.0], openings)), np.concatenate(([0.0], conductances))
        slopes = monotone.slopes(x, y)
        # Not flatter than half the last piece, lest an open valve answer no more to its handle.
        slopes[-1] = max(slopes[-1], 0.5 * (y[-1] - y[-2]) / (x[-1] - x[-2]))
        return TableShape(x, y, slopes)

    @cached_property
    def open_loss(self) -> float:
        """K at full travel."""
        return float(self._conductance(np.ones(1)).value[0] ** -2)

    def excess(self, opening: Floats) -> Sample:
        """See `Shape.excess`."""
        conductance = self._conductance(opening)
        shut = opening <= LEAST_AREA
        safe = np.where(shut, 1.0, conductance.value)
        return Sample(
            np.where(shut, np.inf, np.maximum(safe**-2 - self.open_loss, 0.0)),
            np.where(shut, 0.0, -2.0 * conductance.slope * safe**-3),
        )

    def _conductance(self, opening: Floats) -> Sample:
        return monotone.evaluate(self.openings, self.conductances, self.slopes, opening)
