"""Tees hold to print where it speaks, and are smooth where it jumps."""

from __future__ import annotations

import numpy as np
import pytest
from fluids.fittings import (
    K_branch_converging_Crane,
    K_branch_diverging_Crane,
    K_run_converging_Crane,
    K_run_diverging_Crane,
)
from numpy.typing import NDArray

from balance.parts.tees import SIDE, STRAIGHT_A, STRAIGHT_B, tee_bank, tee_table

Floats = NDArray[np.float64]

# Crane Co., Flow of Fluids, Technical Paper 410M, 2009, chapter 2, as coded in `fluids`.
# Bore ratios away from its jumps at area ratios 0.35, 0.4, 4/9 and 2/3.
BORE_RATIOS = (0.5, 0.72, 0.9, 1.0)
# Away from what is blended: 0.05 at either end and beside the breaks at 0.4, 0.5 and 0.6.
SPLITS = (0.06, 0.123, 0.18, 0.24, 0.3, 0.345, 0.66, 0.727, 0.8, 0.88, 0.94)
PRINTED = pytest.mark.parametrize("bore_ratio", BORE_RATIOS)
# Every pair of an area ratio and an angle that plans can hold, jumps of print included.
TEES = [
    (ratio, angle) for ratio in (0.1, 0.35, 0.5, 2 / 3, 0.98, 1.0, 1.5) for angle in (90.0, 45.0)
]


def head_lost(
    area_ratio: float,
    angle: float,
    *,
    into: tuple[float, float, float],
    reference: int = STRAIGHT_A,
) -> tuple[float, float, float]:
    """Heads of the legs over that of the reference, for flows into the joint, scale 1."""
    others = [leg for leg in (STRAIGHT_A, STRAIGHT_B, SIDE) if leg != reference]
    bank = tee_bank([tee_table(area_ratio=area_ratio, angle=angle)], [reference], [1.0])
    loss = bank.losses(np.array([[into[others[0]]]]), np.array([[into[others[1]]]]))
    heads = [0.0, 0.0, 0.0]
    heads[others[0]] = -float(loss.first[0, 0])
    heads[others[1]] = -float(loss.second[0, 0])
    return heads[0], heads[1], heads[2]


@PRINTED
@pytest.mark.parametrize("angle", [90.0, 45.0])
@pytest.mark.parametrize("split", SPLITS)
def test_dividing_is_as_printed(bore_ratio: float, angle: float, split: float) -> None:
    a, b, s = head_lost(bore_ratio**2, angle, into=(1.0, split - 1.0, -split))
    flows = {"Q_run": 1.0 - split, "Q_branch": split, "angle": angle}
    run = K_run_diverging_Crane(1.0, bore_ratio, **flows)
    side = K_branch_diverging_Crane(1.0, bore_ratio, **flows)
    assert a - b == pytest.approx(run, rel=0, abs=1e-6)
    assert a - s == pytest.approx(side, rel=0, abs=1e-6)


@PRINTED
@pytest.mark.parametrize("angle", [90.0, 45.0])
@pytest.mark.parametrize("split", SPLITS)
def test_combining_is_as_printed(bore_ratio: float, angle: float, split: float) -> None:
    a, b, s = head_lost(bore_ratio**2, angle, into=(1.0 - split, -1.0, split))
    flows = {"Q_run": 1.0 - split, "Q_branch": split, "angle": angle}
    run = K_run_converging_Crane(1.0, bore_ratio, **flows)
    side = K_branch_converging_Crane(1.0, bore_ratio, **flows)
    # Print rounds F = 2 cos 45 deg to 1.41.
    limit = 1e-6 if angle == 90.0 else 0.0043 * (split / bore_ratio) ** 2
    assert a - b == pytest.approx(run, rel=0, abs=limit)
    assert s - b == pytest.approx(side, rel=0, abs=limit)


@pytest.mark.parametrize("bore_ratio", BORE_RATIOS)
@pytest.mark.parametrize("split", SPLITS)
def test_a_square_tee_is_the_same_from_either_side(bore_ratio: float, split: float) -> None:
    for flows in ((1.0, split - 1.0, -split), (1.0 - split, -1.0, split), (-split, split - 1, 1.0)):
        a, b, s = head_lost(bore_ratio**2, 90.0, into=flows)
        b_turned, a_turned, s_turned = head_lost(
            bore_ratio**2, 90.0, into=(flows[1], flows[0], flows[2])
        )
        assert (a - b, a - s) == pytest.approx((a_turned - b_turned, a_turned - s_turned), abs=1e-9)


def test_printed_example_of_combining() -> None:
    """Crane, Technical Paper 410M, 2009, example 7-35, equal tee, seen through `fluids`."""
    run, side = 1135.0, 380.0  # L/min
    both = run + side
    a, b, s = head_lost(1.0, 90.0, into=(run / both, -1.0, side / both))
    # The book rounds the split to 0.25 before it squares it.
    assert s - b == pytest.approx(-0.04026, abs=5e-4)
    # Printed 0.03258, a slip: its own formula 1.55 y - y² gives ten times that.
    assert a - b == pytest.approx(0.3258, abs=5e-4)


def test_printed_example_of_dividing() -> None:
    """Crane, Technical Paper 410M, 2009, example 7-36, wye at 45 degrees, seen through `fluids`."""
    run, side = 0.02525, 0.01583  # m³/s, 1515 and 950 L/min
    both = run + side
    a, b, s = head_lost(1.0, 45.0, into=(1.0, -run / both, -side / both))
    assert a - s == pytest.approx(0.4640, abs=5e-5)
    assert a - b == pytest.approx(-0.06809, abs=5e-5)


def circle(angle: Floats) -> tuple[Floats, Floats, Floats]:
    """Flows into the joint, sum zero, through all six states in one turn."""
    third = 2 * np.pi / 3
    return np.cos(angle), np.cos(angle - third), np.cos(angle + third)


@pytest.mark.parametrize(("area_ratio", "angle"), TEES)
@pytest.mark.parametrize("reference", [STRAIGHT_A, STRAIGHT_B, SIDE])
def test_losses_and_slopes_have_no_jump(area_ratio: float, angle: float, reference: int) -> None:
    bank = tee_bank([tee_table(area_ratio=area_ratio, angle=angle)], [reference], [1.0])
    others = [leg for leg in (STRAIGHT_A, STRAIGHT_B, SIDE) if leg != reference]
    # A leg changes its sense six times in a turn; close on both sides of each.
    meetings = (np.arange(6) + 0.5) * np.pi / 3
    step = 1e-10
    sides = []
    for turn in (meetings - step, meetings + step):
        flows = circle(turn)
        loss = bank.losses(flows[others[0]][None, :], flows[others[1]][None, :])
        sides.append((loss.first, loss.second, *loss.slopes))
    size = 1.0 / area_ratio**2
    for before, after in zip(*sides, strict=True):
        assert np.abs(after - before).max() < 1e-6 * size


@pytest.mark.parametrize(("area_ratio", "angle"), TEES)
@pytest.mark.parametrize("reference", [STRAIGHT_A, STRAIGHT_B, SIDE])
def test_slopes_are_central_differences(area_ratio: float, angle: float, reference: int) -> None:
    bank = tee_bank([tee_table(area_ratio=area_ratio, angle=angle)], [reference], [1.0])
    others = [leg for leg in (STRAIGHT_A, STRAIGHT_B, SIDE) if leg != reference]
    flows = circle(np.linspace(0.0, 2 * np.pi, 1001))
    u1, u2 = (flows[leg][None, :] for leg in others)
    h = 1e-6
    exact = bank.losses(u1, u2).slopes
    differences = []
    for d1, d2 in ((h, 0.0), (0.0, h)):
        up, down = bank.losses(u1 + d1, u2 + d2), bank.losses(u1 - d1, u2 - d2)
        differences.append(((up.first - down.first) / (2 * h), (up.second - down.second) / (2 * h)))
    wanted = (differences[0][0], differences[1][0], differences[0][1], differences[1][1])
    # The second slope jumps between knots, so a difference across one is off by its step.
    size = max(float(np.abs(slope).max()) for slope in exact)
    for slope, difference in zip(exact, wanted, strict=True):
        assert np.abs(slope - difference).max() < 1e-4 * size


@pytest.mark.parametrize(("area_ratio", "angle"), TEES)
def test_any_leg_may_be_the_reference(area_ratio: float, angle: float) -> None:
    for turn in np.linspace(0.1, 2 * np.pi, 50):
        a, b, s = (float(flow) for flow in circle(np.array(turn)))
        seen = [
            np.array(head_lost(area_ratio, angle, into=(a, b, s), reference=leg))
            for leg in (STRAIGHT_A, STRAIGHT_B, SIDE)
        ]
        from_a = [heads - heads[0] for heads in seen]
        assert np.abs(from_a[1] - from_a[0]).max() < 1e-9 / area_ratio**2
        assert np.abs(from_a[2] - from_a[0]).max() < 1e-9 / area_ratio**2


def test_no_flow_loses_nothing() -> None:
    assert head_lost(0.5, 90.0, into=(0.0, 0.0, 0.0)) == (0.0, 0.0, 0.0)
