"""Flow over edges: the printed laws, their slopes and inverses, and what must hold everywhere."""

from __future__ import annotations

from math import pi, sqrt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from balance.parts import weirs

FOOT = 0.3048
HEADS = st.floats(1e-5, 0.5)
G = 9.80665


def test_francis_in_feet() -> None:
    # Q = 3.33 L H^1.5 in feet and seconds, francis-1883; 1.84 in metres is rounded.
    flow = weirs.straight(1.0 * FOOT, length=2.0 * FOOT).flow
    assert flow == pytest.approx(2.0 * 3.33 * FOOT**3, rel=2e-3)


def test_the_lip_by_its_discharge_coefficient() -> None:
    # C = (2/3) Cd sqrt(2 g), Cd 0.62: 1.83 in SI and 3.32 in feet, as handbooks have it for sharp
    # edges; common practice, no source.
    assert 2 / 3 * 0.62 * sqrt(2 * G) == pytest.approx(weirs.LIP, abs=5e-3)
    assert weirs.LIP / sqrt(FOOT) == pytest.approx(3.32, abs=6e-3)


def test_shaft_spillways_pass_more() -> None:
    # usbr-dams: C of 3.6 to 4.1 in feet and seconds at low
    # heads, for rounded crests; ours, for a sawn pipe, is the safe one, by a tenth to a fifth.
    for coefficient in (3.6, 4.1):
        rounded = coefficient * sqrt(FOOT)
        assert 0.8 * rounded < weirs.LIP < 0.95 * rounded


def test_villemonte_at_round_ratios() -> None:
    # villemonte-1947: Q / Q free = (1 - (h2/h1)^1.5)^0.385. At h2/h1 = 0.25 the
    # bracket is 7/8, at 0.64 it is 0.488.
    free = weirs.straight(0.1, length=0.3).flow
    quarter = weirs.drowned(0.1, 0.025, length=0.3)
    most = weirs.drowned(0.1, 0.064, length=0.3)
    assert quarter / free == pytest.approx(0.875**0.385)
    assert most / free == pytest.approx(0.488**0.385)
    assert quarter / free == pytest.approx(0.95, abs=1e-3)


@given(HEADS, st.floats(0.01, 2.0))
def test_slopes_are_those_of_differences(head: float, size: float) -> None:
    step = 1e-6 * head
    for law, word in ((weirs.straight, "length"), (weirs.lip, "bore")):
        low, high = (law(head + way * step, **{word: size}).flow for way in (-1.0, 1.0))
        slope = law(head, **{word: size}).slope
        assert float(high - low) / (2 * step) == pytest.approx(float(slope), rel=1e-6)


@given(st.floats(1e-6, 0.1), st.floats(0.01, 2.0))
def test_heads_are_the_inverse_of_flows(flow: float, size: float) -> None:
    over = weirs.straight_head(flow, length=size)
    assert float(weirs.straight(over, length=size).flow) == pytest.approx(flow, rel=1e-12)
    above = weirs.lip_head(flow, bore=size)
    assert float(weirs.lip(above, bore=size).flow) == pytest.approx(flow, rel=1e-12)


@pytest.mark.parametrize("head", [-1.0, -1e-9, 0.0])
def test_nothing_passes_an_edge_that_the_water_does_not_reach(head: float) -> None:
    assert tuple(map(float, weirs.straight(head, length=1.0))) == (0.0, 0.0)
    assert tuple(map(float, weirs.lip(head, bore=0.05))) == (0.0, 0.0)
    assert weirs.drowned(head, head - 0.1, length=1.0) == 0.0


@given(HEADS, st.floats(-0.2, 0.5), st.floats(0.01, 2.0))
def test_a_drowned_weir_passes_less_and_the_same_either_way(
    head: float, other: float, length: float
) -> None:
    through = float(weirs.drowned(head, other, length=length))
    back = float(weirs.drowned(other, head, length=length))
    assert through == pytest.approx(-back, abs=1e-15)
    free = float(weirs.straight(max(head, other), length=length).flow)
    assert abs(through) <= free * (1.0 + 1e-12)
    assert through * (head - other) >= 0.0
    if other <= 0.0:
        assert through == pytest.approx(free, rel=1e-12)


@given(HEADS, st.floats(0.0, 0.99))
def test_the_flow_of_a_drowned_weir_never_rises_with_the_water_behind(
    head: float, share: float
) -> None:
    low, high = (
        float(weirs.drowned(head, each * head, length=1.0)) for each in (share, share + 0.005)
    )
    assert high <= low + 1e-15


def test_near_level_the_flow_goes_straight_to_nothing() -> None:
    # Where the printed law would have a slope without end.
    gaps = np.array([0.0, 1e-9, 2e-9, 1e-6, 2e-6])
    flows = weirs.drowned(0.05, 0.05 - gaps, length=1.0)
    assert flows[0] == 0.0
    assert flows[2] == pytest.approx(2 * flows[1], rel=1e-3)
    assert flows[4] == pytest.approx(2 * flows[3], rel=1e-3)


def test_a_ring_of_lip_is_a_straight_weir_of_its_length() -> None:
    bore = 0.05
    ring = weirs.lip(0.01, bore=bore).flow / weirs.straight(0.01, length=pi * bore).flow
    assert float(ring) == pytest.approx(weirs.LIP / weirs.STRAIGHT)
