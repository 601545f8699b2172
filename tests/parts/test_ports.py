"""Rows of ports: spray bars, slots and manifolds of jets."""

from __future__ import annotations

from collections.abc import Callable
from math import sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from balance.errors import BalanceError
from balance.parts.ports import COEFFICIENTS, rounded, row, sharp

Coefficient = Callable[[float], float]
EDGES = pytest.mark.parametrize("coefficient", COEFFICIENTS.values())


def test_against_print() -> None:
    # koh-brooks-1975
    assert sharp(0.0) == 0.63
    assert sharp(0.5) == pytest.approx(0.34)
    assert rounded(0.0) == 0.975
    assert rounded(0.5) == pytest.approx(0.752, abs=5e-4)


@EDGES
def test_small_ports_are_orifices_side_by_side(coefficient: Coefficient) -> None:
    found = row(area_ratio=0.01, ports=20, coefficient=coefficient)
    assert found.k == pytest.approx((coefficient(0.0) * 0.01) ** -2, rel=1e-3)
    assert found.backward == pytest.approx(found.k, rel=1e-3)
    assert found.evenness == pytest.approx(1.0, abs=1e-3)


@EDGES
def test_each_port_has_its_head_and_its_share(coefficient: Coefficient) -> None:
    """The march written as flows: what each port gives at the head that all have in common."""
    found = row(area_ratio=0.7, ports=12, coefficient=coefficient)
    head, arrives = found.k, 1.0  # in units of the velocity head and flow at the bar's beginning
    gives = []
    for _ in range(12):
        here = coefficient(arrives**2 / head) * 0.7 / 12 * sqrt(head)
        gives.append(here)
        arrives -= here
    assert arrives == pytest.approx(0.0, abs=1e-12)
    assert gives[0] / gives[-1] == pytest.approx(found.evenness)
    assert gives == sorted(gives)


@EDGES
@given(area_ratio=st.floats(0.01, 3.0), ports=st.integers(1, 60), more=st.floats(1.001, 2.0))
def test_more_area_loses_less_and_gives_less_evenly(
    coefficient: Coefficient, area_ratio: float, ports: int, more: float
) -> None:
    one = row(area_ratio=area_ratio, ports=ports, coefficient=coefficient)
    wider = row(area_ratio=more * area_ratio, ports=ports, coefficient=coefficient)
    # No row gives water more head than the pipe brings.
    assert one.k >= wider.k >= 1.0 - 1e-12
    assert -1e-12 <= wider.evenness <= one.evenness + 1e-12 <= 1.0 + 2e-12


def test_refuses_no_ports() -> None:
    with pytest.raises(BalanceError, match="holes = 20"):
        row(area_ratio=0.0, ports=20, coefficient=sharp)
    with pytest.raises(BalanceError, match="holes = 20"):
        row(area_ratio=0.5, ports=0, coefficient=sharp)
