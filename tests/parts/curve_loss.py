"""What one device with a loss through points loses, by the term that the solver has for many."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from balance.network.rows import placed
from balance.network.terms import PointLaw, Points, cubics
from balance.parts.devices import DeviceCurve
from balance.parts.monotone import Sample

Floats = NDArray[np.float64]


def points_law(flow: Floats, *, curve: DeviceCurve) -> Sample:
    """Head [m] and slope [m/(m³/s)] at flows (S,) [m³/s]."""
    term = PointLaw(
        placed([0]), cubics([Points(curve.flow, curve.head, curve.slopes)]), np.ones((1, 1))
    )
    head, slope = np.zeros((2, 1, flow.size))
    term.add(flow.reshape(1, -1), head, slope)
    return Sample(head.reshape(flow.shape), slope.reshape(flow.shape))
