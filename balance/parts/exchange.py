"""How much old water is left when part of it is changed, and what salt the new water takes.

The water is taken as perfectly mixed: what leaves is what is everywhere.  Where none comes in while
old water leaves, nothing depends on that.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from balance.water import density

Floats = NDArray[np.float64]


def left_draining_first(volume: ArrayLike, *, system: float) -> Floats:
    """Old water left after a change that takes water out before new comes in [ratio].

    Parameters
    ----------
    volume : changed, from none to all of the system's [m³]
    system : water in the system while it runs [m³]

    Equation: (V - v) / V; after n changes its n-th power.

    Source: kraul-1985 (discrete replacement).
    """
    return 1.0 - np.asarray(volume, dtype=float) / system


def left_filling_first(volume: ArrayLike, *, system: float) -> Floats:
    """Old water left after a change that brings new water in before as much is let out [ratio].

    Parameters
    ----------
    volume : changed [m³]
    system : water in the system while it runs [m³]

    Equation: V / (V + v); after n changes its n-th power.

    Source: by definition of what is mixed: v of new in V of old, then v of both let out.
    """
    return system / (system + np.asarray(volume, dtype=float))


def left_exchanging(volume: ArrayLike, *, system: float) -> Floats:
    """Old water left while new comes in and as much of all goes out at once [ratio].

    Parameters
    ----------
    volume : exchanged [m³]
    system : water in the system, which stays [m³]

    Equation: exp(-v / V), however fast.

    Source: kraul-1985, equation 1; boyce-diprima, example 2.3.1.
    """
    return np.asarray(np.exp(-np.asarray(volume, dtype=float) / system))


def exchange_to_leave(share: ArrayLike, *, system: float) -> Floats:
    """Water to exchange at once until a share of old water is left [m³].

    Parameters
    ----------
    share : of old water, above zero [ratio]
    system : water in the system, which stays [m³]

    Equation: v = -V ln(share).

    Source: kraul-1985, equation 2 with v for flow by time.
    """
    return np.asarray(-system * np.log(np.asarray(share, dtype=float)))


def changes_to_leave(share: ArrayLike, *, left: float) -> Floats:
    """Equal changes, in whole ones, until at most a share of old water is left.

    Parameters
    ----------
    share : of old water, above zero [ratio]
    left : after one change, between zero and one [ratio]

    Equation: the least n with left^n <= share.

    Source: by definition of a power.
    """
    exact = np.log(np.asarray(share, dtype=float)) / np.log(left)
    return np.asarray(np.ceil(exact - 1e-9))  # a share that a power meets is met


class SaltWater(NamedTuple):
    """What makes some salt water: dry salt [kg], the fresh water it goes into [m³]."""

    salt: float
    fresh: float


def salt_water(volume: float, *, salinity: float, temperature: float) -> SaltWater:
    """Dry salt and fresh water for a volume of salt water.

    Parameters
    ----------
    volume : of the salt water [m³]
    salinity : of it, 0 to 50 [g/kg]
    temperature : of both waters [degC]

    Equation: a kilogram of salt water holds S grams of salt, and the rest is fresh water.

    Source: by definition of the salinity; densities by unesco-1983.
    """
    mass = volume * density(temperature, salinity=salinity)
    salt = mass * salinity / 1000.0
    return SaltWater(salt, (mass - salt) / density(temperature, salinity=0.0))


def mixed_salinity(old: float, new: float, *, left: float, temperature: float) -> float:
    """Salinity of a mixture of old and new water [g/kg].

    Parameters
    ----------
    old, new : salinities of both [g/kg]
    left : old water in it, of its volume [ratio]
    temperature : of both [degC]

    Equation: salt over mass, each the sum of both parts'.

    Source: by definition of the salinity; densities by unesco-1983.
    """
    parts = [
        (share * density(temperature, salinity=salinity), salinity)
        for share, salinity in ((left, old), (1.0 - left, new))
    ]
    return sum(mass * salinity for mass, salinity in parts) / sum(mass for mass, _ in parts)
