"""Beds of grains: what water loses on its way through reactor media, still or lifted by it."""

from __future__ import annotations

from dataclasses import dataclass
from math import pi, sqrt
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from balance.errors import BalanceError
from balance.parts.devices import DeviceCurve
from balance.parts.monotone import Sample
from balance.parts.pumps import GRAVITY

Floats = NDArray[np.float64]

VOIDAGE = 0.40
"""Share of a bed that is water: of like grains poured at random; common practice, no source."""
SPHERICITY = 0.8
"""Of broken grains, such as carbon and sand; kunii-levenspiel-1991, table of sphericities, from
memory."""
CORNER = 8.0
"""How sharply a bed passes from still to lifted; common practice, no source."""
REACH = 8.0
"""Flow up to which the curve of a lifted bed has points, over that which lifts it."""
POINTS = 64


@dataclass(frozen=True)
class Bed:
    """A bed of grains in a round vessel, across which the water flows along its axis.

    Attributes
    ----------
    diameter, depth : m, of the bed
    grain : m, diameter of the grains (of a sphere of equal volume)
    voidage : share of the bed that is water, between 0 and 1
    sphericity : surface of a sphere of a grain's volume over the grain's own; 1 for a sphere
    """

    diameter: float
    depth: float
    grain: float
    voidage: float = VOIDAGE
    sphericity: float = SPHERICITY

    @property
    def area(self) -> float:
        """Area across the flow, grains included [m²]."""
        return pi / 4.0 * self.diameter**2


class BedLoss(NamedTuple):
    """Head lost = linear · q + quadratic · |q| q [m/(m³/s), m/(m³/s)²]."""

    linear: float
    quadratic: float


def still(bed: Bed, *, viscosity: float) -> BedLoss:
    """Return the coefficients of the loss through a bed whose grains lie still.

    Parameters
    ----------
    viscosity : kinematic, of the water, m²/s.

    Equation, with U = q/area, e the voidage and D the grain's diameter times its sphericity:
    h/depth = 150 (1-e)²/e³ nu U/(g D²) + 1.75 (1-e)/e³ U²/(g D). Measured for Reynolds numbers
    U D/(nu (1-e)) of 1 to some 2000. Known to about 25 %, for the voidage of a bed that was
    poured is not known better.

    Source: ergun-1952.
    Raises BalanceError for a bed that cannot be.
    """
    _refuse(bed)
    e, grain = bed.voidage, bed.grain * bed.sphericity
    per_depth = bed.depth / (GRAVITY * e**3)
    linear = 150.0 * (1.0 - e) ** 2 * viscosity / grain**2 * per_depth
    quadratic = 1.75 * (1.0 - e) / grain * per_depth
    return BedLoss(linear / bed.area, quadratic / bed.area**2)


def head_lost(flow: Floats, *, loss: BedLoss) -> Sample:
    """Return the head lost through a bed that lies still, and its slope.

    Parameters
    ----------
    flow : array, m³/s, of either sign; the law is odd in it.

    Returns
    -------
    Sample of head [m] and slope [m/(m³/s)].

    Source: ergun-1952.
    """
    quadratic = loss.quadratic * np.abs(flow)
    return Sample((loss.linear + quadratic) * flow, loss.linear + 2.0 * quadratic)


def floating_head(bed: Bed, *, grain_density: float, density: float) -> float:
    """Return the head [m] that carries the whole bed: the weight of its grains in the water.

    Parameters
    ----------
    grain_density, density : of a grain as it lies in the water, its pores full, and of the
        water, kg/m³.

    Equation: (1-e) (grain density/density - 1) depth.

    Source: geometry.
    Raises BalanceError for grains that float by themselves.
    """
    _refuse(bed)
    if not grain_density > density > 0.0:
        raise BalanceError(
            f"grains of {grain_density:g} kg/m3 float in water of {density:g} kg/m3: give the "
            "density of a wet grain, its pores full of water"
        )
    return (1.0 - bed.voidage) * (grain_density / density - 1.0) * bed.depth


def lifting_flow(bed: Bed, *, viscosity: float, grain_density: float, density: float) -> float:
    """Return the flow [m³/s] from below at which the bed is carried and begins to tumble.

    Parameters
    ----------
    viscosity : kinematic, m²/s.
    grain_density, density : as of `floating_head`.

    It is where the loss through the still bed has grown to the weight of its grains.

    Source: ergun-1952; kunii-levenspiel-1991, minimum fluidising velocity, from memory.
    """
    linear, quadratic = still(bed, viscosity=viscosity)
    head = floating_head(bed, grain_density=grain_density, density=density)
    # The root of quadratic q² + linear q = head, in the form that loses no digits.
    return 2.0 * head / (linear + sqrt(linear**2 + 4.0 * quadratic * head))


def lifted(bed: Bed, *, viscosity: float, grain_density: float, density: float) -> DeviceCurve:
    """Return the curve of a bed that lies free and is fed from below.

    Parameters
    ----------
    viscosity : kinematic, m²/s.
    grain_density, density : as of `floating_head`.

    Returns
    -------
    DeviceCurve. Up to the lifting flow h is that of the still bed, h_still; beyond, a bed that
    tumbles takes no more than the weight of its grains, h_float. The two are joined smoothly,
    h = h_still (1 + (h_still/h_float)^8)^(-1/8), 8 % below both where they meet: a bed of unlike
    grains does not lift all at once. The slope stays above zero. As every device's, the curve
    holds for water that runs backwards too; a bed pressed down by it takes more.

    Source: ergun-1952; kunii-levenspiel-1991, from memory; the joint is common practice, no
    source.
    """
    loss = still(bed, viscosity=viscosity)
    most = floating_head(bed, grain_density=grain_density, density=density)
    start = lifting_flow(bed, viscosity=viscosity, grain_density=grain_density, density=density)
    flow = start * np.concatenate(
        ([0.0], np.linspace(0.05, 2.0, POINTS), np.geomspace(2.0, REACH, POINTS // 4)[1:])
    )
    packed = head_lost(flow, loss=loss)
    joint = 1.0 + (packed.value / most) ** CORNER
    return DeviceCurve(
        flow,
        packed.value * joint ** (-1.0 / CORNER),
        packed.slope * joint ** (-1.0 / CORNER - 1.0),
    )


def _refuse(bed: Bed) -> None:
    lengths = (bed.diameter, bed.depth, bed.grain)
    if not (min(lengths) > 0.0 and 0.0 < bed.voidage < 1.0 and 0.0 < bed.sphericity <= 1.0):
        raise BalanceError(
            "a bed needs a diameter, a depth and a grain above zero, a voidage between 0 and 1 "
            "and a sphericity up to 1"
        )
