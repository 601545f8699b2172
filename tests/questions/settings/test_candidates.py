"""Which change of a size is tried."""

from __future__ import annotations

import pytest

from balance.parts.pipes import hose
from balance.questions.settings.candidates import _wider_hose


@pytest.mark.parametrize(
    ("narrow", "wider"),
    [
        ("1/2 in", "5/8 in"),
        ("1/2 in silicone", "5/8 in silicone"),
        ("16 mm braided", "20 mm braided"),
    ],
)
def test_a_wider_hose_is_of_the_same_kind(narrow: str, wider: str) -> None:
    assert _wider_hose(hose(narrow)) == hose(wider)


def test_the_widest_hose_stays() -> None:
    assert _wider_hose(hose("2 in")) is None
