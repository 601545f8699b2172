"""Shapes of vessels, and what a plan says of them."""

from __future__ import annotations

from math import pi

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from balance.network.basins import NO_FLOOR, basin_of
from balance.parts.basins import Basin
from balance.plan.model import Vessel

BOX = Vessel(bottom="1 m", level="1.5 m", length="1 m", width="50 cm")
DRUM = Vessel(bottom="1 m", level="1.5 m", diameter="60 cm")
TABLE = Vessel(  # a bowl on a box
    level="30 cm",
    table=[["10 cm", "2 L"], ["20 cm", "12 L"], ["40 cm", "52 L"]],
)


def of(vessel: Vessel) -> Basin:
    basin = basin_of(vessel)
    assert basin is not None
    return basin


@pytest.mark.parametrize(
    ("vessel", "level", "volume"),
    [
        (BOX, 1.2, 0.1),
        (BOX, 1.0, 0.0),
        (BOX, 0.5, 0.0),
        (BOX, 3.0, 1.0),  # beyond its level and any rim
        (DRUM, 1.5, pi / 4 * 0.36 * 0.5),
        (TABLE, 0.15, 7e-3),
        (TABLE, 0.50, 72e-3),
        (TABLE, 0.09, 1e-3),  # below its first row as in its first piece
        (TABLE, 0.05, 0.0),
    ],
)
def test_volume_below_a_level(vessel: Vessel, level: float, volume: float) -> None:
    assert float(of(vessel).volume(level)) == pytest.approx(volume, abs=1e-15)


@given(st.sampled_from([BOX, DRUM, TABLE]), st.floats(0.0, 0.9))
def test_level_is_the_inverse_of_volume(vessel: Vessel, up: float) -> None:
    basin = of(vessel)
    level = float(basin.heights[0]) + up
    assert float(basin.level(basin.volume(level))) == pytest.approx(level, abs=1e-12)


@given(st.sampled_from([BOX, DRUM, TABLE]), st.floats(0.001, 0.9))
def test_the_surface_is_how_volume_grows(vessel: Vessel, up: float) -> None:
    basin = of(vessel)
    level = float(basin.heights[0]) + up
    if np.abs(basin.heights - level).min() < 1e-5:
        return  # a bend
    grown = float(basin.volume(level + 1e-6) - basin.volume(level - 1e-6)) / 2e-6
    assert float(basin.area(level)) == pytest.approx(grown, rel=1e-6)


def test_rock_and_sand_lie_under_the_vessels_own_level() -> None:
    reef = BOX.model_copy(update={"displaced": 0.05})
    basin = of(reef)
    assert float(basin.volume(1.5)) == pytest.approx(0.25 - 0.05)
    assert float(basin.volume(1.25)) == pytest.approx(0.5 * (0.25 - 0.05))
    assert float(basin.volume(1.7)) == pytest.approx(0.20 + 0.1)
    assert float(basin.area(1.6)) == pytest.approx(0.5)


def test_a_vessel_without_a_floor_goes_on_down() -> None:
    basin = of(BOX.model_copy(update={"bottom": None}))
    fall = float(basin.volume(1.5) - basin.volume(0.5))
    assert fall == pytest.approx(0.5)
    assert basin.heights[0] == pytest.approx(1.5 - NO_FLOOR)


def test_an_endless_vessel_has_no_shape() -> None:
    assert basin_of(Vessel(level="1 m")) is None
