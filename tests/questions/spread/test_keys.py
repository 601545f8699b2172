"""Each key of `[spread]` acts, and as much as a figure moved by hand says."""

from __future__ import annotations

import numpy as np
import pytest

from balance.network.arrays import network_of
from balance.network.solve import solve
from balance.plan.read import read_text
from balance.questions.learning import doubts
from balance.questions.spread import spread
from balance.questions.spread.answer import Band
from tests.questions.spread.plans import CERTAIN, SMALL, spread_table

# By key: a small value of it, and the kind of doubt that it is about.
KEYS = {
    "full_open": ('"5 %"', doubts.FITTINGS),
    "common": ('"5 %"', doubts.COMMON),
    "tees": ('"5 %"', doubts.TEES),
    "barbs": ('"5 %"', doubts.BARBS),
    "devices": ('"5 %"', doubts.DEVICES),
    "ball": ("0.05", doubts.CURVES),
    "ball_offset": ('"0.3 deg"', doubts.OFFSETS),
    "gate": ("0.05", doubts.CURVES),
    "hose_bore": ('"1 %"', doubts.HOSES),
    "pipe_bore": ('"1 %"', doubts.PIPES),
    "roughness": ('"5 %"', doubts.ROUGHNESS),
    "pump_head": ('"1 %"', doubts.PUMPS),
    "pump_flow": ('"1 %"', doubts.PUMPS),
    "speed": ('"1 %"', doubts.SPEEDS),
    "level": ('"3 mm"', doubts.LEVELS),
    "temperature": ("1", doubts.TEMPERATURE),
    "mark": ('"0.3 deg"', doubts.HANDLES),
}

GATE = SMALL.replace(
    '{ valve = "ball", size = "3/4 in", open = "60 deg" }',
    '{ valve = "gate", size = "3/4 in", open = "2 turns", turns = 5 }',
)


def bands(text: str, *, systems: int = 4000) -> dict[str, Band]:
    found = spread(read_text(text), systems=systems).before
    return {band.name: band for band in (*found.branches, *found.pumps)}


def width(band: Band) -> float:
    """Of the middle 90 %, as a share of the flow."""
    return (band.high - band.low) / band.flow


def test_keys_that_act_are_all_here() -> None:
    assert KEYS.keys() == CERTAIN.keys()


@pytest.mark.parametrize("key", KEYS)
def test_a_key_alone_is_all_that_contributes(key: str) -> None:
    value, kind = KEYS[key]
    plan = GATE if key == "gate" else SMALL
    # The hand on a spindle has a doubt of its own, which no key tells.
    kinds = {kind, doubts.HANDLES} if key == "gate" else {kind}
    found = bands(plan + spread_table(**{key: value}), systems=20_000)
    for band in found.values():
        assert {each.about for each in band.shares} <= kinds
    moved = [band for band in found.values() if band.shares and width(band) > 1e-6]
    assert moved
    for band in moved:
        share = {each.about: each.share for each in band.shares}[kind]
        if key != "gate":
            assert share == pytest.approx(1.0, abs=0.02)  # of several, by their number
        else:
            assert share > 0.01


@pytest.mark.parametrize("key", sorted(KEYS.keys() - {"gate"}))
def test_a_key_at_nought_takes_its_share_away(key: str) -> None:
    every = {name: value for name, (value, _) in KEYS.items()}
    kind = KEYS[key][1]
    other = {"pump_head": "pump_flow", "pump_flow": "pump_head"}.get(key)
    whole = bands(SMALL + spread_table(**every))
    less = {key: CERTAIN[key]} | ({} if other is None else {other: CERTAIN[other]})
    without = bands(SMALL + spread_table(**(every | less)))
    for name, band in whole.items():
        assert kind in {each.about for each in band.shares}
        assert kind not in {each.about for each in without[name].shares}


# By key: figures of the file, each with what stands in its place one deviation up and down.
BY_HAND = {
    "devices": [("0.3 m at 400 lph", "0.315 m at 400 lph", "0.285 m at 400 lph")],
    "mark": [("55 deg", "55.3 deg", "54.7 deg"), ("60 deg", "60.3 deg", "59.7 deg")],
    "level": [('"1100 mm"', '"1103 mm"', '"1097 mm"'), ('"200 mm"', '"203 mm"', '"197 mm"')],
    "temperature": [("25 degC", "26 degC", "24 degC")],
}


@pytest.mark.parametrize("key", BY_HAND)
def test_a_spread_is_as_wide_as_figures_moved_by_hand_say(key: str) -> None:
    def slope(before: str, up: str, down: str) -> float:
        assert before in SMALL
        high, low = (
            solve(network_of(read_text(SMALL.replace(before, text)))).flow("reactor")
            for text in (up, down)
        )
        return (high - low) / 2.0

    deviation = float(np.linalg.norm([slope(*each) for each in BY_HAND[key]]))
    value, _ = KEYS[key]
    band = bands(SMALL + spread_table(**{key: value}), systems=20_000)["reactor"]
    # 5 and 95 % of a normal distribution are 2 x 1.6449 deviations apart: by definition.
    assert band.high - band.low == pytest.approx(2 * 1.6449 * deviation, rel=0.03)


def test_a_spindle_keeps_its_own_doubt_where_all_keys_are_nought() -> None:
    band = bands(GATE + spread_table())["return"]
    assert {each.about for each in band.shares} == {doubts.HANDLES}
    assert width(band) > 0.01
