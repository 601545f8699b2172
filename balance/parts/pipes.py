"""Pipes and hoses: their bores by trade size, and the friction of water in them.

The default bore of PVC pipe is the average one. Standards fix the outside and the *least* wall;
real walls lie above it, so the bore that follows from the least wall is too wide, by 8 to 17 % of
head loss in 1 in pipe and below.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from typing import NamedTuple

import numpy as np
from fluids.piping import schedule_lookup
from numpy.typing import ArrayLike, NDArray

from balance.errors import BalanceError, QuantityError
from balance.parts.tables import rows, unknown
from balance.units import parse

Floats = NDArray[np.float64]

INCH = 0.0254
LAMINAR_END = 2000.0
TURBULENT_START = 4000.0
ROUGHEST = 0.05  # beyond, the bridge between laminar and turbulent would no longer be monotone

# Walls of ASTM D1785 pipe may be up to 12 % (and 0.020 in at least) above the printed least wall;
# half of that is the mean, and meets makers' average bores within 0.3 %.
_MEAN_WALL = 1.06
_LOG_SCALE = 2.0 / math.log(10.0)
_BLOCK = 4096  # numbers worked on at once: 32 KiB an array
_SCHEDULES = ("40", "80")
_FINEST = 64  # trade sizes are fractions of an inch no finer than this


@dataclass(frozen=True)
class PipeSize:
    """A size of pipe or hose: name as the trade writes it, lengths in m.

    `outside` and `wall` are None where only the bore is known. `roughness` is the height of the
    sand grains that would give the same friction.
    """

    name: str
    bore: float
    outside: float | None
    wall: float | None
    roughness: float
    source: str


class FrictionTerm(NamedTuple):
    """y = f_D Re² and its slope dy/dRe, arrays of one shape, dimensionless."""

    y: Floats
    slope: Floats


@dataclass(frozen=True)
class FrictionLaw:
    """What of pipe friction depends on relative roughness alone; arrays of its shape.

    `k` is e/(3.7 D), `haaland` is k to the power 1.11; `bridge_quadratic` and `bridge_cubic` are
    the coefficients of the bridge between Re 2000 and 4000, in t = (Re - 2000)/2000.
    """

    k: Floats
    haaland: Floats
    bridge_quadratic: Floats
    bridge_cubic: Floats


def friction_law(relative_roughness: ArrayLike) -> FrictionLaw:
    """Prepare the friction law of pipes of the given relative roughness, once for all flows.

    Parameters
    ----------
    relative_roughness : array of any shape, e/D [-], 0 to 0.05. To serve (pieces, scenarios)
        flows give it as (pieces, 1).

    Raises BalanceError outside 0 to 0.05.
    """
    relative = np.atleast_1d(np.asarray(relative_roughness, dtype=np.float64))
    if not np.all((relative >= 0.0) & (relative <= ROUGHEST)):
        raise BalanceError(
            f"the roughness of a pipe must lie between 0 and {ROUGHEST} of its bore; found "
            f"{np.min(relative):g} to {np.max(relative):g}; give a smaller roughness, or a fixed "
            "friction factor"
        )
    k = relative / 3.7
    haaland = k**1.11
    y, slope = np.empty(k.shape), np.empty(k.shape)
    _colebrook(np.full(k.shape, TURBULENT_START), k, haaland, y=y, slope=slope)
    span = TURBULENT_START - LAMINAR_END
    start_rise = 64.0 * span
    rise = y - 64.0 * LAMINAR_END
    end_rise = slope * span
    return FrictionLaw(
        k=k,
        haaland=haaland,
        bridge_quadratic=3.0 * rise - 2.0 * start_rise - end_rise,
        bridge_cubic=start_rise + end_rise - 2.0 * rise,
    )


def friction(reynolds: Floats, law: FrictionLaw) -> FrictionTerm:
    """Return y = f_D Re² of straight round pipe and its slope dy/dRe.

    The head lost in m is (L/D) (nu/D)²/(2g) y: of the Darcy-Weisbach equation, free of the
    division by zero that f_D has at rest.

    Parameters
    ----------
    reynolds : array of one axis or more, Re = |V| D/nu [-], >= 0.
    law : from `friction_law`; its arrays broadcast against `reynolds`.

    Returns
    -------
    FrictionTerm of `reynolds`' shape.

    Equations: up to Re 2000 laminar, f_D = 64/Re; from Re 4000 turbulent, Colebrook's
    1/sqrt(f_D) = -2 log10(e/(3.7 D) + 2.51/(Re sqrt(f_D))), to 1e-9 or better; between them one
    cubic in y that meets both in value and slope and rises throughout: the state there is not
    settled in nature, the bridge only keeps it single-valued and smooth.

    Source: colebrook-1939, equation of the transition curve; haaland-1983 (the first guess).
    """
    y, slope = np.empty(reynolds.shape), np.empty(reynolds.shape)
    parameters = [
        np.broadcast_to(array, reynolds.shape)
        for array in (law.k, law.haaland, law.bridge_quadratic, law.bridge_cubic)
    ]
    # Row by row in blocks that stay in the processor's cache: half the time on large arrays.
    rows_at_once = max(1, _BLOCK * len(reynolds) // max(1, reynolds.size))
    for first in range(0, len(reynolds), rows_at_once):
        block = slice(first, first + rows_at_once)
        re, k, haaland, c2, c3 = (array[block] for array in (reynolds, *parameters))
        bent = re < TURBULENT_START
        if not bent.any():
            _colebrook(re, k, haaland, y=y[block], slope=slope[block])
            continue
        fast = np.maximum(re, TURBULENT_START)
        _colebrook(fast, k, haaland, y=y[block], slope=slope[block])
        low = re[bent]
        bridge = _bridge(low, c2[bent], c3[bent])
        y[block][bent] = bridge.y
        slope[block][bent] = bridge.slope
    return FrictionTerm(y, slope)


def _bridge(reynolds: Floats, quadratic: Floats, cubic: Floats) -> FrictionTerm:
    """Laminar up to Re 2000, then the cubic that leads to Colebrook's curve at Re 4000."""
    span = TURBULENT_START - LAMINAR_END
    along = np.maximum(reynolds - LAMINAR_END, 0.0) / span
    return FrictionTerm(
        y=64.0 * reynolds + along**2 * (quadratic + along * cubic),
        slope=64.0 + along * (2.0 * quadratic + along * (3.0 * cubic)) / span,
    )


def _colebrook(reynolds: Floats, k: Floats, haaland: Floats, *, y: Floats, slope: Floats) -> None:
    """Solve Colebrook's equation for y and slope, which are written in place.

    In X = ln(10)/(2 sqrt(f_D)) it reads F(X) = X + ln A = 0 with A = k + s X, s = c/Re. From
    Haaland's guess one third-order step (the series of F(X + d) = 0 in d up to d³) leaves 4e-10
    of f_D, for two logarithms. Worked in place: this is the hottest loop of a solve, where
    fresh memory costs as much as the arithmetic.
    """
    s = 1.0 / reynolds
    x = np.multiply(s, 6.9, out=slope)
    x += haaland
    np.log(x, out=x)
    x *= -0.9
    s *= 2.51 * _LOG_SCALE
    a = s * x
    a += k
    step = np.log(a, out=y)
    step += x
    r = np.divide(s, a, out=s)
    m = np.add(r, 1.0, out=a)
    step /= m  # Newton's own step; what follows multiplies it by 1 - rho q (1/2 - q (rho/2 - 1/3))
    rho = np.divide(r, m, out=a)
    q = r * step
    series = rho * 0.5
    series -= 1.0 / 3.0
    series *= q
    np.subtract(0.5, series, out=series)
    series *= rho
    series *= q
    np.subtract(1.0, series, out=series)
    step *= series
    x -= step
    # y = (Re/x)²; dy/dRe = 2 Re/x²/(1 + sigma), with sigma = s/A at the bettered X.
    q = np.multiply(r, step, out=q)
    np.subtract(1.0, q, out=q)
    r /= q
    r += 1.0
    root = np.divide(reynolds, x, out=q)
    r *= x
    np.divide(root, r, out=slope)
    slope *= 2.0 / _LOG_SCALE**2
    np.multiply(root, root, out=y)
    y *= 1.0 / _LOG_SCALE**2


def pipe(text: str) -> PipeSize:
    """Return the size of pipe that `text` names.

    Forms: ``"1 1/4 in sch 40"`` and ``"... sch 80"`` (PVC of ASTM D1785), ``"32 mm PN10"`` and
    ``"... PN16"`` (PVC-U, outside diameter and wall of DIN 8062), ``"80 mm bore"`` (any pipe, by
    its inside diameter). PVC to a schedule has its makers' average bore; sizes that they do not
    print have the outside less 2 x 1.06 of the printed least wall. Metric pipe has its printed
    wall, the only one published.

    Raises UnknownNameError with the nearest sizes; QuantityError where the size is no length.
    """
    words = " ".join(text.split())
    if match := re.fullmatch(r"(.+?)\s*bore", words, re.IGNORECASE):
        return _by_bore(match[1], name=f"{match[1]} bore", material="plastic")
    if match := re.fullmatch(r"(.+?)\s*sch(?:ed(?:ule)?)?\.?\s*(\w+)", words, re.IGNORECASE):
        name = f"{_inches(parse(match[1], 'length'))} in sch {match[2]}"
    elif match := re.fullmatch(r"(.+?)\s*(pn)\s*(\w+)", words, re.IGNORECASE):
        name = f"{parse(match[1], 'length') * 1000.0:g} mm PN{match[3]}"
    else:
        name = words
    return _named(name, _pipes())


def larger(size: PipeSize) -> PipeSize | None:
    """Return the next larger pipe of the same schedule or pressure class; None if none is made."""
    match = re.search(r" (sch \w+|PN\d+)$", size.name)
    if match is None:
        return None
    wider = [
        other
        for name, other in _pipes().items()
        if name.endswith(match[0]) and other.bore > size.bore
    ]
    return min(wider, key=lambda other: other.bore, default=None)


def hose(text: str) -> PipeSize:
    """Return the hose of the inside diameter that `text` gives, such as "1/2 in" or "12 mm".

    Hose is sold by its bore. Raises QuantityError where `text` is no length.
    """
    words = " ".join(text.split())
    return _by_bore(words, name=words, material="plastic")


def nominal_bore(text: str) -> float:
    """Return the bore [m] of a fitting or valve of the size that `text` names.

    ``"1 in"`` is that of schedule 40 pipe, ``"32 mm"`` that of PN10 pipe (PN16 where no PN10 is
    made): fittings are moulded to pass what the pipe passes. Any form that `pipe` reads is taken
    as well. Raises UnknownNameError with the nearest sizes; QuantityError where it is no size.
    """
    words = " ".join(text.split())
    try:
        size = parse(words, "length")
    except QuantityError:
        return pipe(words).bore
    known = _pipes()
    inches, metric = f"{_inches(size)} in", f"{size * 1000.0:g} mm"
    for name in (f"{inches} sch 40", f"{metric} PN10", f"{metric} PN16"):
        if name in known:
            return known[name].bore
    sizes = dict.fromkeys(re.sub(r" (sch \d+|PN\d+)$", "", name) for name in known)
    raise unknown("size", words, sizes)


@cache
def roughness(material: str) -> float:
    """Return the sand roughness [m] of a material of the table, such as "pvc"."""
    table = {row["material"]: float(row["roughness_mm"]) / 1000.0 for row in rows("roughness")}
    return table[material]


@cache
def _pipes() -> dict[str, PipeSize]:
    """Return every named size of pipe, name -> size."""
    averages = {f"{row['nominal']} sch {row['schedule']}": row for row in rows("pvc_average_bores")}
    sizes: dict[str, PipeSize] = {}
    for schedule in _SCHEDULES:
        nominals, _, outsides, walls = schedule_lookup[f"{schedule}D1785"]
        for nominal, outside_mm, wall_mm in zip(nominals, outsides, walls, strict=True):
            name = f"{_inches(nominal * INCH)} in sch {schedule}"
            outside, wall = outside_mm / 1000.0, wall_mm / 1000.0
            bore = outside - 2.0 * _MEAN_WALL * wall
            source = "astm-d1785, outside and least wall; bore from 1.06 of the least wall"
            if name in averages:
                bore = float(averages[name]["bore_in"]) * INCH
                source = averages[name]["source"]
            sizes[name] = PipeSize(name, bore, outside, wall, roughness("pvc"), source)
    for row in rows("metric_pipes"):
        name = f"{row['outside_mm']} mm {row['class']}"
        outside = float(row["outside_mm"]) / 1000.0
        wall = float(row["wall_mm"]) / 1000.0
        bore = outside - 2.0 * wall
        sizes[name] = PipeSize(name, bore, outside, wall, roughness("pvc"), row["source"])
    return sizes


def _by_bore(text: str, *, name: str, material: str) -> PipeSize:
    bore = parse(text, "length")
    if bore <= 0.0:
        raise QuantityError(text, "a bore must be above zero", 'write for example "80 mm"')
    return PipeSize(name, bore, None, None, roughness(material), "as given")


def _named(name: str, known: dict[str, PipeSize]) -> PipeSize:
    if name not in known:
        raise unknown("pipe", name, known)
    return known[name]


def _inches(length: float) -> str:
    """Write a length in inches the way sizes are named: 1 1/4."""
    inches = length / INCH
    size = Fraction(round(inches * _FINEST), _FINEST)
    if abs(inches - size) > 1e-6:
        return f"{inches:g}"
    whole, part = divmod(size, 1)
    if part == 0:
        return str(whole)
    return f"{whole} {part}" if whole else str(part)
