"""Fittings against the fluids library's copies of the printed constants."""

from __future__ import annotations

import math

import pytest
from fluids.fittings import (
    Darby3K,
    Hooper2K,
    K_branch_diverging_Crane,
    contraction_conical,
    contraction_sharp,
    diffuser_conical,
    diffuser_sharp,
)
from hypothesis import given
from hypothesis import strategies as st

from balance.errors import BalanceError, UnknownNameError
from balance.parts.fittings import (
    REDUCER_ANGLE,
    SUDDEN,
    barb_bore,
    cone_angle,
    fitting,
    kinds,
    step,
)
from balance.parts.pipes import nominal_bore

INCH = 0.0254
SIZES = {"1/2 in": 0.5, "3/4 in": 0.75, "1 in": 1.0, "1 1/2 in": 1.5, "2 in": 2.0}

# darby-2001, 3-K constants: fluids 1.3.1, names of its keys.
DARBY = {
    "elbow 90": "Elbow, 90°, threaded, standard, (r/D = 1)",
    "elbow 45": "Elbow, 45°, threaded standard, (r/D = 1)",
    "socket elbow 90": "Elbow, 90°, threaded, standard, (r/D = 1)",
    "socket elbow 45": "Elbow, 45°, threaded standard, (r/D = 1)",
    "sweep 90": "Elbow, 90°, threaded, long radius, (r/D = 1.5)",
    "sweep 45": "Elbow, 45°, long radius, (r/D = 1.5)",
    "long sweep 90": "Elbow, 90°, (r/D = 2)",
    "mitre elbow 90": "Elbow, 90°, mitered, 1 weld, (90°)",
    "return bend": "Elbow, 180°, threaded, close-return bend, (r/D = 1)",
    "tee run": "Tee, Run-through, threaded, (r/D = 1)",
    "tee branch": "Tee, Through-branch, (as elbow), threaded, (r/D = 1)",
}


def k(kind: str, bore: float, reynolds: float) -> float:
    loss = fitting(kind, bore)
    return loss.k_laminar / reynolds + loss.k


@pytest.mark.parametrize("kind", DARBY)
@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("reynolds", [50.0, 1e4, 1e6])
def test_three_k_fittings_against_fluids(kind: str, size: str, reynolds: float) -> None:
    theirs = Darby3K(NPS=SIZES[size], Re=reynolds, name=DARBY[kind])
    assert k(kind, SIZES[size] * INCH, reynolds) == pytest.approx(theirs, rel=1e-12)
    # The bore stands in for the nominal size of the print: that moves K by less than this.
    assert k(kind, nominal_bore(size), reynolds) == pytest.approx(theirs, rel=0.05)


@pytest.mark.parametrize(
    ("kind", "key"),
    [
        ("threaded elbow 90", "Elbow, 90°, Standard (R/D = 1), Screwed"),
        ("threaded elbow 45", "Elbow, 45°, Standard (R/D = 1), All types"),
    ],
)
@pytest.mark.parametrize("reynolds", [50.0, 1e4, 1e6])
def test_two_k_fittings_against_fluids(kind: str, key: str, reynolds: float) -> None:
    # hooper-1981; fluids 1.3.1, which wants inches.
    theirs = Hooper2K(Di=1.033, Re=reynolds, name=key)
    assert k(kind, 1.033 * INCH, reynolds) == pytest.approx(theirs, rel=1e-12)


def test_wye_branch_against_fluids() -> None:
    # crane-tp410, diverging branch at 45 degrees, equal bores, all the flow to the branch.
    theirs = K_branch_diverging_Crane(0.03, 0.03, 1e-12, 1.0, angle=45.0)
    assert fitting("wye branch", 0.03).k == pytest.approx(theirs, rel=2e-3)


# Equivalent lengths [ft] of PVC fittings at 1/2, 3/4, 1, 1 1/2 and 2 in (two plastic pipe
# handbooks), as K with the friction of the pipe at 5 ft/s.
@pytest.mark.parametrize(
    ("kind", "printed"),
    [
        ("elbow 90", (0.72, 0.68, 0.63, 0.60, 0.63)),
        ("elbow 45", (0.39, 0.37, 0.35, 0.31, 0.29)),
        ("tee run", (0.48, 0.48, 0.43, 0.40, 0.47)),
        ("tee branch", (1.93, 1.70, 1.52, 1.20, 1.32)),
    ],
)
def test_within_the_printed_spread_of_plastic_fittings(
    kind: str, printed: tuple[float, ...]
) -> None:
    for size, value in zip(SIZES, printed, strict=True):
        bore = nominal_bore(size)
        # Spread of screwed fittings below 2 in: 40 %, Engineering Data Book, table 32.
        assert k(kind, bore, 1.524 * bore / 1e-6) == pytest.approx(value, rel=0.4)


def test_steps_against_fluids() -> None:
    # fluids 1.3.1 docstrings: contraction_sharp(3, 2, 'Crane') 0.27778, diffuser_sharp 0.5625.
    assert step(bore_from=3.0, bore_to=2.0) == pytest.approx(0.2777777777777778)
    assert step(bore_from=0.5, bore_to=1.0) == pytest.approx(0.5625)
    for small in (0.2, 0.55, 0.99):
        narrow = contraction_sharp(1.0, small, method="Crane")
        assert step(bore_from=1.0, bore_to=small) == pytest.approx(narrow)
        assert step(bore_from=small, bore_to=1.0) == pytest.approx(diffuser_sharp(small, 1.0))
    assert step(bore_from=0.02, bore_to=0.02) == 0.0


BORES = st.floats(0.005, 0.1)


@given(one=BORES, other=BORES, angle=st.floats(5.0, 179.0))
def test_cones_against_fluids(one: float, other: float, angle: float) -> None:
    # crane-tp410 by fluids 1.3.1. It prints two forms that meet at 45° to 1 %.
    if abs(angle - 45.0) < 1e-6 or one == other:
        return
    printed = diffuser_conical if one < other else contraction_conical
    theirs = printed(one, other, angle=angle, method="Crane")
    ours = step(bore_from=one, bore_to=other, angle=angle)
    assert ours == pytest.approx(theirs, rel=1e-9, abs=1e-12)


@given(one=BORES, other=BORES, angle=st.floats(1.0, SUDDEN), more=st.floats(1.0, 2.0))
def test_a_longer_cone_loses_no_more(one: float, other: float, angle: float, more: float) -> None:
    steeper = min(more * angle, SUDDEN)
    gentle = step(bore_from=one, bore_to=other, angle=angle)
    assert 0.0 <= gentle <= step(bore_from=one, bore_to=other, angle=steeper)
    assert step(bore_from=one, bore_to=other, angle=SUDDEN) == step(bore_from=one, bore_to=other)


def test_a_cone_by_its_length() -> None:
    assert cone_angle(bores=(0.02, 0.04), length=0.01) == pytest.approx(90.0)
    assert cone_angle(bores=(0.04, 0.02), length=0.01) == pytest.approx(90.0)
    assert cone_angle(bores=(0.04, 0.02), length=0.0) == pytest.approx(SUDDEN)


def test_a_reducer_against_tests_of_one() -> None:
    # Rahmeyer's tests of threaded reducers, 2 by 1 1/2 in, at 12 ft/s, as hph,
    # table 3.14, has them: contraction 0.20, enlargement 0.02 (0.16 at 4 ft/s).
    # Printed spread of reducers: 50 %, edb, table 32.
    two, less = nominal_bore("2 in"), nominal_bore("1 1/2 in")
    narrowing = step(bore_from=two, bore_to=less, angle=REDUCER_ANGLE)
    assert narrowing == pytest.approx(0.20, rel=0.5)
    widening = step(bore_from=less, bore_to=two, angle=REDUCER_ANGLE)
    assert widening == pytest.approx(0.16, rel=0.5)


def test_every_kind_answers() -> None:
    for kind in kinds():
        loss = fitting(kind.upper(), 0.026)
        assert loss.k_laminar >= 0.0
        assert loss.k >= 0.0
        assert loss.source
    assert math.isinf(fitting("cap", 0.026).k)
    assert barb_bore(0.01) == pytest.approx(0.007)


def test_refusals() -> None:
    with pytest.raises(UnknownNameError, match='"elbow 90"'):
        fitting("elbow", 0.026)
    with pytest.raises(BalanceError, match="above zero"):
        fitting("elbow 90", 0.0)
    with pytest.raises(BalanceError, match="above zero"):
        step(bore_from=0.02, bore_to=-1.0)
    for angle in (0.0, 181.0):
        with pytest.raises(BalanceError, match="no cone has an angle"):
            step(bore_from=0.02, bore_to=0.01, angle=angle)
