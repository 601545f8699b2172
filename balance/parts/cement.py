"""What joins plastic pipe: how far cement and thread tape go, and how long a joint wants.

All by nominal size, such as "1 in" or "32 mm". The tables are of inch sizes; a metric size, or one
that a table leaves out, stands for the size whose outside diameter is nearest.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache
from math import pi
from typing import NamedTuple

from balance.parts.pipes import series
from balance.parts.tables import rows
from balance.units import parse

PRIMER_SHARE = 0.5
"""Litres of primer that go with one of cement: plastics-manual, joints from a quart, "for primer
double the number"."""
DAMP = 1.5
"""How many times as long a joint cures in air of more than 60 % humidity: plastics-manual."""
WRAPS = 3
"""Turns of tape on a plastic thread; common practice, no source. Some makers ask for paste."""

_INCHES, _METRIC = "sch 40", ("PN10", "PN16")  # series that have every size between them
_DIGITS = 6  # of a diameter in metres: a micrometre
_LITRES = 1000.0  # in a m³


class Coverage(NamedTuple):
    """How far solvent cement goes.

    Attributes
    ----------
    per_litre : joints, of one socket each, from a litre
    source : of the row
    """

    per_litre: float
    source: str


class Cure(NamedTuple):
    """How long a cemented joint is left alone.

    Attributes
    ----------
    set : before it is moved [s]
    cure : before it is pressed, by up to 12 bar (7 bar above 8 in), in air of up to 60 %
        humidity [s]
    source : of the row
    """

    set: float
    cure: float
    source: str


class Tape(NamedTuple):
    """Thread tape for one joint.

    Attributes
    ----------
    wraps : turns about the thread
    length : of tape [m]
    source : of the wraps
    """

    wraps: int
    length: float
    source: str


def joints_per_volume(nominal: str) -> Coverage | None:
    """Return how many joints a litre of solvent cement makes.

    Parameters
    ----------
    nominal : size of the pipe, such as "1 in"; up to 12 in

    Returns
    -------
    None where no pipe of that size is made, or none is tabled as large.

    Raises QuantityError where the size is no length.

    Source: each row of the table names its own.
    """
    outside = _outside(nominal)
    known = _coverages()
    if outside is None or outside > max(known):
        return None
    return known[_nearest(outside, known)]


def cure_times(nominal: str, *, temperature: float) -> Cure | None:
    """Return how long a cemented joint is left alone before it is moved, and before it is pressed.

    Parameters
    ----------
    nominal : size of the pipe, such as "1 in"; up to 16 in
    temperature : of the air about the joint, from cementing it on [degC]; where two ranges of the
        table meet, the longer times hold

    Returns
    -------
    None outside the table, below 0 and above 100 degF, or where no pipe of that size is made.

    Raises QuantityError where the size is no length.

    Source: each row of the table names its own.
    """
    outside = _outside(nominal)
    if outside is None:
        return None
    size = _nearest(outside, _inch_outsides())
    fitting = [
        (up_to, -cure.cure, cure)
        for up_to, coolest, warmest, cure in _cures()
        if size <= up_to and coolest <= temperature <= warmest
    ]
    # Of the bands of sizes that reach so far, the narrowest; of ranges that meet, the longer times.
    return min(fitting)[-1] if fitting else None


def thread_tape(nominal: str) -> Tape | None:
    """Return the thread tape that one joint takes.

    Parameters
    ----------
    nominal : size of the thread, such as "3/4 in"

    Returns
    -------
    None where no pipe of that size is made.

    Raises QuantityError where the size is no length.

    Equation: wraps times the way round the outside of the pipe, into which the thread is cut.

    Source: geometry; wraps: common practice, no source.
    """
    outside = _outside(nominal)
    if outside is None:
        return None
    return Tape(WRAPS, WRAPS * pi * outside, "common practice, no source")


def _nearest(outside: float, known: Iterable[float]) -> float:
    """Return the nearest outside diameter; of two as near, the larger, which takes the more."""
    return min(known, key=lambda other: (round(abs(other - outside), _DIGITS), -other))


def _outside(nominal: str) -> float | None:
    """Return the outside diameter [m] of pipe of a nominal size; None where there is none."""
    return _outsides().get(_rounded(nominal))


def _rounded(nominal: str) -> float:
    return round(parse(nominal, "length"), _DIGITS)


@cache
def _outsides() -> dict[float, float]:
    """Return nominal size [m] -> outside diameter [m]."""
    return {
        _rounded(size.name.removesuffix(kind)): size.outside
        for kind in (_INCHES, *_METRIC)
        for size in series()[kind]
        if size.outside is not None
    }


@cache
def _inch_outsides() -> tuple[float, ...]:
    return tuple(size.outside for size in series()[_INCHES] if size.outside is not None)


@cache
def _coverages() -> dict[float, Coverage]:
    """Return outside diameter [m] -> what the table has for that size."""
    found = {}
    for row in rows("cement"):
        litres = parse(row["from"], "volume") * _LITRES
        outside = _outsides()[_rounded(row["size"])]
        found[outside] = Coverage(float(row["joints"]) / litres, row["source"])
    return found


@cache
def _cures() -> tuple[tuple[float, float, float, Cure], ...]:
    """Return the largest outside diameter [m], a range of temperatures [degC], and the times."""
    found = []
    for row in rows("cure"):
        coolest, warmest = (parse(row[end], "temperature") for end in ("coolest", "warmest"))
        cure = Cure(parse(row["set"], "time"), parse(row["cure"], "time"), row["source"])
        found.append((_outsides()[_rounded(row["up_to"])], coolest, warmest, cure))
    return tuple(found)
