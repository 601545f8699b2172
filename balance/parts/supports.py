"""How far apart clamps may stand on a level pipe, and what the pipe weighs."""

from __future__ import annotations

from collections import defaultdict
from functools import cache
from math import pi
from typing import NamedTuple

import numpy as np

from balance.parts.pipes import PipeSize
from balance.parts.tables import rows
from balance.units import parse


class Spacing(NamedTuple):
    """The greatest distance between two clamps.

    Attributes
    ----------
    length : from the middle of one to the middle of the next [m]
    source : where it comes from
    """

    length: float
    source: str


def support_spacing(pipe: PipeSize, *, temperature: float) -> Spacing | None:
    """Return the greatest distance between clamps on a level pipe full of water.

    Valves and other heavy parts are held on their own, and are no load here.

    Parameters
    ----------
    pipe : a named size
    temperature : of the water [degC]; between two of the table the distance is taken as straight,
        below the first it is the first

    Returns
    -------
    None above the last temperature of the table, and where nothing is known of the pipe.

    Source: each row of the table names its own.
    """
    known = _spacings().get((pipe.series, pipe.trade_size))
    if known is None:
        return None
    temperatures, lengths, source = known
    length = float(np.interp(temperature, temperatures, lengths, right=np.nan))
    return None if np.isnan(length) else Spacing(length, source)


def weight_empty(pipe: PipeSize) -> float | None:
    """Return what a length of pipe weighs, empty [kg/m].

    Returns
    -------
    None where its wall or what it is made of is not known.

    Equation: density pi/4 (mean outside^2 - bore^2).

    Source: geometry; densities: each row of the table names its own.
    """
    density = _densities().get(pipe.material)
    if density is None or pipe.mean_outside is None:
        return None
    return density * pi / 4.0 * (pipe.mean_outside**2 - pipe.bore**2)


def weight_filled(pipe: PipeSize, *, density: float) -> float | None:
    """Return what a length of pipe weighs, full of water of a density [kg/m³], as [kg/m].

    Returns
    -------
    None where `weight_empty` knows none.

    Equation: the empty weight and density pi/4 bore^2.

    Source: geometry.
    """
    empty = weight_empty(pipe)
    return None if empty is None else empty + density * pi / 4.0 * pipe.bore**2


@cache
def _spacings() -> dict[tuple[str, str], tuple[tuple[float, ...], tuple[float, ...], str]]:
    """Return series and size -> temperatures [degC], the distances [m] at them, and sources."""
    found = defaultdict(list)
    for row in rows("supports"):
        for series in row["series"].split("; "):
            found[series, row["size"]].append(row)
    return {
        pipe: (
            tuple(parse(row["temperature"], "temperature") for row in at),
            tuple(parse(row["spacing"], "length") for row in at),
            "; ".join(dict.fromkeys(row["source"] for row in at)),
        )
        for pipe, at in found.items()
    }


@cache
def _densities() -> dict[str, float]:
    """Return material -> density [kg/m³]."""
    return {row["material"]: parse(row["density"], "density") for row in rows("densities")}
