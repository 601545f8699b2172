"""Inlets and outlets against print."""

from __future__ import annotations

import pytest
from fluids.fittings import entrance_sharp, exit_normal

from balance.errors import UnknownNameError
from balance.parts.outlets import inlet, inlets, outlet, outlets


def test_against_fluids() -> None:
    # Crane TP-410 by fluids 1.3.1; the library's own default entrance is another author's 0.57.
    assert inlet("square") == entrance_sharp(method="Crane") == 0.5
    assert outlet("submerged").k == exit_normal() == 1.0


def test_against_print() -> None:
    # Rishel, HVAC Pump Handbook, 2006, chapter 3, inlets: bell .05, square .50, projecting 1.0.
    assert [inlet(kind) for kind in ("bell", "square", "projecting")] == [0.05, 0.5, 1.0]


def test_every_kind_answers() -> None:
    assert all(inlet(kind) >= 0.0 for kind in inlets())
    for kind in outlets():
        assert outlet(kind).source
        assert 0.0 < outlet(kind).throat(0.02) <= 0.02
    assert inlet("ideal") == outlet("Ideal").k == 0.0


def test_unknown() -> None:
    with pytest.raises(UnknownNameError, match='no inlet is called "squre"; try "square"'):
        inlet("squre")
    with pytest.raises(UnknownNameError, match="flare nozzle"):
        outlet("flare nozle")
