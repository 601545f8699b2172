"""Numbers as a person reads them."""

from __future__ import annotations

import pytest

from balance.show.words import bare, between, percent, seconds, tape, taped, tiny
from balance.units import SYSTEMS

US = SYSTEMS["us"]
GPH = 3.785411784e-3 / 3600


@pytest.mark.parametrize(
    ("time", "said"),
    [(4.25, "4.2 s"), (36.4, "36 s"), (99.4, "99 s"), (125.0, "2 min 5 s"), (180.2, "3 min")],
)
def test_seconds(time: float, said: str) -> None:
    assert seconds(time) == said


def test_bounds() -> None:
    assert between(US, 90 * GPH, 110 * GPH) == "90..110"
    assert between(US, 38.25 * GPH, 51.75 * GPH) == "38.3..51.8"
    assert between(US, 2 * GPH, 4.5 * GPH) == "2..4.5"
    assert between(US, 300 * GPH, None) == ">= 300"
    assert between(US, None, 60 * GPH) == "<= 60"
    assert between(US, None, None) == ""


def test_what_is_not_known_is_a_dash() -> None:
    assert bare(US, None, "flow") == "-"
    assert percent(None) == "-"


def test_residuals_keep_their_power_of_ten() -> None:
    assert tiny(US, 2.04e-13 * GPH, "flow") == "2e-13"
    assert tiny(US, 0.0, "flow") == "0"


@pytest.mark.parametrize(
    ("inches", "said"),
    [(10.875, "10 7/8"), (3.0, "3"), (0.5, "1/2"), (0.0, "0"), (11.19, "11 3/16"), (4.99, "5")],
)
def test_a_tape_in_inches(inches: float, said: str) -> None:
    assert tape(US, inches * 0.0254) == said
    assert taped(US, inches * 0.0254) == f"{said} in"


def test_a_tape_in_millimetres() -> None:
    assert tape(SYSTEMS["metric"], 0.2764) == "276"
    assert taped(SYSTEMS["metric"], 0.2764) == "276 mm"
    assert tape(SYSTEMS["metric"], None) == "-"
