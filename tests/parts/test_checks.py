"""Check valves against the fluids library's copies of the printed constants."""

from __future__ import annotations

import pytest
from fluids.fittings import Darby3K, Hooper2K

from balance.errors import BalanceError, UnknownNameError
from balance.parts.checks import check_valve, kinds

INCH = 0.0254


# darby-2001, 3-K constants: fluids 1.3.1, names of its keys.
@pytest.mark.parametrize(
    ("kind", "key"), [("swing", "Valve, Swing check"), ("lift", "Valve, Lift check")]
)
@pytest.mark.parametrize("size", [0.5, 1.0, 2.0])
@pytest.mark.parametrize("reynolds", [50.0, 1e5])
def test_against_darby(kind: str, key: str, size: float, reynolds: float) -> None:
    law = check_valve(kind, bore=size * INCH)
    theirs = Darby3K(NPS=size, Re=reynolds, name=key)
    assert law.k_laminar / reynolds + law.k == pytest.approx(theirs, rel=1e-12)


def test_flap_against_hooper() -> None:
    # hooper-1981: fluids 1.3.1.
    law = check_valve("flap", bore=INCH)
    theirs = Hooper2K(Di=1.0, Re=1e4, name="Valve, Check, Tilting-disc")
    assert law.k_laminar / 1e4 + law.k == pytest.approx(theirs, rel=1e-12)


def test_swing_against_a_second_source() -> None:
    # crane-tp410: 100 ft, ft 0.023 at 1 in (from memory). edb, table 32, states 30 %
    # between check valves.
    assert check_valve("swing", bore=1.049 * INCH).k == pytest.approx(100 * 0.023, rel=0.3)


@pytest.mark.parametrize("kind", kinds())
def test_every_kind(kind: str) -> None:
    law = check_valve(kind.upper(), bore=0.0266)
    assert law.k > 0.0
    assert law.k_laminar > 0.0
    assert 0.0 < law.opening_head < 0.5
    assert law.source


def test_a_spring_opens_last() -> None:
    heads = {kind: check_valve(kind, bore=INCH).opening_head for kind in kinds()}
    assert max(heads, key=lambda kind: heads[kind]) == "spring"


def test_refusals() -> None:
    with pytest.raises(UnknownNameError, match='no check valve is called "swin"; try "swing"'):
        check_valve("swin", bore=INCH)
    with pytest.raises(BalanceError, match="above zero"):
        check_valve("swing", bore=0.0)
