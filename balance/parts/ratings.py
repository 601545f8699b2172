"""What gauge pressure pipes and hoses stand in water of a temperature."""

from __future__ import annotations

from functools import cache

import numpy as np

from balance.parts.pipes import PipeSize
from balance.parts.tables import rows
from balance.units import parse


def stands(size: PipeSize, *, temperature: float) -> float | None:
    """Return the gauge pressure that a pipe or hose with plain ends stands for good.

    Parameters
    ----------
    size : a pipe or hose
    temperature : of the water [degC]

    Returns
    -------
    [Pa]; zero where it is not made for pressure, None where nothing is known of it.

    Equation: its pressure in cool water times the factor of its material at that temperature.

    Source: each row of the table names its own.
    """
    if not size.rating:
        return size.rating
    return size.rating * temperature_factor(size.material, temperature=temperature)


def temperature_factor(material: str, *, temperature: float) -> float:
    """Return the share of its pressure in cool water that a material keeps [-].

    Parameters
    ----------
    material : as in `PipeSize`
    temperature : of the water [degC]; between two of the table the share is taken as straight,
        below the first it is one, above the last zero: nothing is promised there

    Source: each row of the table names its own.
    """
    temperatures, factors = _factors(material)
    return float(np.interp(temperature, temperatures, factors, right=0.0))


@cache
def _factors(material: str) -> tuple[tuple[float, ...], tuple[float, ...]]:
    found = [row for row in rows("derating") if row["material"] == material]
    temperatures = tuple(parse(row["temperature"], "temperature") for row in found)
    return temperatures, tuple(float(row["factor"]) for row in found)
