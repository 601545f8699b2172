"""Flow over edges: straight weirs, free and drowned, and the round lip of a standpipe."""

from __future__ import annotations

from math import pi
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]

STRAIGHT = 1.84
"""Of Q = C L h^1.5 [m^0.5/s]: francis-1883."""

LIP = 1.83
"""Of Q = C pi D h^1.5 [m^0.5/s], a discharge coefficient of 0.62; common practice, no source."""

LIP_UP_TO = 0.25
"""Share of its bore up to which a lip is a weir; above it water swirls, and air goes with it.

usbr-dams has weirs up to about 0.225 of the bore; the rounder figure is our own choice.
"""

DROWNING, DROWNED = 1.5, 0.385
"""Exponents of villemonte-1947: Q / Q free = (1 - (h2 / h1)^1.5)^0.385."""


EVEN = 0.02
"""Of 1 - (h2 / h1)^1.5, below which the factor goes straight to zero; our own choice.

There two surfaces differ by a hair, and the printed law would have flow answer to it with a slope
without end.
"""


class WeirFlow(NamedTuple):
    """Flow over an edge, and its slope against the head on it."""

    flow: Floats  # [m³/s]
    slope: Floats  # [m²/s]


def straight(head: ArrayLike, *, length: ArrayLike) -> WeirFlow:
    """Flow over a straight sharp edge into the open.

    Q = 1.84 L h^1.5, in still water before it, without contraction at its ends.

    Parameters
    ----------
    head : of the water over the edge [m]; none flows where it is not above it
    length : of the edge [m]

    Returns
    -------
    WeirFlow
        [m³/s], [m²/s]

    Source: francis-1883.
    """
    return _weir(STRAIGHT * np.asarray(length), head)


def lip(head: ArrayLike, *, bore: ArrayLike) -> WeirFlow:
    """Flow over the lip of an upright pipe, as over a weir all round it.

    Q = 1.83 pi D h^1.5, good up to a head of a quarter of the bore (`LIP_UP_TO`).

    Parameters
    ----------
    head : of the water over the lip [m]
    bore : of the lip [m]

    Returns
    -------
    WeirFlow
        [m³/s], [m²/s]

    Source: common practice, no source; usbr-dams has 1.99 to 2.26 for low heads on shaft spillways.
    """
    return _weir(LIP * pi * np.asarray(bore), head)


def drowned(upstream: ArrayLike, downstream: ArrayLike, *, length: ArrayLike) -> Floats:
    """Flow over a straight edge with water over it on both sides; negative if it runs back.

    Q = Q free (1 - (h2 / h1)^1.5)^0.385; straight to zero where the surfaces are as good as level.

    Parameters
    ----------
    upstream, downstream : heads over the edge, either may be the higher or below it [m]
    length : of the edge [m]

    Returns
    -------
    Floats
        [m³/s]

    Source: villemonte-1947.
    """
    here, there = np.broadcast_arrays(np.asarray(upstream, float), np.asarray(downstream, float))
    high = np.maximum(here, there).clip(min=0.0)
    low = np.minimum(here, there).clip(min=0.0)
    ratio = np.divide(low, high, out=np.zeros_like(high), where=high > 0.0)
    free = straight(high, length=length).flow
    left = 1.0 - ratio**DROWNING
    factor = np.maximum(left, EVEN) ** DROWNED * np.minimum(left / EVEN, 1.0)
    return np.asarray(np.sign(here - there) * free * factor)


def straight_head(flow: ArrayLike, *, length: ArrayLike) -> Floats:
    """Head over a straight edge at a flow [m], the inverse of `straight`."""
    return np.asarray((np.asarray(flow) / (STRAIGHT * np.asarray(length))) ** (2.0 / 3.0))


def lip_head(flow: ArrayLike, *, bore: ArrayLike) -> Floats:
    """Head over the lip of an upright pipe at a flow [m], the inverse of `lip`."""
    return np.asarray((np.asarray(flow) / (LIP * pi * np.asarray(bore))) ** (2.0 / 3.0))


def _weir(coefficient: Floats, head: ArrayLike) -> WeirFlow:
    over = np.asarray(head, dtype=np.float64).clip(min=0.0)
    root = np.sqrt(over)
    return WeirFlow(coefficient * over * root, 1.5 * coefficient * root)
