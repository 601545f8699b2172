"""The demo is invented, believable, and its targets can be met."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from balance.parts.pumps import efficiency
from balance.plan.curves import read_curve
from balance.plan.read import read
from balance.questions.settings import settings

DEMO = Path(__file__).parents[1] / "pump_curves_demo"
CURVES = sorted(DEMO.glob("demo-*.csv"))


def test_there_are_four_curves() -> None:
    assert len(CURVES) >= 4


@pytest.mark.parametrize("path", CURVES, ids=lambda path: path.stem)
def test_curves_are_believable(path: Path) -> None:
    assert "Invented" in path.read_text()
    curve = read_curve(path)
    assert not curve.source_notes
    best = efficiency(curve, np.linspace(0.0, curve.flow[-1], 200), 1.0).max()
    # Wire to water, small aquarium pumps: common practice, no source.
    assert 0.25 < best < 0.45


@pytest.mark.parametrize("name", ["lagoon", "fish-room"])
def test_targets_can_be_met_in_the_useful_range(name: str) -> None:
    answer = settings(read(DEMO / f"{name}.toml"))
    assert answer.met
    assert all(pump.in_useful_range for pump in answer.pumps)


def test_no_line_is_too_long_for_a_screen() -> None:
    for path in DEMO.iterdir():
        assert all(len(line) <= 120 for line in path.read_text().splitlines())
