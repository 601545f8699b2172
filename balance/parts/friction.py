"""Friction of water in straight round pipe: one law from rest to the roughest turbulence."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from balance.errors import BalanceError

Floats = NDArray[np.float64]

LAMINAR_END = 2000.0
"""Reynolds number up to which flow is laminar; crane-tp410, chapter 1, from memory."""
TURBULENT_START = 4000.0
"""Reynolds number from which it is surely turbulent; crane-tp410, chapter 1, from memory."""
ROUGHEST = 0.05  # beyond, the bridge between laminar and turbulent would no longer be monotone

_LOG_SCALE = 2.0 / math.log(10.0)
_BLOCK = 8192  # numbers worked on at once: 64 KiB an array


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
    if reynolds.ndim != 2 or len(law.k) != len(reynolds):
        law = FrictionLaw(
            *(
                np.broadcast_to(array, reynolds.shape)
                for array in (law.k, law.haaland, law.bridge_quadratic, law.bridge_cubic)
            )
        )
    # Row by row in blocks that stay in the processor's cache: half the time on large arrays.
    rows_at_once = max(1, _BLOCK * len(reynolds) // max(1, reynolds.size))
    for first in range(0, len(reynolds), rows_at_once):
        block = slice(first, first + rows_at_once)
        re, k, haaland = reynolds[block], law.k[block], law.haaland[block]
        bent = np.flatnonzero(re < TURBULENT_START)
        if len(bent) == 0:
            _colebrook(re, k, haaland, y=y[block], slope=slope[block])
            continue
        fast = np.maximum(re, TURBULENT_START)
        _colebrook(fast, k, haaland, y=y[block], slope=slope[block])
        piece = bent if law.k.shape == reynolds.shape else bent // re.shape[1]
        bridge = _bridge(
            re.take(bent),
            law.bridge_quadratic[block].take(piece),
            law.bridge_cubic[block].take(piece),
        )
        y[block].put(bent, bridge.y)
        slope[block].put(bent, bridge.slope)
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
