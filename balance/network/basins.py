"""The vessels of a plan as basins."""

from __future__ import annotations

from math import pi

import numpy as np

from balance.parts.basins import Basin
from balance.plan.model import Vessel

NO_FLOOR = 1000.0
"""Depth [m] below its level of the floor of a vessel that states none; our own choice."""


def basin_of(vessel: Vessel) -> Basin | None:
    """The shape of a vessel; None for an endless one.

    Rock and sand lie under its own level and are taken as spread evenly through the water there:
    our own choice.
    """
    room = _room(vessel)
    if room is None:
        return None
    full = float(room.volume(vessel.level))
    left = 1.0 - min(vessel.displaced / full, 1.0) if full > 0.0 else 1.0
    if left == 1.0:
        return room
    # Below its level a share of the room is water, above it all.
    heights = np.union1d(room.heights, vessel.level)
    heights = heights if heights[-1] > vessel.level else np.append(heights, vessel.level + 1.0)
    volumes = room.volume(heights)
    return Basin(heights, np.where(volumes <= full, volumes * left, volumes - full * (1.0 - left)))


def _room(vessel: Vessel) -> Basin | None:
    """The room between its walls, rock and sand among it."""
    if vessel.table is not None:
        return _by_table(vessel.table)
    if vessel.length is not None and vessel.width is not None:
        area = vessel.length * vessel.width
    elif vessel.diameter is not None:
        area = pi / 4 * vessel.diameter**2
    else:
        return None
    floor = vessel.level - NO_FLOOR if vessel.bottom is None else vessel.bottom
    ends = np.array([floor, floor + 1.0])
    return Basin(ends, area * (ends - floor))


def _by_table(table: tuple[tuple[float, float], ...]) -> Basin:
    """A vessel by its table, which goes on below its first row until there is no water."""
    heights, volumes = np.array(table).T
    rise = volumes[1] - volumes[0]
    if volumes[0] > 0.0 and rise > 0.0:
        floor = heights[0] - volumes[0] * (heights[1] - heights[0]) / rise
        heights, volumes = np.insert(heights, 0, floor), np.insert(volumes, 0, 0.0)
    return Basin(heights, volumes)
