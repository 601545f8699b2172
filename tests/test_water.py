"""Water is what published tables and two reference libraries say it is."""

from __future__ import annotations

import math
from itertools import pairwise

import gsw
import pytest
from CoolProp.CoolProp import PropsSI

from balance.errors import BalanceError
from balance.units import ABSOLUTE_SALINITY
from balance.water import Water, density, specific_heat, vapour_pressure, viscosity, water

ATMOSPHERE = 101325.0  # Pa


@pytest.mark.parametrize(
    ("practical", "t68", "expected"),
    # unesco-1983, page 19, at 0 dbar; from memory
    [
        (0.0, 5.0, 999.96675),
        (0.0, 25.0, 997.04796),
        (35.0, 5.0, 1027.67547),
        (35.0, 25.0, 1023.34306),
    ],
)
def test_density_against_unesco(practical: float, t68: float, expected: float) -> None:
    # The table's temperatures are of the scale of 1968, ours of 1990.
    ours = density(t68 / 1.00024, salinity=practical * ABSOLUTE_SALINITY)
    assert ours == pytest.approx(expected, abs=6e-6)  # half of its last digit, and a bit


@pytest.mark.parametrize(
    ("temperature", "expected"),
    # ittc-2011, standard seawater of 35.16504 g/kg
    [(10.0, 1027.0000), (15.0, 1026.0210), (20.0, 1024.8103), (25.0, 1023.3873), (30.0, 1021.7694)],
)
def test_density_against_ittc(temperature: float, expected: float) -> None:
    # ITTC took 0.101325 MPa as pressure of the sea, an atmosphere above the atmosphere: teos-10
    # says how far that lies above 0 dbar, which is what we mean.
    deep, surface = (float(gsw.rho_t_exact(35.16504, temperature, p)) for p in (10.1325, 0.0))
    ours = density(temperature, salinity=35.16504)
    # Twice the standard error of EOS-80 at one atmosphere, 3.6e-3 kg/m³: millero-poisson-1981.
    assert ours == pytest.approx(expected - (deep - surface), abs=7.2e-3)


@pytest.mark.parametrize(
    ("temperature", "expected"),
    # The same table, fresh water
    [(10.0, 999.7025), (15.0, 999.1026), (20.0, 998.2072), (25.0, 997.0476), (30.0, 995.6495)],
)
def test_density_of_fresh_water_against_ittc(temperature: float, expected: float) -> None:
    assert density(temperature, salinity=0.0) == pytest.approx(expected, abs=0.003)


@pytest.mark.parametrize("temperature", [0.0, 5.0, 10.0, 15.0, 20.0, 25.0, 30.0, 35.0, 40.0])
@pytest.mark.parametrize("salinity", [0.0, 10.0, 20.0, 30.0, 33.0, 35.0, 37.0, 40.0, 42.0])
def test_density_against_gsw(temperature: float, salinity: float) -> None:
    # teos-10; 0 dbar of the sea is one atmosphere. Three times the
    # standard error of EOS-80 named above, over all that it was made for: 0 to 42 practical units
    # and up to 40 degC.
    expected = float(gsw.rho_t_exact(salinity, temperature, 0.0))
    assert density(temperature, salinity=salinity) == pytest.approx(expected, abs=1.08e-2)


@pytest.mark.parametrize("temperature", [0.0, 5.0, 15.0, 25.0, 35.0, 40.0, 42.0, 45.0])
@pytest.mark.parametrize("salinity", [0.0, 10.0, 35.0, 42.0, 43.0, 45.0, 48.0, 50.0])
def test_density_beyond_its_own_range_against_gsw(temperature: float, salinity: float) -> None:
    # What is claimed there, 1e-4: 0.1 kg/m³, or 0.14 g/kg of salt.
    expected = float(gsw.rho_t_exact(salinity, temperature, 0.0))
    assert density(temperature, salinity=salinity) == pytest.approx(expected, rel=1e-4)
    more = float(gsw.rho_t_exact(salinity + 0.14, temperature, 0.0))
    assert more - expected == pytest.approx(1e-4 * expected, rel=0.2)


@pytest.mark.parametrize("temperature", [5.0, 20.0, 40.0, 45.0])
@pytest.mark.parametrize("salinity", [42.0, 45.0, 50.0])
def test_density_beyond_its_own_range_against_sharqawy(temperature: float, salinity: float) -> None:
    # Equation 8 of sharqawy-2010, fitted to measurements up to 160 g/kg; stated within 0.1 %.
    t, s = temperature, salinity / 1e3
    fresh = 9.999e2 + 2.034e-2 * t - 6.162e-3 * t**2 + 2.261e-5 * t**3 - 4.657e-8 * t**4
    salt = s * (8.020e2 - 2.001 * t + 1.677e-2 * t**2 - 3.060e-5 * t**3 - 1.613e-5 * s * t**2)
    assert density(t, salinity=salinity) == pytest.approx(fresh + salt, rel=1e-3)


@pytest.mark.parametrize(
    ("temperature", "expected"),
    # sharqawy-2010, equations 22 and 23 at 35 g/kg [mPa s], evaluated apart from this package
    [
        (10.0, 1.39677),
        (15.0, 1.21987),
        (20.0, 1.07663),
        (24.0, 0.98066),
        (25.0, 0.95883),
        (28.0, 0.89787),
        (30.0, 0.86065),
    ],
)
def test_viscosity_against_its_source(temperature: float, expected: float) -> None:
    assert viscosity(temperature, salinity=35.0) * 1e3 == pytest.approx(expected, abs=6e-6)


@pytest.mark.parametrize(
    ("temperature", "expected"),
    # ittc-2011, standard seawater, mm²/s: all but 15 degC from memory
    [(10.0, 1.3604), (15.0, 1.1892), (20.0, 1.0508), (25.0, 0.9371), (30.0, 0.8425)],
)
def test_kinematic_viscosity_against_ittc(temperature: float, expected: float) -> None:
    ours = water(temperature=temperature, salinity=35.16504).kinematic_viscosity * 1e6
    assert ours == pytest.approx(expected, rel=3e-4)


def test_kinematic_viscosity_of_fresh_water_against_ittc() -> None:
    # The same procedure, fresh water of 15 degC
    found = water(temperature=15.0, salinity=0.0).kinematic_viscosity
    assert found == pytest.approx(1.1386e-6, rel=1e-3)


def test_viscosity_against_older_measurements() -> None:
    # millero-1974: 9.6541e-4 Pa s at practical salinity 40 and 25 degC. The formula in use claims
    # 1.5 %.
    ours = viscosity(25.0, salinity=40.0 * ABSOLUTE_SALINITY)
    assert ours == pytest.approx(9.6541e-4, rel=0.015)


@pytest.mark.parametrize("temperature", [1.0, 5.0, 10.0, 15.0, 20.0, 25.0, 30.0, 40.0, 45.0])
def test_fresh_water_against_coolprop(temperature: float) -> None:
    # coolprop: IAPWS-95 for density, the formulation of 2008 for viscosity
    state = ("T", temperature + 273.15, "P", ATMOSPHERE, "Water")
    assert density(temperature, salinity=0.0) == pytest.approx(PropsSI("D", *state), abs=0.01)
    assert viscosity(temperature, salinity=0.0) == pytest.approx(PropsSI("V", *state), rel=2e-3)


@pytest.mark.parametrize("temperature", [10.0, 15.0, 20.0, 25.0, 30.0])
@pytest.mark.parametrize("salinity", [10.0, 30.0, 35.0, 40.0])
def test_salt_water_against_coolprop(temperature: float, salinity: float) -> None:
    # coolprop's incompressible MITSW, a refit of sharqawy-2010, who state 0.1 % of density and
    # 1.5 % of viscosity (from memory)
    state = ("T", temperature + 273.15, "P", ATMOSPHERE, f"INCOMP::MITSW[{salinity / 1000.0}]")
    assert density(temperature, salinity=salinity) == pytest.approx(PropsSI("D", *state), rel=1e-3)
    assert viscosity(temperature, salinity=salinity) == pytest.approx(
        PropsSI("V", *state), rel=1.5e-2
    )


@pytest.mark.parametrize("temperature", [0.1, 10.0, 20.0, 25.0, 30.0, 45.0])
def test_vapour_pressure_of_fresh_water_against_coolprop(temperature: float) -> None:
    # IAPWS-95 in coolprop; alduchov-1996 states 0.4 % for its own.
    expected = PropsSI("P", "T", temperature + 273.15, "Q", 0, "Water")
    assert vapour_pressure(temperature, salinity=0.0) == pytest.approx(expected, rel=4e-3)


def test_salt_lowers_the_vapour_pressure_by_two_percent() -> None:
    # Sea water has 98 % of the vapour pressure of fresh water: sverdrup-1942, from
    # memory.
    ratio = vapour_pressure(25.0, salinity=35.0) / vapour_pressure(25.0, salinity=0.0)
    assert ratio == pytest.approx(0.98, abs=0.002)


@pytest.mark.parametrize("temperature", [0.0, 5.0, 15.0, 25.0, 40.0])
@pytest.mark.parametrize("salinity", [10.0, 20.0, 35.0, 42.0, 45.0])
def test_what_salt_takes_off_vapour_pressure_against_gsw(
    temperature: float, salinity: float
) -> None:
    # The vapour over salt water is thinner by its activity, exp(M (mu - mu_fresh) / (R T)), which
    # teos-10 gives. Water so thin is an ideal gas to 0.1 %; the two share what that leaves out.
    salt, fresh = (
        1e3 * float(gsw.chem_potential_water_t_exact(s, temperature, 0.0)) for s in (salinity, 0.0)
    )
    activity = math.exp(0.01801528 * (salt - fresh) / (8.314462618 * (temperature + 273.15)))
    ratio = vapour_pressure(temperature, salinity=salinity) / vapour_pressure(
        temperature, salinity=0.0
    )
    # 1e-3 of the pressure, a quarter of what its formula claims for fresh water
    assert ratio == pytest.approx(activity, abs=1e-3)


@pytest.mark.parametrize("temperature", [0.0, 5.0, 15.0, 25.0, 30.0, 40.0])
@pytest.mark.parametrize("practical", [0.0, 20.0, 35.0, 40.0])
def test_vapour_pressure_against_oceanographers(temperature: float, practical: float) -> None:
    # weiss-price-1980, equation 10; ours claims 0.4 %.
    kelvin = temperature + 273.15
    expected = ATMOSPHERE * math.exp(
        24.4543
        - 67.4509 * (100.0 / kelvin)
        - 4.8489 * math.log(kelvin / 100.0)
        - 0.000544 * practical
    )
    found = vapour_pressure(temperature, salinity=practical * ABSOLUTE_SALINITY)
    assert found == pytest.approx(expected, rel=4e-3)


@pytest.mark.parametrize("temperature", [0.0, 5.0, 10.0, 15.0, 20.0, 25.0, 30.0, 35.0, 40.0])
@pytest.mark.parametrize("salinity", [0.0, 5.0, 10.0, 20.0, 30.0, 35.0, 42.0])
def test_specific_heat_against_gsw(temperature: float, salinity: float) -> None:
    # What is claimed there. Older measurements of fresh water lie below teos-10 by most of it.
    expected = float(gsw.cp_t_exact(salinity, temperature, 0.0))
    assert specific_heat(temperature, salinity=salinity) == pytest.approx(expected, rel=1.2e-3)


@pytest.mark.parametrize("temperature", [0.0, 5.0, 15.0, 25.0, 35.0, 42.0, 45.0])
@pytest.mark.parametrize("salinity", [0.0, 35.0, 43.0, 46.0, 50.0])
def test_specific_heat_beyond_its_own_range_against_gsw(
    temperature: float, salinity: float
) -> None:
    expected = float(gsw.cp_t_exact(salinity, temperature, 0.0))
    assert specific_heat(temperature, salinity=salinity) == pytest.approx(expected, rel=1.7e-3)


@pytest.mark.parametrize("temperature", [1.0, 5.0, 10.0, 20.0, 25.0, 30.0, 40.0, 45.0])
def test_specific_heat_of_fresh_water_against_coolprop(temperature: float) -> None:
    # IAPWS-95 in coolprop; the limit is what is claimed against gsw, whose fresh water it is too
    expected = PropsSI("C", "T", temperature + 273.15, "P", ATMOSPHERE, "Water")
    assert specific_heat(temperature, salinity=0.0) == pytest.approx(expected, rel=1.2e-3)


@pytest.mark.parametrize("temperature", [0.0, 10.0, 20.0, 25.0, 30.0, 40.0])
@pytest.mark.parametrize("salinity", [0.0, 20.0, 35.0, 42.0])
def test_specific_heat_against_sharqawy(temperature: float, salinity: float) -> None:
    # Equation 9 (its number from memory) of sharqawy-2010, fitted to other measurements than ours;
    # stated within 0.28 %.
    t, s = 1.00024 * (temperature + 273.15), salinity
    expected = 1e3 * (
        (5.328 - 9.76e-2 * s + 4.04e-4 * s**2)
        + (-6.913e-3 + 7.351e-4 * s - 3.15e-6 * s**2) * t
        + (9.6e-6 - 1.927e-6 * s + 8.23e-9 * s**2) * t**2
        + (2.5e-9 + 1.666e-9 * s - 7.125e-12 * s**2) * t**3
    )
    assert specific_heat(temperature, salinity=salinity) == pytest.approx(expected, rel=2.8e-3)


def test_water_gathers_its_properties() -> None:
    found = water(temperature=25.0, salinity=35.0)
    assert found == Water(
        temperature=25.0,
        salinity=35.0,
        density=density(25.0, salinity=35.0),
        kinematic_viscosity=viscosity(25.0, salinity=35.0) / density(25.0, salinity=35.0),
        vapour_pressure=vapour_pressure(25.0, salinity=35.0),
        specific_heat=specific_heat(25.0, salinity=35.0),
    )


def test_trends_hold_over_the_whole_range() -> None:
    for salinity in range(0, 51, 5):
        column = [water(temperature=t, salinity=salinity) for t in range(46)]
        pairs = list(pairwise(column))
        assert all(b.kinematic_viscosity < a.kinematic_viscosity for a, b in pairs)
        assert all(b.vapour_pressure > a.vapour_pressure for a, b in pairs)
    for temperature in range(0, 46, 5):
        row = [water(temperature=temperature, salinity=s) for s in range(51)]
        assert all(b.density > a.density for a, b in pairwise(row))
        assert all(b.specific_heat < a.specific_heat for a, b in pairwise(row))


@pytest.mark.parametrize(
    ("temperature", "salinity"),
    [(-0.1, 35.0), (45.1, 35.0), (25.0, -0.1), (25.0, 50.1), (math.nan, 35.0), (25.0, math.inf)],
)
def test_water_outside_its_range_is_refused(temperature: float, salinity: float) -> None:
    with pytest.raises(BalanceError, match="0 to 45 degC, 0 to 50 g/kg"):
        water(temperature=temperature, salinity=salinity)


def test_ends_of_the_range_are_taken() -> None:
    for temperature in (0.0, 45.0):
        for salinity in (0.0, 50.0):
            assert water(temperature=temperature, salinity=salinity).density > 985.0
