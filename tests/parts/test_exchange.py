"""Laws of a water change: how much old water is left, and the salt of the new."""

from __future__ import annotations

import gsw
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from balance.parts.exchange import (
    changes_to_leave,
    exchange_to_leave,
    left_draining_first,
    left_exchanging,
    left_filling_first,
    mixed_salinity,
    salt_water,
)
from balance.water import density

SYSTEM = 0.5
VOLUMES = st.floats(1e-4, 0.45)


def stirred(steps: int, volume: float) -> float:
    """Old water left in a tank that is drained a little and filled a little, many times."""
    old = SYSTEM
    for _ in range(steps):
        out = volume / steps
        old -= out * old / SYSTEM
    return old / SYSTEM


def test_half_the_water_changed_leaves_half() -> None:
    """kraul-1985: half removed and then replaced leaves 50 % of the old."""
    assert left_draining_first(0.25, system=SYSTEM) == pytest.approx(0.5)
    assert left_filling_first(0.5, system=SYSTEM) == pytest.approx(0.5)


def test_many_small_changes_come_to_the_exponential() -> None:
    few, many = (stirred(n, 0.3) - left_exchanging(0.3, system=SYSTEM) for n in (100, 1000))
    assert abs(many) < 0.11 * abs(few) < 1e-3


@given(VOLUMES)
def test_draining_first_leaves_least_and_filling_first_most(volume: float) -> None:
    drained, together, filled = (
        float(law(volume, system=SYSTEM))
        for law in (left_draining_first, left_exchanging, left_filling_first)
    )
    assert 0.0 < drained < together < filled < 1.0


@given(VOLUMES)
def test_old_water_is_what_was_not_taken_out(volume: float) -> None:
    """Counted from what is mixed: v of new in V of old, then v of the mixture let out."""
    mixture = SYSTEM / (SYSTEM + volume)
    kept = SYSTEM - volume * mixture
    assert left_filling_first(volume, system=SYSTEM) == pytest.approx(kept / SYSTEM)


@given(st.floats(0.01, 0.99))
def test_the_exchange_for_a_share_leaves_it(share: float) -> None:
    volume = exchange_to_leave(share, system=SYSTEM)
    assert left_exchanging(volume, system=SYSTEM) == pytest.approx(share)


@given(st.floats(0.01, 0.9), st.floats(0.05, 0.95))
def test_the_changes_for_a_share_are_the_fewest(share: float, left: float) -> None:
    number = float(changes_to_leave(share, left=left))
    assert left**number <= share * (1.0 + 1e-7)
    assert left ** (number - 1.0) > share


def test_a_share_that_a_power_meets_is_met() -> None:
    assert changes_to_leave([0.5, 0.25, 0.125], left=0.5).tolist() == [1.0, 2.0, 3.0]


def test_laws_take_arrays() -> None:
    volumes = np.linspace(0.0, 0.4, 5)
    for law in (left_draining_first, left_exchanging, left_filling_first):
        each = [float(law(volume, system=SYSTEM)) for volume in volumes]
        assert law(volumes, system=SYSTEM) == pytest.approx(each)
        assert each[0] == 1.0


@pytest.mark.parametrize(("salinity", "temperature"), [(35.0, 25.0), (33.0, 20.0), (40.0, 28.0)])
def test_salt_is_that_of_sea_water(salinity: float, temperature: float) -> None:
    """teos-10 through gsw, from which EOS-80 may lie 1e-4."""
    conservative = gsw.CT_from_t(salinity, temperature, 0.0)
    outside = gsw.rho(salinity, conservative, 0.0)
    found = salt_water(0.1, salinity=salinity, temperature=temperature)
    assert found.salt == pytest.approx(0.1 * outside * salinity / 1000.0, rel=1e-4)


@given(st.floats(0.0, 50.0), st.floats(1.0, 40.0))
def test_salt_and_fresh_water_weigh_what_the_salt_water_does(
    salinity: float, temperature: float
) -> None:
    found = salt_water(1.0, salinity=salinity, temperature=temperature)
    fresh = found.fresh * density(temperature, salinity=0.0)
    assert found.salt + fresh == pytest.approx(density(temperature, salinity=salinity))
    assert found.salt == pytest.approx((found.salt + fresh) * salinity / 1000.0, abs=1e-12)


@given(st.floats(0.0, 50.0), st.floats(0.0, 50.0), st.floats(0.0, 1.0))
def test_a_mixture_lies_between(old: float, new: float, left: float) -> None:
    mixed = mixed_salinity(old, new, left=left, temperature=25.0)
    assert min(old, new) - 1e-9 <= mixed <= max(old, new) + 1e-9


def test_a_mixture_keeps_its_salt() -> None:
    salts = [salt_water(v, salinity=s, temperature=25.0) for v, s in ((0.7, 35.0), (0.3, 10.0))]
    fresh = density(25.0, salinity=0.0)
    mass = sum(each.salt + each.fresh * fresh for each in salts)
    salt = 1000.0 * sum(each.salt for each in salts) / mass
    mixed = mixed_salinity(35.0, 10.0, left=0.7, temperature=25.0)
    assert mixed == pytest.approx(salt)
    assert 0.0 < mixed - (0.7 * 35.0 + 0.3 * 10.0) < 0.2  # the salter water is the heavier
