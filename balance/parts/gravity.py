"""Pipes that run by gravity: full, with air, or part full on a slope, and what tells them apart."""

from __future__ import annotations

from math import acos, pi, sin

import numpy as np
from numpy.typing import ArrayLike, NDArray

from balance.parts.pumps import GRAVITY

Floats = NDArray[np.float64]

SELF_VENTING = 0.3
"""Froude number V/√(gD) up to which a drain swallows water without gulping air: hills-1983."""

FULL_FROM = 1.0
"""Froude number from which a covered drain runs full: hills-1983, wallis-1977."""

SURELY_FULL = 2.0
"""Froude number from which it surely does: hills-1983, from memory."""

HOLDS = 1.0
"""Froude number down to which a primed siphon is counted on to hold: from there on it runs full
and carries away what air comes in, hills-1983. Below it some hold and some do not: the critical
number that sweeps air out of small pipes grows with their slope, may-2018."""

HALF_FULL = 0.5
"""Depth over bore of a sloping leg that keeps air above its water: en-12056-2, from memory."""

MANNING = 0.011
"""Manning's n of plastic pipe [s/m^(1/3)]: handbooks have 0.009 to 0.011, and what is counted on
takes the rougher; common practice, no source."""


def froude(flow: ArrayLike, *, bore: ArrayLike) -> Floats:
    """Froude number V / √(g D) of a flow that fills a pipe; flow in m³/s, bore in m."""
    across = np.asarray(bore, dtype=np.float64)
    return np.asarray(np.asarray(flow) / (pi / 4 * across**2) / np.sqrt(GRAVITY * across))


def flow_at_froude(number: ArrayLike, *, bore: ArrayLike) -> Floats:
    """Flow at a Froude number [m³/s], the inverse of `froude`."""
    across = np.asarray(bore, dtype=np.float64)
    return np.asarray(np.asarray(number) * pi / 4 * across**2 * np.sqrt(GRAVITY * across))


def self_venting(bore: ArrayLike) -> Floats:
    """Most that a pipe swallows while air rises past the water, V = 0.3 √(g D) [m³/s].

    Source: hills-1983.
    """
    return flow_at_froude(SELF_VENTING, bore=bore)


def part_full(
    bore: ArrayLike, *, slope: ArrayLike, filling: float = HALF_FULL, roughness: float = MANNING
) -> Floats:
    """Flow of a pipe that runs part full down a slope.

    Q = A R^(2/3) S^(1/2) / n, with the area and the hydraulic radius of the part that is wet.

    Parameters
    ----------
    bore : [m]
    slope : fall per length [ratio]
    filling : depth over bore, 0 to 1
    roughness : Manning's n [s/m^(1/3)]

    Returns
    -------
    Floats
        [m³/s]

    Range: steady flow, turbulent, subcritical legs of some length. Source: manning-1891.
    """
    across = np.asarray(bore, dtype=np.float64)
    angle = 2.0 * acos(1.0 - 2.0 * filling)
    area = across**2 / 8 * (angle - sin(angle))
    radius = area / (across / 2 * angle)
    return np.asarray(area * radius ** (2.0 / 3.0) * np.sqrt(slope) / roughness)


def vortex_depth(flow: ArrayLike, *, bore: ArrayLike) -> Floats:
    """Depth of water over an intake at which no vortex draws air [m].

    S = D (1 + 2.3 Fr), Fr = V / √(g D) in the intake's mouth.

    Parameters
    ----------
    flow : into it [m³/s]
    bore : of its mouth, bell or strainer [m]

    Source: hi-9.8.
    """
    across = np.asarray(bore, dtype=np.float64)
    return np.asarray(across * (1.0 + 2.3 * froude(flow, bore=across)))
