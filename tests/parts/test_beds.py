"""Beds of grains against the fluids library and against what must hold."""

from __future__ import annotations

from dataclasses import replace
from math import sqrt

import numpy as np
import pytest
from fluids.packed_bed import Ergun
from hypothesis import given
from hypothesis import strategies as st

from balance.errors import BalanceError
from balance.parts.beds import Bed, floating_head, head_lost, lifted, lifting_flow, still
from balance.parts.pumps import GRAVITY
from tests.parts.curve_loss import points_law

NU, RHO = 0.93e-6, 1023.0
REACTOR = Bed(diameter=0.1, depth=0.2, grain=1e-3)
GRAINS = {"viscosity": NU, "grain_density": 1500.0, "density": RHO}
FLOW = np.array([-2e-4, -3e-5, -1e-9, 0.0, 1e-9, 5e-6, 1.3e-4])

BEDS = st.builds(
    Bed,
    diameter=st.floats(0.03, 0.3),
    depth=st.floats(0.02, 0.5),
    grain=st.floats(2e-4, 5e-3),
    voidage=st.floats(0.3, 0.7),
    sphericity=st.floats(0.4, 1.0),
)
FLOWS = st.floats(-1e-3, 1e-3)


@given(bed=BEDS, flow=st.floats(1e-7, 1e-3))
def test_still_bed_against_fluids(bed: Bed, flow: float) -> None:
    # ergun-1952: fluids 1.3.1, sphericity times diameter.
    theirs = Ergun(
        dp=bed.grain * bed.sphericity,
        voidage=bed.voidage,
        vs=flow / bed.area,
        rho=RHO,
        mu=NU * RHO,
        L=bed.depth,
    )
    ours = head_lost(np.array(flow), loss=still(bed, viscosity=NU)).value
    assert float(ours) * RHO * GRAVITY == pytest.approx(theirs, rel=1e-12)


@given(bed=BEDS, flow=FLOWS)
def test_still_bed_is_odd_and_its_slope_is_exact(bed: Bed, flow: float) -> None:
    loss = still(bed, viscosity=NU)
    there, back = (head_lost(np.array(q), loss=loss) for q in (flow, -flow))
    assert there.value == -back.value
    assert there.slope == back.slope > 0.0
    step = 1e-6 * abs(flow) + 1e-12
    ahead, behind = (head_lost(np.array(flow + d), loss=loss).value for d in (step, -step))
    assert there.slope == pytest.approx((ahead - behind) / (2 * step), rel=1e-5)


@given(bed=BEDS)
def test_the_bed_lifts_where_its_loss_is_its_weight(bed: Bed) -> None:
    start = lifting_flow(bed, **GRAINS)
    lost = head_lost(np.array(start), loss=still(bed, viscosity=NU)).value
    weight = floating_head(bed, grain_density=1500.0, density=RHO)
    assert lost == pytest.approx(weight, rel=1e-9)
    volume = bed.depth * (1.0 - bed.voidage)  # of grains, for each m² of bed
    assert weight * RHO == pytest.approx((1500.0 - RHO) * volume)


@pytest.mark.parametrize("grain", [0.4e-3, 0.7e-3, 1e-3, 1.6e-3, 2.5e-3])
def test_lifting_against_a_correlation_without_voidage(grain: float) -> None:
    # wen-yu-1966, from memory: Re = sqrt(33.7² + 0.0408 Ar) - 33.7, which
    # stands for 1/(sphericity voidage³) of about 14.  Its authors' own spread is 34 %.
    bed = replace(REACTOR, grain=grain, voidage=0.43, sphericity=0.9)
    archimedes = GRAVITY * grain**3 * (2650.0 / RHO - 1.0) / NU**2
    velocity = (sqrt(33.7**2 + 0.0408 * archimedes) - 33.7) * NU / grain
    ours = lifting_flow(bed, viscosity=NU, grain_density=2650.0, density=RHO) / bed.area
    assert ours == pytest.approx(velocity, rel=0.34)


@given(bed=BEDS, share=st.floats(0.001, 40.0))
def test_lifted_bed_follows_its_law(bed: Bed, share: float) -> None:
    curve = lifted(bed, **GRAINS)
    flow = share * lifting_flow(bed, **GRAINS)
    found = points_law(np.array(flow), curve=curve)
    packed = float(head_lost(np.array(flow), loss=still(bed, viscosity=NU)).value)
    weight = floating_head(bed, grain_density=1500.0, density=RHO)
    law = packed * (1.0 + (packed / weight) ** 8) ** (-1 / 8)
    assert found.value == pytest.approx(law, rel=1e-4)
    assert found.value <= min(packed, weight) * (1.0 + 1e-6)
    assert found.slope > 0.0


def test_lifted_bed_still_below_and_no_heavier_above() -> None:
    curve, start = lifted(REACTOR, **GRAINS), lifting_flow(REACTOR, **GRAINS)
    still_bed = head_lost(np.array(0.5 * start), loss=still(REACTOR, viscosity=NU)).value
    weight = floating_head(REACTOR, grain_density=1500.0, density=RHO)
    below, above = points_law(np.array([0.5 * start, 3.0 * start]), curve=curve).value
    assert below == pytest.approx(float(still_bed), rel=1e-3)
    assert above == pytest.approx(weight, rel=1e-3)


def test_slope_of_lifted_bed_against_central_differences() -> None:
    curve = lifted(REACTOR, **GRAINS)
    step = 1e-12
    ahead, behind = (points_law(FLOW + d, curve=curve).value for d in (step, -step))
    slope = points_law(FLOW, curve=curve).slope
    np.testing.assert_allclose(slope, (ahead - behind) / (2 * step), rtol=1e-3, atol=1e-3)
    many = points_law(np.linspace(-1e-3, 1e-3, 4001), curve=curve).value
    assert (np.diff(many) > 0.0).all()


@pytest.mark.parametrize(
    "wrong",
    [
        {"diameter": 0.0},
        {"depth": -0.1},
        {"grain": 0.0},
        {"voidage": 1.0},
        {"voidage": 0.0},
        {"sphericity": 1.2},
    ],
)
def test_refuses_beds_that_cannot_be(wrong: dict[str, float]) -> None:
    with pytest.raises(BalanceError, match="a bed needs"):
        still(replace(REACTOR, **wrong), viscosity=NU)


def test_refuses_grains_that_float() -> None:
    with pytest.raises(BalanceError, match="the density of a wet grain"):
        lifted(REACTOR, viscosity=NU, grain_density=900.0, density=RHO)
