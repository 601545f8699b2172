"""The shape of what holds water: how much lies below a level, and at which level so much stands."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Basin:
    """A vessel by heights and the volumes below them, straight between.

    Above its last height it goes on as its last piece does; below its first there is no water.

    Attributes
    ----------
    heights : (N,) rising [m]
    volumes : (N,) rising, the first at the floor [m³]
    """

    heights: Floats
    volumes: Floats

    @cached_property
    def _areas(self) -> Floats:
        return np.asarray(np.diff(self.volumes) / np.diff(self.heights))

    def volume(self, level: ArrayLike) -> Floats:
        """Water below levels [m³]."""
        levels = np.asarray(level, dtype=np.float64)
        above = (levels - self.heights[-1]).clip(min=0.0)
        return np.asarray(np.interp(levels, self.heights, self.volumes) + above * self._areas[-1])

    def level(self, volume: ArrayLike) -> Floats:
        """Levels at which so much water stands [m]; the floor where there is none."""
        volumes = np.asarray(volume, dtype=np.float64)
        above = (volumes - self.volumes[-1]).clip(min=0.0)
        return np.asarray(np.interp(volumes, self.volumes, self.heights) + above / self._areas[-1])

    def area(self, level: ArrayLike) -> Floats:
        """Area of the surface at levels [m²]; at a bend that of the piece above."""
        piece = np.searchsorted(self.heights, level, side="right") - 1
        return np.asarray(self._areas[piece.clip(0, len(self._areas) - 1)])
