"""Inlets and outlets against print."""

from __future__ import annotations

import math

import pytest
from fluids.fittings import entrance_sharp, exit_normal

from balance.errors import UnknownNameError
from balance.parts.outlets import inlet, inlets, outlet, outlets


def test_against_fluids() -> None:
    # crane-tp410 by fluids 1.3.1; the library's own default entrance is another author's 0.57.
    assert (
        inlet("square").k == outlet("submerged").backward == entrance_sharp(method="Crane") == 0.5
    )
    assert outlet("submerged").k == inlet("square").backward == exit_normal() == 1.0


def test_against_print() -> None:
    # hph, inlets: bell .05, square .50, projecting 1.0.
    assert [inlet(kind).k for kind in ("bell", "square", "projecting")] == [0.05, 0.5, 1.0]


def test_every_kind_answers() -> None:
    for kind in inlets():
        assert inlet(kind).k >= 0.0
        assert inlet(kind).backward >= 0.0
        assert inlet(kind).source
    for kind in outlets():
        law = outlet(kind)
        assert law.source
        assert 0.0 < law.throat(0.02) <= 0.02
        # What gives no water without ports of its own can have them.
        assert math.isfinite(law.k) or law.ports is not None
    assert inlet("ideal").k == outlet("Ideal").k == outlet("ideal").backward == 0.0


@pytest.mark.parametrize("kind", [kind for kind in outlets() if kind in inlets()])
def test_an_entrance_turned_round_is_an_exit(kind: str) -> None:
    there, back = inlet(kind), outlet(kind)
    assert (there.k, there.backward) == (back.backward, back.k)


def test_unknown() -> None:
    with pytest.raises(UnknownNameError, match='no inlet is called "squre"; try "square"'):
        inlet("squre")
    with pytest.raises(UnknownNameError, match="flare nozzle"):
        outlet("flare nozle")
