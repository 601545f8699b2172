"""Density, viscosity, vapour pressure and specific heat of water, and the air's pressure on it."""

from __future__ import annotations

import math
from dataclasses import dataclass

from balance.errors import BalanceError
from balance.units import ABSOLUTE_SALINITY

ATMOSPHERE = 101325.0
"""Pressure of the air at sea level [Pa]; by definition."""


@dataclass(frozen=True)
class Water:
    """Water of one temperature and salinity.

    Attributes
    ----------
    temperature : [degC]
    salinity : [g/kg]
    density : [kg/m³]
    kinematic_viscosity : [m²/s]
    vapour_pressure : [Pa]
    specific_heat : [J/(kg K)]
    """

    temperature: float
    salinity: float
    density: float
    kinematic_viscosity: float
    vapour_pressure: float
    specific_heat: float


def water(*, temperature: float, salinity: float) -> Water:
    """Properties of water at 0 to 45 degC and 0 to 50 g/kg, else BalanceError."""
    if not (0.0 <= temperature <= 45.0 and 0.0 <= salinity <= 50.0):
        raise BalanceError(
            f"water of {temperature:g} degC and {salinity:g} g/kg is outside what the formulae "
            "cover: 0 to 45 degC, 0 to 50 g/kg"
        )
    rho = density(temperature, salinity=salinity)
    return Water(
        temperature,
        salinity,
        rho,
        viscosity(temperature, salinity=salinity) / rho,
        vapour_pressure(temperature, salinity=salinity),
        specific_heat(temperature, salinity=salinity),
    )


def density(temperature: float, *, salinity: float) -> float:
    """Density [kg/m³] at one atmosphere, from degC and g/kg.

    Made for -2 to 40 degC and 0 to 42 practical units (42.2 g/kg). Beyond, up to 45 degC and
    50 g/kg, it still lies within 1e-4 of the later equation of state TEOS-10, which is as much as
    0.14 g/kg of salt make.

    Source: unesco-1983 (EOS-80), with temperature on IPTS-68 and practical salinity from g/kg by
    the ratio of standard seawater.
    """
    t = temperature * 1.00024
    s = salinity / ABSOLUTE_SALINITY
    fresh = 999.842594 + t * (
        6.793952e-2 + t * (-9.09529e-3 + t * (1.001685e-4 + t * (-1.120083e-6 + t * 6.536332e-9)))
    )
    a = 0.824493 + t * (-4.0899e-3 + t * (7.6438e-5 + t * (-8.2467e-7 + t * 5.3875e-9)))
    b = -5.72466e-3 + t * (1.0227e-4 - t * 1.6546e-6)
    return fresh + a * s + b * s * math.sqrt(s) + 4.8314e-4 * s**2


def viscosity(temperature: float, *, salinity: float) -> float:
    """Dynamic viscosity [Pa s] at one atmosphere, from degC and g/kg.

    Stated within 1.5 % for 0 to 180 degC and 0 to 150 g/kg.

    Source: sharqawy-2010, equations 22 and 23.
    """
    t, s = temperature, salinity / 1000.0
    fresh = 4.2844e-5 + 1.0 / (0.157 * (t + 64.993) ** 2 - 91.296)
    a = 1.541 + 1.998e-2 * t - 9.52e-5 * t**2
    b = 7.974 - 7.561e-2 * t + 4.724e-4 * t**2
    return fresh * (1.0 + a * s + b * s**2)


def vapour_pressure(temperature: float, *, salinity: float) -> float:
    """Vapour pressure [Pa], from degC and g/kg.

    Fresh water by the Magnus form, stated within 0.4 % for -40 to 50 degC; salt lowers it by
    0.000537 a practical unit.

    Source: alduchov-1996, coefficients over water; witting-1908 (salt).
    """
    fresh = 610.94 * math.exp(17.625 * temperature / (temperature + 243.04))
    return fresh * (1.0 - 0.000537 * salinity / ABSOLUTE_SALINITY)


def specific_heat(temperature: float, *, salinity: float) -> float:
    """Specific heat [J/(kg K)] at one atmosphere, from degC and g/kg.

    Made for 0 to 35 degC and 0 to 40 practical units. Within 0.12 % of the later equation of state
    TEOS-10 up to 40 degC and 42 g/kg, and within 0.17 % up to 45 degC and 50 g/kg.

    Source: unesco-1983, equation 26, with temperature on IPTS-68 and practical salinity from g/kg
    by the ratio of standard seawater.
    """
    t = temperature * 1.00024
    s = salinity / ABSOLUTE_SALINITY
    fresh = 4217.4 + t * (-3.720283 + t * (0.1412855 + t * (-2.654387e-3 + t * 2.093236e-5)))
    a = -7.64357 + t * (0.1072763 - t * 1.38385e-3)
    b = 0.1770383 + t * (-4.07718e-3 + t * 5.148e-5)
    return fresh + a * s + b * s * math.sqrt(s)


def atmosphere(*, altitude: float) -> float:
    """Mean pressure of the air [Pa] at an altitude above the sea [m].

    Made for -5 to 11 km. Weather moves it by 3 %.

    Source: iso-2533, its troposphere; from memory.
    """
    return float(ATMOSPHERE * (1.0 - 2.25577e-5 * altitude) ** 5.25588)
