"""Quantities: read as a person means them, every factor held to an outside library, or refused."""

from __future__ import annotations

import math
from functools import cache
from typing import Any

import gsw
import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from balance import units
from balance.errors import QuantityError
from balance.units import LONGEST, SYSTEMS, dimension_of, parse, parse_range, significant

FOOT = 0.3048  # exactly, by the international yard and pound agreement of 1959
INCH = FOOT / 12
GALLON = 231 * INCH**3  # the US liquid gallon is 231 cubic inches
GPH = GALLON / 3600

# Every name of a unit that the table has, in the words of pint, an independent library of units.
# pint takes "m" for metre and so on; here stand those that it spells otherwise.
PINT_SPELLING = {
    '"': "inch", "'": "foot", "um": "micrometer", "cu ft": "foot**3", "ft3": "foot**3",
    "us gal": "gallon", "gal": "gallon", "gallons": "gallon", "qt": "quart", "pt": "pint",
    "imp gal": "imperial_gallon", "imp qt": "imperial_quart", "m3": "meter**3",
    "gph": "gallon/hour", "us gph": "gallon/hour", "gpm": "gallon/minute",
    "us gpm": "gallon/minute", "imp gph": "imperial_gallon/hour",
    "imp gpm": "imperial_gallon/minute", "lph": "liter/hour", "lpm": "liter/minute",
    "cfs": "foot**3/second", "cfm": "foot**3/minute", "liters": "liter", "litres": "litre",
    "sec": "second", "min": "minute", "h": "hour", "hr": "hour", "d": "day", "pa": "pascal",
    "kpa": "kilopascal", "hpa": "hectopascal", "mpa": "megapascal", "w": "watt", "kw": "kilowatt",
    "hp": "horsepower", "kg/m3": "kg/m**3", "g/cm3": "g/cm**3", "kg/l": "kg/liter",
    "lb/ft3": "pound/foot**3", "m2/s": "m**2/s", "mm2/s": "mm**2/s", "cst": "centistokes",
    "ft2/s": "ft**2/s", "m2": "m**2", "cm2": "cm**2", "mm2": "mm**2", "in2": "in**2",
    "ft2": "ft**2", "ml": "milliliter", "g/ml": "g/milliliter", "l": "liter",
}  # fmt: skip
SI = {
    "length": "m", "head": "m", "flow": "m**3/s", "volume": "m**3", "time": "s", "pressure": "Pa",
    "power": "W", "velocity": "m/s", "density": "kg/m**3", "kinematic viscosity": "m**2/s",
    "area": "m**2", "mass": "kg",
}  # fmt: skip
EVERY_FACTOR = [(dimension, unit) for dimension in SI for unit in units._UNITS[dimension]]


@cache
def registry() -> pint.UnitRegistry[Any]:
    return pint.UnitRegistry()


def by_pint(expression: str, dimension: str) -> float:
    return float(registry().Quantity(1.0, expression).to(SI[dimension]).magnitude)


@pytest.mark.parametrize(("dimension", "unit"), EVERY_FACTOR)
def test_every_factor_against_pint(dimension: str, unit: str) -> None:
    expression = PINT_SPELLING.get(unit, PINT_SPELLING.get(unit.lower(), unit))
    assert parse(f"1 {unit}", dimension) == pytest.approx(by_pint(expression, dimension), rel=1e-12)


@pytest.mark.parametrize("volume", ["gal", "L", "ml", "m3", "imp gal", "qt", "ft3"])
@pytest.mark.parametrize("time", ["s", "min", "h", "hr", "day"])
def test_flow_is_any_volume_over_any_time(volume: str, time: str) -> None:
    per = f"{PINT_SPELLING.get(volume, volume)}/{PINT_SPELLING.get(time, time)}"
    assert parse(f"3 {volume}/{time}", "flow") == pytest.approx(3 * by_pint(per, "flow"), rel=1e-12)


@pytest.mark.parametrize("dimension", [name for name in SYSTEMS["us"].units if name in SI])
@pytest.mark.parametrize("system", SYSTEMS)
def test_units_of_print_against_pint(system: str, dimension: str) -> None:
    unit = SYSTEMS[system].unit(dimension).replace("²", "2").replace("³", "3")
    expression = PINT_SPELLING.get(unit.lower(), unit)
    if unit == "L/h":
        expression = "liter/hour"
    assert SYSTEMS[system].number(1.0, dimension) * by_pint(expression, dimension) == pytest.approx(
        1.0, rel=1e-12
    )


def test_temperature_against_pint() -> None:
    for fahrenheit in (-4.0, 32.0, 77.0, 78.8, 212.0):
        outside = registry().Quantity(fahrenheit, "degF").to("degC").magnitude
        for unit in ("degF", "deg F", "°F", "F"):
            assert parse(f"{fahrenheit} {unit}", "temperature") == pytest.approx(outside, abs=1e-9)
        assert SYSTEMS["us"].number(float(outside), "temperature") == pytest.approx(fahrenheit)
    assert parse("25 C", "temperature") == 25.0  # coulombs to pint
    assert parse("25.5 °C", "temperature") == 25.5


@pytest.mark.parametrize(
    ("text", "inches"),
    [
        # General parsers take the first for a quarter inch and the seventh for 18 ft·in.
        ("1 1/4 in", 1.25),
        ("1-1/4 in", 1.25),
        ("1 1/4 inches", 1.25),
        ('1 1/4"', 1.25),
        ("3/4 in", 0.75),
        ("  3/4   in ", 0.75),
        ("6 ft 3 in", 75.0),
        ("6 ft 3 1/2 in", 75.5),
        ("6 foot 3 inch", 75.0),
        ("6'3\"", 75.0),
        ("6' 3 1/2\"", 75.5),
        ("0 ft 6 in", 6.0),
        (".5 in", 0.5),
        ("5. in", 5.0),
        ("1e1 in", 10.0),
        ("+3 in", 3.0),
        ("-1 1/4 in", -1.25),
        ("- 3 in", -3.0),
        ("-6 ft 3 in", -75.0),
        ("-0 ft 6 in", -6.0),
        ("3IN", 3.0),
        ("14 in.", 14.0),
    ],
)
def test_lengths_as_a_person_writes_them(text: str, inches: float) -> None:
    assert parse(text, "length") == pytest.approx(inches * INCH, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "dimension"),
    [
        ("6 ft -3 in", "length"),  # the sign stands on the first part only
        ("6 ft +3 in", "length"),
        ("1 -1/4 in", "length"),
        ("1 - 1/4 in", "length"),
        ("--3 in", "length"),
        ("6 ft 3", "length"),
        ("6 in 3 ft", "length"),
        ("6 ft 3 mm", "length"),
        ("6 ft 3 in 2", "length"),
        ("6 gal 3 in", "length"),
        ("3/0 in", "length"),
        ("1 3/0 in", "length"),
        ("1/2/3 in", "length"),
        ("1,5 m", "length"),
        ("1,200 gph", "flow"),
        ("1_000 gph", "flow"),
        ("9**9**9 in", "length"),
        ("0x10 in", "length"),
        ("inf in", "length"),
        ("nan gph", "flow"),
        ("1e999 in", "length"),
        ("1e30 in", "length"),
        ("1e-9999 in", "length"),
        ("१२ in", "length"),  # digits of another script
        ("in", "length"),
        ("", "length"),
        ("   ", "length"),
        ("3", "length"),
        ("3 parsecs", "length"),
        ("3 in in", "length"),
        ("3 in^2", "length"),
        ("12 m s", "length"),
        ("(3) in", "length"),
        ("120 gal/", "flow"),
        ("120 /h", "flow"),
        ("120 gal/h/h", "flow"),
        ("120 in/h", "flow"),
        ("2 psi", "head"),  # a head is of the system's water, which the text does not know
        ("0.5 sg", "salinity"),
        ("1.5 sg", "salinity"),
        ("35 g/L", "salinity"),
        ("-300 degC", "temperature"),
        ("9" * LONGEST + " in", "length"),
        ("1 in" + " " * 10_000, "length"),
    ],
)
def test_what_is_refused(text: str, dimension: str) -> None:
    with pytest.raises(QuantityError) as caught:
        parse(text, dimension)
    assert caught.value.problem
    assert caught.value.remedy
    assert len(str(caught.value)) < 300


@pytest.mark.parametrize(
    ("text", "dimension", "words"),
    [
        ("14", "length", ['"14" has no unit', '"14 in"', "mm"]),
        ("120", "flow", ["has no unit", '"120 gph"', "L/h"]),
        ("120 gph", "length", ["flow", "length is wanted", '"14 in"']),
        ("14 in", "flow", ["length", "flow is wanted", '"120 gph"']),
        ("2 psi", "head", ["pressure", "head is wanted", '"1.2 ft"']),
        ("25 degC", "salinity", ["temperature", "salinity is wanted", '"35 g/kg"']),
        ("120 gphh", "flow", ['"gphh"', 'did you mean "gph"', "L/min"]),
        ("3 inchs", "length", ['"inchs"', "did you mean", '"inch']),
        ("soon", "time", ['"soon" is not a time', '"30 s"']),
        ("1e30 in", "length", ['"1e30 in"', "beyond any plumbing"]),
        ("3/0 in", "length", ["divides by zero"]),
        ("1.5 sg", "salinity", ["no salt water", "sg"]),
    ],
)
def test_messages_say_what_is_wrong_and_the_way_out(
    text: str, dimension: str, words: list[str]
) -> None:
    with pytest.raises(QuantityError) as caught:
        parse(text, dimension)
    assert caught.value.text == text
    for word in words:
        assert word in str(caught.value)


@pytest.mark.parametrize(
    ("text", "dimension"),
    [
        ("14 in", "length"),
        ("120 gph", "flow"),
        ("4 L/min", "flow"),
        ("12 gal", "volume"),
        ("15 psi", "pressure"),
        ("25 degF", "temperature"),
        ("1.026 sg", "salinity"),
        ("85 %", "percent"),
        ("45 deg", "angle"),
        ("3 turns", "turns"),
        ("3 furlongs", None),
        ("3", None),
        ("x", None),
    ],
)
def test_dimension_of(text: str, dimension: str | None) -> None:
    assert dimension_of(text) == dimension


def test_gallons_are_us_unless_imperial_is_said() -> None:
    assert parse("1 gal", "volume") == pytest.approx(3.785411784e-3, rel=1e-12)
    assert parse("1 imp gal", "volume") == pytest.approx(4.54609e-3, rel=1e-12)
    assert parse("100 gph", "flow") < parse("100 imp gph", "flow")


def test_ratios() -> None:
    assert parse("85 %", "speed ratio") == pytest.approx(0.85)
    assert parse("12.5%", "percent") == pytest.approx(0.125)


def test_salinity_in_parts_per_thousand_is_grams_per_kilogram() -> None:
    assert parse("35 ppt", "salinity") == parse("35 g/kg", "salinity") == 35.0


# N. P. Fofonoff and R. C. Millard, UNESCO Technical Papers in Marine Science 44, 1983, p. 19: water
# of practical salinity 35 and 0 at 25 degC weighs 1023.34306 and 997.04796 kg/m³; 35 practical
# units are 35.16504 g/kg by definition (IOC, SCOR and IAPSO, TEOS-10 manual, 2010, equation 2.4.1).
# The limit allows for print that is at 25 degC of IPTS-68.
def test_salinity_of_a_specific_gravity_against_print() -> None:
    gravity = 1023.34306 / 997.04796
    assert parse(f"{gravity:.7f} sg", "salinity") == pytest.approx(35.16504, abs=0.005)
    assert parse("1 sg", "salinity") == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize("salinity", [5.0, 15.0, 25.0, 30.0, 33.0, 35.0, 37.0, 40.0])
def test_salinity_of_a_specific_gravity_against_gsw(salinity: float) -> None:
    # gsw, the TEOS-10 toolbox in Python: rho_t_exact at 0 dbar.  EOS-80 stands within 0.01 kg/m³
    # of it, and 0.01 kg/m³ is 0.013 g/kg.
    gravity = gsw.rho_t_exact(salinity, 25.0, 0.0) / gsw.rho_t_exact(0.0, 25.0, 0.0)
    assert parse(f"{gravity:.8f} sg", "salinity") == pytest.approx(salinity, abs=0.015)


def test_gravity_that_hobby_hydrometers_call_full_strength() -> None:
    # 1.0264 at 25/25 degC for 35 parts per thousand: common practice, no source.
    assert parse("1.0264 sg", "salinity") == pytest.approx(35.0, abs=0.3)


def test_ranges() -> None:
    assert parse_range("100..150 gph", "flow") == pytest.approx((100 * GPH, 150 * GPH))
    assert parse_range("100 gph .. 10 L/min", "flow") == pytest.approx((100 * GPH, 1e-2 / 60))
    assert parse_range("1/2..3/4 in", "length") == pytest.approx((0.5 * INCH, 0.75 * INCH))
    assert parse_range("40 .. 100 %", "speed ratio") == pytest.approx((0.4, 1.0))
    assert parse_range("-3..4 in", "length") == pytest.approx((-3 * INCH, 4 * INCH))
    assert parse_range("1.5..2.5 ft", "head") == pytest.approx((1.5 * FOOT, 2.5 * FOOT))


@pytest.mark.parametrize(
    "text", ["100 gph", "..100 gph", "100..", "100..150", "1..2..3 gph", "100 gph..150", "a..b gph"]
)
def test_ranges_refused(text: str) -> None:
    with pytest.raises(QuantityError) as caught:
        parse_range(text, "flow")
    assert caught.value.remedy


@given(st.text(max_size=80), st.sampled_from(sorted(units._UNITS)))
def test_any_text_is_a_finite_number_or_refused(text: str, dimension: str) -> None:
    try:
        value = parse(text, dimension)
    except QuantityError:
        return
    assert math.isfinite(value)


@given(
    st.floats(1e-3, 1e5).map(lambda x: float(f"{x:.6g}")), st.sampled_from(EVERY_FACTOR), st.data()
)
def test_value_is_number_times_factor(
    number: float, at: tuple[str, str], data: st.DataObject
) -> None:
    dimension, unit = at
    space = data.draw(st.sampled_from(["", " ", "  "]))
    one = parse(f"1 {unit}", dimension)
    if number * one < 1e3:
        assert parse(f"{number:f}{space}{unit}", dimension) == pytest.approx(
            round(number, 6) * one, rel=1e-12
        )


def test_printing_in_each_system() -> None:
    flow = 120 * GPH
    assert SYSTEMS["us"].text(flow, "flow") == "120 gph"
    assert SYSTEMS["metric"].text(flow, "flow") == "454 L/h"
    assert SYSTEMS["imperial"].text(flow, "flow") == "99.9 imp gph"
    assert SYSTEMS["us"].text(58 * INCH, "length") == "58.0 in"
    assert SYSTEMS["metric"].text(1.25, "length") == "1250 mm"
    assert SYSTEMS["us"].text(0.85, "speed ratio") == "85.0 %"
    assert SYSTEMS["us"].text(25.0, "temperature") == "77.0 degF"


def test_rounding_for_people() -> None:
    assert significant(1187.4) == "1187"
    assert significant(118.74) == "119"
    assert significant(7.25) == "7.3"
    assert significant(99.96) == "100"
    assert significant(0.0) == significant(-0.0) == significant(-1e-12) == "0"
    assert significant(math.nan) == significant(math.inf) == "-"
    for number in (1e-5, 0.043, 0.999, 7.25, 99.96, 123.4, 1e6):
        assert "e" not in significant(number)
        assert float(significant(number)) == pytest.approx(number, rel=0.05, abs=1e-5)
        assert significant(-number) == f"-{significant(number)}" or significant(number) == "0"


@pytest.mark.parametrize("system", SYSTEMS)
def test_buckets_rise(system: str) -> None:
    volumes = [volume for _, volume in SYSTEMS[system].buckets]
    assert volumes == sorted(volumes)
    for label, volume in SYSTEMS[system].buckets:
        assert parse(label, "volume") == pytest.approx(volume, rel=1e-12)
