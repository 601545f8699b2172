"""Openings as a hand reads them, as fractions of travel from shut."""

from __future__ import annotations

import pytest

from balance.errors import QuantityError
from balance.plan.openings import Handle, fraction, offset


@pytest.mark.parametrize(
    ("text", "handle", "turns", "expected"),
    [
        ("45 deg", "degrees", None, 0.5),
        ("45°", "degrees", None, 0.5),
        ("22.5 degrees", "degrees", None, 0.25),
        ("30 %", "degrees", None, 0.3),
        ("30%", "turns", None, 0.3),
        ("3 turns", "turns", 6.0, 0.5),
        ("1 1/2 turns", "turns", 6.0, 0.25),
        ("3/4 turn", "turns", 6.0, 0.125),
        ("shut", "turns", None, 0.0),
        ("Full", "percent", None, 1.0),
        ("90 deg", "degrees", None, 1.0),
        ("0 deg", "degrees", None, 0.0),
    ],
)
def test_opening(text: str, handle: Handle, turns: float | None, expected: float) -> None:
    assert fraction(text, handle=handle, turns=turns) == pytest.approx(expected, abs=1e-15)


@pytest.mark.parametrize(
    ("text", "handle", "turns", "problem"),
    [
        ("45", "degrees", None, "is not a valve opening"),
        ("-5 deg", "degrees", None, "is not a valve opening"),
        ("91 deg", "degrees", None, "beyond full"),
        ("101 %", "turns", None, "beyond full"),
        ("45 deg", "turns", 6.0, "more than a quarter turn"),
        ("1 turn", "degrees", None, "quarter turn"),
        ("1 turn", "turns", None, "is not said"),
        ("3 in", "degrees", None, "does not measure an opening"),
        ("1/0 turns", "turns", 6.0, "is not a valve opening"),
        ("9" * 400 + " deg", "degrees", None, "is not a valve opening"),
    ],
)
def test_no_opening(text: str, handle: Handle, turns: float | None, problem: str) -> None:
    with pytest.raises(QuantityError) as caught:
        fraction(text, handle=handle, turns=turns)
    assert problem in caught.value.problem
    assert caught.value.remedy


@pytest.mark.parametrize(
    ("text", "handle", "turns", "expected"),
    [
        ("1.8 deg", "degrees", None, 0.02),
        ("-1.8 deg", "degrees", None, -0.02),
        ("- 2 %", "turns", None, -0.02),
        ("0.3 turns", "turns", 6.0, 0.05),
        ("-1 1/2 turns", "turns", 6.0, -0.25),
        ("-100 %", "percent", None, -1.0),
        ("0 deg", "degrees", None, 0.0),
    ],
)
def test_offset(text: str, handle: Handle, turns: float | None, expected: float) -> None:
    assert offset(text, handle=handle, turns=turns) == pytest.approx(expected, abs=1e-15)


@pytest.mark.parametrize("text", ["shut", "full", "2", "--2 %", "+2 %", "2 % 3", "", "-"])
def test_no_offset(text: str) -> None:
    with pytest.raises(QuantityError, match="is not a part of a handle's travel") as caught:
        offset(text, handle="degrees", turns=None)
    assert caught.value.remedy == 'write "1.4 deg", "-2 %" or "0.05 turns"'


def test_an_offset_beyond_the_travel_of_the_handle() -> None:
    with pytest.raises(QuantityError, match="beyond full"):
        offset("-91 deg", handle="degrees", turns=None)
