"""Fresh and salt water against printed check values and two reference libraries."""

from __future__ import annotations

import gsw
import pytest
from CoolProp.CoolProp import PropsSI

from balance.errors import BalanceError
from balance.water import Water, water

ATMOSPHERE = 101325.0  # Pa
STANDARD = 35.16504  # g/kg of water of practical salinity 35 (TEOS-10 manual, equation 2.4.1)
PER_PRACTICAL_UNIT = STANDARD / 35.0
IPTS_68 = 1.00024  # a temperature on IPTS-68 over the same on ITS-90


def dynamic_viscosity(medium: Water) -> float:
    return medium.kinematic_viscosity * medium.density


# N. P. Fofonoff and R. C. Millard, Algorithms for computation of fundamental properties of
# seawater, UNESCO Technical Papers in Marine Science 44, 1983, p. 19: check values at 0 dbar.
@pytest.mark.parametrize(
    ("practical", "on_ipts_68", "printed"),
    [(0, 5, 999.96675), (0, 25, 997.04796), (35, 5, 1027.67547), (35, 25, 1023.34306)],
)
def test_density_check_values(practical: float, on_ipts_68: float, printed: float) -> None:
    medium = water(temperature=on_ipts_68 / IPTS_68, salinity=practical * PER_PRACTICAL_UNIT)
    assert medium.density == pytest.approx(printed, abs=5.1e-6)  # as printed


@pytest.mark.parametrize("salinity", [0.0, 20.0, 30.0, 33.0, STANDARD, 37.0, 40.0])
@pytest.mark.parametrize("temperature", [5.0, 10.0, 20.0, 25.0, 30.0, 40.0])
def test_density_against_gsw(temperature: float, salinity: float) -> None:
    # gsw, the TEOS-10 toolbox in Python: rho_t_exact at 0 dbar.  TEOS-10 says that EOS-80 stands
    # within 0.01 kg/m³ of it at oceanic temperatures; 40 degC lies at the end of its range.
    outside = float(gsw.rho_t_exact(salinity, temperature, 0.0))
    assert water(temperature=temperature, salinity=salinity).density == pytest.approx(
        outside, abs=0.02
    )


# ITTC, Fresh water and seawater properties, recommended procedure 7.5-02-01-03, 2011: standard
# seawater of 35.16504 g/kg, density [kg/m³] and kinematic viscosity [1e-6 m²/s]; the viscosities
# but for that of 15 degC from memory.  The densities are at one atmosphere above the air's, which
# adds 0.045 kg/m³ (gsw, rho_t_exact at 10.1325 dbar, gives every one of them).
@pytest.mark.parametrize(
    ("temperature", "density", "viscosity"),
    [
        (10, 1027.0000, 1.3604),
        (15, 1026.0210, 1.1892),
        (20, 1024.8103, 1.0508),
        (25, 1023.3873, 0.9371),
        (30, 1021.7694, 0.8425),
    ],
)
def test_seawater_of_the_towing_tanks(temperature: float, density: float, viscosity: float) -> None:
    medium = water(temperature=temperature, salinity=STANDARD)
    assert medium.density == pytest.approx(density - 0.045, abs=0.01)
    assert medium.kinematic_viscosity == pytest.approx(viscosity * 1e-6, rel=5e-4)


# The same procedure, fresh water.
@pytest.mark.parametrize(
    ("temperature", "density"),
    [(10, 999.7025), (15, 999.1026), (20, 998.2072), (25, 997.0476), (30, 995.6495)],
)
def test_fresh_water_of_the_towing_tanks(temperature: float, density: float) -> None:
    # EOS-80 stands on the older standard mean ocean water, some 0.003 kg/m³ off the newer one.
    assert water(temperature=temperature, salinity=0.0).density == pytest.approx(density, abs=5e-3)


def test_viscosity_of_fresh_water_of_the_towing_tanks() -> None:
    # The same procedure, 15 degC.
    found = water(temperature=15.0, salinity=0.0).kinematic_viscosity
    assert found == pytest.approx(1.1386e-6, rel=1e-3)


# M. H. Sharqawy, J. H. Lienhard and S. M. Zubair, Desalination and Water Treatment 16, 2010,
# equations 22 and 23, worked out by hand from the printed coefficients for 35 g/kg: mPa s.
@pytest.mark.parametrize(
    ("temperature", "viscosity"),
    [(10, 1.39677), (15, 1.21987), (20, 1.07663), (24, 0.98066), (25, 0.95883), (28, 0.89787)],
)
def test_viscosity_by_its_formula(temperature: float, viscosity: float) -> None:
    found = dynamic_viscosity(water(temperature=temperature, salinity=35.0))
    assert found == pytest.approx(viscosity * 1e-3, abs=5.1e-9)


# F. J. Millero, The physical chemistry of seawater, Annual Review of Earth and Planetary Sciences
# 2, 1974: 9.6541e-4 Pa s at practical salinity 40 and 25 degC.  The formula in use claims 1.5 %.
def test_viscosity_against_older_measurements() -> None:
    medium = water(temperature=25.0, salinity=40.0 * PER_PRACTICAL_UNIT)
    assert dynamic_viscosity(medium) == pytest.approx(9.6541e-4, rel=0.015)


@pytest.mark.parametrize("temperature", [10.0, 15.0, 20.0, 25.0, 30.0])
@pytest.mark.parametrize("salinity", [10.0, 30.0, 35.0, 40.0])
def test_salt_water_against_coolprop(temperature: float, salinity: float) -> None:
    # CoolProp, INCOMP::MITSW: a refit of the formulae of Sharqawy, Lienhard and Zubair, who claim
    # 0.1 % for density and 1.5 % for viscosity.
    fluid = f"INCOMP::MITSW[{salinity / 1000}]"
    state = ("T", temperature + 273.15, "P", ATMOSPHERE, fluid)
    medium = water(temperature=temperature, salinity=salinity)
    assert medium.density == pytest.approx(PropsSI("D", *state), rel=1e-3)
    assert dynamic_viscosity(medium) == pytest.approx(PropsSI("V", *state), rel=0.01)


@pytest.mark.parametrize("temperature", [1.0, 5.0, 10.0, 20.0, 25.0, 30.0, 40.0, 45.0])
def test_fresh_water_against_coolprop(temperature: float) -> None:
    # CoolProp, HEOS::Water: IAPWS-95 for density and vapour pressure, IAPWS 2008 for viscosity.
    kelvin = temperature + 273.15
    medium = water(temperature=temperature, salinity=0.0)
    state = ("T", kelvin, "P", ATMOSPHERE, "Water")
    assert medium.density == pytest.approx(PropsSI("D", *state), abs=0.01)
    assert dynamic_viscosity(medium) == pytest.approx(PropsSI("V", *state), rel=2e-3)
    vapour = PropsSI("P", "T", kelvin, "Q", 0, "Water")
    assert medium.vapour_pressure == pytest.approx(vapour, rel=3e-3)


def test_salt_lowers_vapour_pressure() -> None:
    # Seawater of 35 holds 98 % of the vapour pressure of fresh water, the
    # factor of every formula for evaporation at sea; common practice, no source.
    fresh = water(temperature=25.0, salinity=0.0).vapour_pressure
    assert water(temperature=25.0, salinity=STANDARD).vapour_pressure == pytest.approx(
        0.98 * fresh, rel=2e-3
    )


@pytest.mark.parametrize(
    ("temperature", "salinity"),
    [(-0.1, 35.0), (45.1, 35.0), (25.0, -0.1), (25.0, 50.1), (float("nan"), 35.0)],
)
def test_out_of_range_is_refused(temperature: float, salinity: float) -> None:
    with pytest.raises(BalanceError, match="0 to 45 degC, 0 to 50 g/kg"):
        water(temperature=temperature, salinity=salinity)


def test_ends_of_the_range_are_taken() -> None:
    for temperature in (0.0, 45.0):
        for salinity in (0.0, 50.0):
            assert water(temperature=temperature, salinity=salinity).density > 985.0
