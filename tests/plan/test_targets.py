"""Targets of every form, with their aims and tolerances."""

from __future__ import annotations

import pytest

from balance.plan.targets import LimitsText, Target, TargetText

GPH = 3.785411784e-3 / 3600.0


@pytest.mark.parametrize(
    ("text", "kind", "low", "high", "aim", "tolerance"),
    [
        ("120 gph", "flow", 120, 120, 120, 0.10),
        ("100..150 gph", "range", 100, 150, 125, 0.0),
        (">= 300 gph", "at least", 300, None, 315, 0.0),
        ("<= 60 gph", "at most", None, 60, 57, 0.0),
        ("≤60 gph", "at most", None, 60, 57, 0.0),
        (">= 0 gph", "at least", 0, None, 0, 0.0),
    ],
)
def test_target(
    text: str, kind: str, low: float | None, high: float | None, aim: float, tolerance: float
) -> None:
    target = TargetText().read(text)
    assert isinstance(target, Target)
    assert target.kind == kind
    assert target.low == (None if low is None else pytest.approx(low * GPH))
    assert target.high == (None if high is None else pytest.approx(high * GPH))
    assert target.aim == pytest.approx(aim * GPH)
    assert target.default_tolerance == tolerance


def test_limits_of_one_side() -> None:
    low, high = LimitsText().read(">= 60 gph")
    assert low == pytest.approx(60 * GPH)
    assert high is None
    assert LimitsText().read("60..160 gph") == pytest.approx((60 * GPH, 160 * GPH))
