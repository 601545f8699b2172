"""Quantities are read as a person means them or refused, and printed for people."""

from __future__ import annotations

import math
import time
from typing import Any

import gsw
import pint
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from balance.errors import QuantityError
from balance.units import (
    _UNITS,
    LONGEST,
    SYSTEMS,
    dimension_of,
    parse,
    parse_range,
    significant,
)
from balance.water import density

# What pint (the open-source library of units, its default registry) calls our words.
PINT = {
    "in": "inch", '"': "inch", "'": "foot", "yd": "yard", "um": "micrometer", "l": "liter",
    "ml": "milliliter", "m3": "meter**3", "ft3": "foot**3", "cu ft": "foot**3", "gal": "gallon",
    "gallons": "gallon", "us gal": "gallon", "qt": "quart", "pt": "pint",
    "imp gal": "imperial_gallon", "imp qt": "imperial_quart", "liters": "liter", "litres": "liter",
    "inches": "inch", "sec": "second", "hr": "hour", "gph": "gallon/hour", "us gph": "gallon/hour",
    "gpm": "gallon/minute", "us gpm": "gallon/minute", "imp gph": "imperial_gallon/hour",
    "imp gpm": "imperial_gallon/minute", "lph": "liter/hour", "lpm": "liter/minute",
    "cfs": "foot**3/second", "cfm": "foot**3/minute", "pa": "pascal", "kpa": "kilopascal",
    "hpa": "hectopascal", "w": "watt", "kw": "kilowatt", "hp": "horsepower",
    "kg/m3": "kg/m**3", "g/cm3": "g/cm**3", "kg/l": "kg/liter", "lb/ft3": "lb/ft**3",
    "g/ml": "g/milliliter", "m2/s": "m**2/s", "mm2/s": "mm**2/s", "cst": "centistokes",
    "ft2/s": "ft**2/s", "m2": "m**2", "cm2": "cm**2", "mm2": "mm**2", "in2": "inch**2",
    "ft2": "ft**2", "%": "percent", "btu/h": "Btu_it/hour", "btu/hr": "Btu_it/hour",
    "btu/hour": "Btu_it/hour", "btuh": "Btu_it/hour", "degc/h": "delta_degC/hour",
    "degf/h": "delta_degF/hour", "k/h": "kelvin/hour",
}  # fmt: skip
SI = {
    "length": "m", "head": "m", "flow": "m**3/s", "volume": "m**3", "time": "s", "pressure": "Pa",
    "power": "W", "speed ratio": "", "percent": "", "velocity": "m/s", "density": "kg/m**3",
    "kinematic viscosity": "m**2/s", "area": "m**2", "mass": "kg", "angle": "deg",
    "turns": "turn", "heat": "W", "warming": "K/s",
}  # fmt: skip
OFFSET_OR_RATIO = ("temperature", "salinity")  # no factor: each has tests of its own below


@pytest.fixture(scope="module")
def registry() -> pint.UnitRegistry[Any]:
    return pint.UnitRegistry()


@pytest.mark.parametrize("dimension", sorted(set(_UNITS) - set(OFFSET_OR_RATIO)))
def test_every_factor_agrees_with_pint(dimension: str, registry: pint.UnitRegistry[Any]) -> None:
    for unit in _UNITS[dimension]:
        word = "degree" if unit == "°" else PINT.get(unit, unit)
        expected = registry.Quantity(3.0, word).to(SI[dimension]).magnitude
        assert parse(f"3 {unit}", dimension) == pytest.approx(expected, rel=1e-12), unit


@pytest.mark.parametrize("dimension", [name for name in SYSTEMS["us"].units if name in SI])
@pytest.mark.parametrize("system", SYSTEMS)
def test_units_of_print_agree_with_pint(
    system: str, dimension: str, registry: pint.UnitRegistry[Any]
) -> None:
    unit = SYSTEMS[system].unit(dimension).replace("²", "2").replace("³", "3")
    word = "liter/hour" if unit == "L/h" else PINT.get(unit.lower(), unit)
    one = registry.Quantity(1.0, word).to(SI[dimension]).magnitude
    assert SYSTEMS[system].number(one, dimension) == pytest.approx(1.0, rel=1e-12)


@pytest.mark.parametrize("volume", ["gal", "L", "ml", "m3", "imp gal", "qt", "ft3"])
@pytest.mark.parametrize("per", ["s", "min", "h", "hr", "day"])
def test_every_volume_over_time_agrees_with_pint(
    volume: str, per: str, registry: pint.UnitRegistry[Any]
) -> None:
    word = PINT.get(volume.lower(), volume)
    expected = registry.Quantity(1.0, f"{word}/{per}").to("m**3/s").magnitude
    for text in (f"1 {volume}/{per}", f"1 {volume} / {per}", f"1 {volume} per {per}"):
        assert parse(text, "flow") == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize(("celsius", "fahrenheit"), [(0.0, 32.0), (25.0, 77.0), (-40.0, -40.0)])
def test_temperatures_agree_with_pint(
    celsius: float, fahrenheit: float, registry: pint.UnitRegistry[Any]
) -> None:
    assert registry.Quantity(fahrenheit, "degF").to("degC").magnitude == pytest.approx(celsius)
    for unit in ("degF", "F", "°F", "deg F"):
        assert parse(f"{fahrenheit} {unit}", "temperature") == pytest.approx(celsius)
    for unit in ("degC", "C", "°C", "deg C"):
        assert parse(f"{celsius} {unit}", "temperature") == celsius


INCH, FOOT = 0.0254, 0.3048  # by definition


@pytest.mark.parametrize(
    ("text", "metres"),
    [
        ("1 1/4 in", 1.25 * INCH),  # pint reads a quarter of an inch
        ("1-1/4 in", 1.25 * INCH),
        ("1 1/4in", 1.25 * INCH),
        ("3/4 in", 0.75 * INCH),
        (".5 in", 0.5 * INCH),
        ("5. in", 5.0 * INCH),
        ("36 in.", 36.0 * INCH),
        ("6 ft 3 in", 75.0 * INCH),  # pint reads 18 foot inches
        ("6ft3in", 75.0 * INCH),
        ("6 ft 3 1/2 in", 75.5 * INCH),
        ("6' 3\"", 75.0 * INCH),
        ("6’ 3”", 75.0 * INCH),
        ("-6 ft 3 in", -75.0 * INCH),
        ("-1 1/4 in", -1.25 * INCH),
        ("+3 in", 3.0 * INCH),
        ("- 3 in", -3.0 * INCH),
        ("6 foot 3 inch", 75.0 * INCH),
        ("6' 3 1/2\"", 75.5 * INCH),
        ('1 1/4"', 1.25 * INCH),
        ("0 ft 6 in", 6.0 * INCH),
        ("-0 ft 6 in", -6.0 * INCH),
        ("1e1 in", 10.0 * INCH),
        ("4 FEET", 4.0 * FOOT),
        ("  4\tft ", 4.0 * FOOT),
        ("0 in", 0.0),
        ("1e-3 m", 0.001),
        ("2 µm", 2e-6),
        ("2 μm", 2e-6),
    ],
)
@pytest.mark.parametrize("dimension", ["length", "head"])
def test_lengths_are_read_as_a_person_means_them(text: str, metres: float, dimension: str) -> None:
    assert parse(text, dimension) == pytest.approx(metres, rel=1e-14)


@pytest.mark.parametrize(
    ("text", "dimension", "value"),
    [
        ("35 g/kg", "salinity", 35.0),
        ("35 ppt", "salinity", 35.0),  # pint reads picopints
        ("25 C", "temperature", 25.0),  # pint reads coulombs
        ("85 %", "speed ratio", 0.85),
        ("10%", "percent", 0.1),
        ("45 deg", "angle", 45.0),
        ("3 1/8 turns", "turns", 3.125),
        ("1 turn", "turns", 1.0),
        ("1 MPa", "pressure", 1e6),
    ],
)
def test_other_traps_are_read_as_a_person_means_them(
    text: str, dimension: str, value: float
) -> None:
    assert parse(text, dimension) == pytest.approx(value, rel=1e-14)


@pytest.mark.parametrize(
    "text",
    [
        "", " ", "in", "ft 3 in", "9**9**9", "9**9**9 in", "1+1 in", "2*3 in", "__import__ in",
        "inf in", "-inf in", "nan in", "infinity in", "1e999 in", "1e30 in", "9e9 m", "1/0 in",
        "0x10 in", "1_000 in", "1,5 m", "1,200 in", "1.2.3 in", "1 2 in", "1.5 1/4 in", "3.4/5 in",
        "--3 in", "+-3 in", "5 - 1/2 in", "6 ft -3 in", "6 ft +3 in", "6 ft 3", "6 in 3 ft",
        "10 in 10", "2 m 3 in", "6 ft 3 in 2 in", "３ in", "٣ in", "²in", "3 in; 4 in", "3 in\x00",
        "9" * 50 + " in", "3" + " " * LONGEST + "in", "9" * 100_000 + " in",
    ],
)  # fmt: skip
def test_what_is_no_length_is_refused(text: str) -> None:
    with pytest.raises(QuantityError) as caught:
        parse(text, "length")
    assert caught.value.text == text
    assert caught.value.problem
    assert caught.value.remedy
    assert len(str(caught.value)) < 300


def test_a_hostile_text_is_refused_at_once() -> None:
    start = time.perf_counter()
    for text in ("9**9**9", "1 " * 500_000, "1/" * 500_000, "9" * 1_000_000, "(" * 1_000_000):
        with pytest.raises(QuantityError):
            parse(text, "length")
    assert time.perf_counter() - start < 1.0


@pytest.mark.parametrize(
    ("text", "dimension"),
    [
        ("1 -1/4 in", "length"), ("6 ft 3 mm", "length"), ("6 gal 3 in", "length"),
        ("1 3/0 in", "length"), ("1/2/3 in", "length"), ("3 in in", "length"),
        ("3 in^2", "length"), ("12 m s", "length"), ("(3) in", "length"), ("1e-9999 in", "length"),
        ("nan gph", "flow"), ("1_000 gph", "flow"), ("120 gal/", "flow"), ("120 /h", "flow"),
        ("120 gal/h/h", "flow"), ("120 in/h", "flow"), ("35 g/L", "salinity"),
        ("2 psi", "head"),  # a head is of the system's water, which the text does not know
    ],
)  # fmt: skip
def test_what_is_nearly_a_quantity_is_refused(text: str, dimension: str) -> None:
    with pytest.raises(QuantityError) as caught:
        parse(text, dimension)
    assert caught.value.problem
    assert caught.value.remedy


def test_gallons_are_us_unless_imperial_is_said() -> None:
    assert parse("1 gal", "volume") == pytest.approx(3.785411784e-3, rel=1e-12)  # 231 cubic inches
    assert parse("1 imp gal", "volume") == pytest.approx(4.54609e-3, rel=1e-12)
    assert parse("100 gph", "flow") < parse("100 imp gph", "flow")


@given(st.floats(1e-3, 1e3), st.sampled_from(sorted(SI)), st.data())
def test_a_value_is_the_number_times_the_factor(
    number: float, dimension: str, data: st.DataObject
) -> None:
    unit = data.draw(st.sampled_from(sorted(_UNITS[dimension])))
    space = data.draw(st.sampled_from(["", " ", "  "]))
    one = parse(f"1 {unit}", dimension)
    assume(number * one < 10.0)
    text = f"{number:.6f}"
    assert parse(f"{text}{space}{unit}", dimension) == pytest.approx(float(text) * one, rel=1e-12)


@pytest.mark.parametrize("unit", ["BTU/h", "Btu/h", "btu/hr", "BTU per hour", "BTUH", "BTU / h"])
def test_makers_of_chillers_write_btu_in_many_ways(unit: str) -> None:
    assert parse(f"790 {unit}", "power") == pytest.approx(790 / 3.412, rel=1e-4)


def test_a_watt_is_3_412_btu_an_hour() -> None:
    # tables of units; four figures
    assert SYSTEMS["us"].number(1.0, "heat") == pytest.approx(3.412, abs=5e-4)
    assert SYSTEMS["metric"].number(1.0, "heat") == 1.0


def test_milli_is_not_mega() -> None:
    with pytest.raises(QuantityError, match='"mPa" is no unit of pressure'):
        parse("5 mPa", "pressure")


@pytest.mark.parametrize(
    ("text", "dimension", "message"),
    [
        ("4", "length", '"4" has no unit; write it with one of in, ft, mm, cm, m: "4 in"'),
        ("3/4", "head", '"3/4" has no unit; write it with one of ft, in, m, cm, mm: "3/4 ft"'),
        ("120 gph", "length", '"120 gph" is a flow; a length is wanted; write it so: "14 in"'),
        ("4 ft", "flow", '"4 ft" is a length; a flow is wanted; write it so: "120 gph"'),
        ("15 psi", "head", '"15 psi" is a pressure; a head is wanted; write it so: "1.2 ft"'),
        ("50 %", "flow", '"50 %" is a percentage; a flow is wanted; write it so: "120 gph"'),
        ("45 deg", "percent", '"45 deg" is an angle; a percentage is wanted; write it so: "10 %"'),
        (
            "3 inchs",
            "length",
            '"inchs" is no unit of length that is known here; did you mean "inch',
        ),
        ("25 degC", "salinity", "is a temperature; a salinity is wanted"),
        ("120 gphh", "flow", 'did you mean "gph"'),
        ("soon", "time", '"soon" is not a time; write a number and its unit: "30 s"'),
        ("1,5 m", "length", 'write a point for decimals ("1.5 m")'),
        ("1/0 in", "length", '"1/0 in" divides by zero; write a fraction like "3/4"'),
        ("1e30 in", "length", '"1e30 in" is far beyond any plumbing; check it'),
        ("1.2 sg", "salinity", '"1.2 sg": no salt water has that specific gravity'),
        ("0.99 sg", "salinity", "no salt water"),
        ("790 BTU", "power", '"BTU" is no unit of power that is known here; did you mean "btu'),
        ("5 ft", "heat", "is a length; a flow of heat is wanted"),
    ],
)
def test_a_refusal_says_what_is_wrong_and_the_way_out(
    text: str, dimension: str, message: str
) -> None:
    with pytest.raises(QuantityError) as caught:
        parse(text, dimension)
    assert message in str(caught.value)


@pytest.mark.parametrize("dimension", sorted(_UNITS))
def test_every_dimension_has_a_largest_size(dimension: str) -> None:
    unit = next(iter(_UNITS[dimension]))
    with pytest.raises(QuantityError, match="far beyond"):
        parse(f"1e200 {unit}", dimension)


@pytest.mark.parametrize("dimension", sorted(_UNITS))
def test_what_a_remedy_offers_is_taken(dimension: str) -> None:
    with pytest.raises(QuantityError) as caught:
        parse("1", dimension)
    offered = caught.value.remedy.removeprefix("write it with one of ").partition(": ")[0]
    for unit in offered.split(", "):
        number = 1.02 if unit == "sg" else 2
        parse(f"{number} {unit}", dimension)
    with pytest.raises(QuantityError) as caught:
        parse("x", dimension)
    parse(caught.value.remedy.partition('"')[2].rstrip('"'), dimension)
    with pytest.raises(QuantityError) as caught:
        parse_range("x", dimension)
    if dimension != "salinity":
        low, high = parse_range(caught.value.remedy.partition('"')[2].rstrip('"'), dimension)
        assert low < high


def test_nothing_colder_than_absolute_zero() -> None:
    assert parse("-5 degC", "temperature") == -5.0
    with pytest.raises(QuantityError):
        parse("-300 degC", "temperature")


@pytest.mark.parametrize("salinity", [0.5, 10.0, 30.0, 33.0, 35.0, 37.0, 40.0, 49.0])
def test_specific_gravity_is_turned_back_into_salinity(salinity: float) -> None:
    gravity = density(25.0, salinity=salinity) / density(25.0, salinity=0.0)
    assert parse(f"{gravity:.12f} sg", "salinity") == pytest.approx(salinity, abs=1e-5)


@pytest.mark.parametrize(
    ("salinity", "within"),
    [
        # Three standard errors of EOS-80, 0.011 kg/m³, are 0.015 g/kg of salt.
        *((salinity, 0.015) for salinity in (0.5, 10.0, 30.0, 33.0, 35.0, 37.0, 40.0, 42.0)),
        # Beyond the 42 that it was made for, what is claimed there: 1e-4 of density.
        *((salinity, 0.14) for salinity in (45.0, 49.0)),
    ],
)
def test_specific_gravity_against_teos(salinity: float, within: float) -> None:
    # Outside check, teos-10: its fresh and salt water at one atmosphere, sea pressure 0 dbar.
    gravity = float(gsw.rho_t_exact(salinity, 25.0, 0.0) / gsw.rho_t_exact(0.0, 25.0, 0.0))
    assert parse(f"{gravity:.12f} sg", "salinity") == pytest.approx(salinity, abs=within)


def test_specific_gravity_against_unesco() -> None:
    # unesco-1983, page 19: practical salinities 35 and 0 at 25 degC weigh 1023.34306 and
    # 997.04796 kg/m³; from memory. The limit allows for print at 25 degC of the scale of 1968.
    gravity = 1023.34306 / 997.04796
    assert parse(f"{gravity:.7f} sg", "salinity") == pytest.approx(35.16504, abs=0.005)


def test_gravity_that_hobby_hydrometers_call_full_strength() -> None:
    # 1.0264 at 25/25 degC for 35 parts per thousand: common practice, no source
    assert parse("1.0264 sg", "salinity") == pytest.approx(35.0, abs=0.3)


def test_specific_gravity_of_fresh_water_is_one() -> None:
    assert parse("1 sg", "salinity") == 0.0


def test_a_practical_unit_is_a_little_more_than_a_gram() -> None:
    # 35 practical units are 35.16504 g/kg: millero-2008
    assert parse("35 psu", "salinity") == pytest.approx(35.16504, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "dimension", "low", "high"),
    [
        ("100..150 m3/s", "flow", 100.0, 150.0),
        ("100 m3/s .. 150 m3/s", "flow", 100.0, 150.0),
        ("1/2..3/4 in", "length", 0.5 * INCH, 0.75 * INCH),
        ("1 1/4..1 1/2 in", "length", 1.25 * INCH, 1.5 * INCH),
        ("-1..2 in", "length", -INCH, 2.0 * INCH),
        ("40..100 %", "percent", 0.4, 1.0),
        ("100 gph .. 10 L/min", "flow", 100.0 * 231.0 * INCH**3 / 3600.0, 1e-2 / 60.0),
        ("6 in..1 ft", "length", 0.5 * FOOT, FOOT),
        ("6 ft..8 ft 3 in", "length", 6.0 * FOOT, 8.25 * FOOT),
        ("1.5...5 m", "length", 1.5, 0.5),  # the caller orders: only it knows what to say
    ],
)
def test_ranges(text: str, dimension: str, low: float, high: float) -> None:
    assert parse_range(text, dimension) == pytest.approx((low, high), rel=1e-12)


@pytest.mark.parametrize(
    "text",
    ["", "..", "100 gph", "100..", "..100 gph", "1..2", "1..2..3 gph", "a..b gph", "100 gph..150"],
)
def test_what_is_no_range_is_refused(text: str) -> None:
    with pytest.raises(QuantityError):
        parse_range(text, "flow")


def test_a_range_lends_no_feet_and_inches() -> None:
    # else "6..8 ft 3 in" would begin at 6 ft 3 in
    with pytest.raises(QuantityError, match='"6" has no unit'):
        parse_range("6..8 ft 3 in", "length")


@pytest.mark.parametrize(
    ("text", "dimension"),
    [
        ("120 gph", "flow"), ("3 ft3/s", "flow"), ("4 ft", "length"), ("3 gal", "volume"),
        ("50 %", "percent"), ("77 F", "temperature"), ("35 ppt", "salinity"), ("4", None),
        ("4 bananas", None), ("", None),
    ],
)  # fmt: skip
def test_dimension_of(text: str, dimension: str | None) -> None:
    assert dimension_of(text) == dimension


@given(st.text(max_size=80))
def test_any_text_is_read_or_refused(text: str) -> None:
    for dimension in ("length", "flow", "temperature", "salinity"):
        try:
            assert math.isfinite(parse(text, dimension))
        except QuantityError as error:
            assert error.text == text  # noqa: PT017 - reading it is as good as refusing it
    dimension_of(text)


@given(st.text(alphabet="0123456789/.-+e ftinmgph'\"%", max_size=24))
def test_any_likely_text_is_read_or_refused(text: str) -> None:
    for dimension in ("length", "flow", "percent", "salinity"):
        try:
            assert math.isfinite(parse(text, dimension))
        except QuantityError as error:
            assert error.text == text  # noqa: PT017 - reading it is as good as refusing it


# Printing


@pytest.mark.parametrize(
    ("number", "digits", "text"),
    [
        (118.7, 3, "119"), (118.5, 3, "119"), (7.25, 3, "7.3"), (0.043, 3, "0.043"),
        (25.47, 3, "25.5"), (25.0, 3, "25.0"), (120.0, 3, "120"), (1187.4, 3, "1187"),
        (12345.6, 3, "12346"), (0.0, 3, "0"), (-0.0, 3, "0"), (-1e-9, 3, "0"), (1e-9, 3, "0"),
        (-7.25, 3, "-7.3"), (9.996, 3, "10.0"), (99.96, 3, "100"), (0.9996, 3, "1.0"),
        (999.6, 3, "1000"), (2.474, 4, "2.47"), (7.25, 1, "7"), (1e9, 3, "1000000000"),
        (math.nan, 3, "-"), (math.inf, 3, "-"),
    ],
)  # fmt: skip
def test_numbers_for_people(number: float, digits: int, text: str) -> None:
    assert significant(number, digits) == text


@pytest.mark.parametrize(
    ("gph", "said"),
    [
        (1112.4, "1112"), (101.2, "101"), (44.83, "44.8"), (10.04, "10.0"), (9.996, "10.0"),
        (9.994, "9.99"), (6.0512, "6.05"), (3.0, "3.00"), (0.4567, "0.457"), (0.0, "0"),
        (-6.0512, "-6.05"),
    ],
)  # fmt: skip
def test_flows_have_three_digits_below_ten_too(gph: float, said: str) -> None:
    us = SYSTEMS["us"]
    flow = parse(f"{gph} gph", "flow")
    assert us.figure(flow, "flow") == said
    assert us.text(flow, "flow") == f"{said} gph"


def test_other_small_figures_have_two() -> None:
    us = SYSTEMS["us"]
    assert us.text(parse("4.52 ft", "head"), "head") == "4.5 ft"
    assert us.text(parse("14.52 ft", "head"), "head") == "14.5 ft"


@given(st.floats(min_value=-1e6, max_value=1e6), st.integers(min_value=2, max_value=6))
def test_a_printed_number_is_close_and_never_minus_nought(number: float, digits: int) -> None:
    text = significant(number, digits)
    if float(text) == 0.0:
        assert text == "0"
    assert "e" not in text.lower()
    tolerance = max(0.51 * 10.0 ** (2 - digits) * abs(number), 0.51 * 10.0 ** -(digits + 2))
    assert abs(float(text) - number) <= tolerance


@pytest.mark.parametrize(
    ("system", "value", "dimension", "text"),
    [
        ("us", "118.7 gph", "flow", "119 gph"),
        ("us", "7.25 gph", "flow", "7.25 gph"),
        ("us", "0.043 ft", "head", "0.043 ft"),
        ("us", "14 in", "length", "14.0 in"),
        ("us", "77 degF", "temperature", "77.0 degF"),
        ("us", "5 ft/s", "velocity", "5.0 ft/s"),
        ("us", "15 psi", "pressure", "15.0 psi"),
        ("us", "85 %", "speed ratio", "85.0 %"),
        ("us", "45 deg", "angle", "45.0 deg"),
        ("imperial", "100 imp gph", "flow", "100 imp gph"),
        ("imperial", "10 imp gal", "volume", "10.0 imp gal"),
        ("imperial", "25 degC", "temperature", "25.0 degC"),
        ("metric", "450 L/h", "flow", "450 L/h"),
        ("metric", "120 gph", "flow", "454 L/h"),
        ("imperial", "120 gph", "flow", "99.9 imp gph"),
        ("metric", "1.25 m", "length", "1250 mm"),
        ("metric", "2 m", "head", "2.0 m"),
        ("metric", "355 mm", "length", "355 mm"),
        ("metric", "0.94e-6 m2/s", "kinematic viscosity", "0.94 mm²/s"),
        ("us", "52 W", "heat", "177 BTU/h"),
        ("imperial", "52 W", "heat", "177 BTU/h"),
        ("metric", "790 BTU/h", "heat", "232 W"),
        ("us", "790 BTU/h", "power", "232 W"),
        ("us", "0.5 K/h", "warming", "0.90 degF/h"),
        ("imperial", "0.9 degF/h", "warming", "0.50 degC/h"),
        ("metric", "0.9 degF/h", "warming", "0.50 degC/h"),
    ],
)
def test_quantities_for_people(system: str, value: str, dimension: str, text: str) -> None:
    assert SYSTEMS[system].text(parse(value, dimension), dimension) == text
    assert SYSTEMS[system].unit(dimension) == text.partition(" ")[2]


@pytest.mark.parametrize("system", SYSTEMS)
def test_what_is_printed_can_be_read_again(system: str) -> None:
    units = SYSTEMS[system]
    assert units.name == system
    for dimension in units.units:
        value = parse(f"{12.0} {units.unit(dimension)}", dimension)
        assert units.number(value, dimension) == pytest.approx(12.0, rel=1e-12)
        assert parse(units.text(value, dimension), dimension) == pytest.approx(value, rel=1e-12)


@pytest.mark.parametrize(
    ("value", "other", "said"),
    [
        (300.2, 300.0, ("300.2", "300.0")),
        (310.0, 300.0, ("310", "300")),
        (300.0004, 300.0, ("300.0004", "300.0000")),
        (300.0, 300.0, ("300", "300")),
    ],
)
def test_two_values_are_told_apart(value: float, other: float, said: tuple[str, str]) -> None:
    gph = SYSTEMS["us"].units["flow"][1]
    one, two = SYSTEMS["us"].apart(value * gph, other * gph, "flow")
    assert (one, two) == said


def test_buckets_rise_and_are_of_the_usual_sizes() -> None:
    gallon = parse("1 gal", "volume")
    assert [volume for _, volume in SYSTEMS["us"].buckets] == pytest.approx(
        [q * gallon for q in (0.25, 1, 2, 5)]
    )
    assert [volume for _, volume in SYSTEMS["metric"].buckets] == pytest.approx(
        [0.001, 0.002, 0.005, 0.01, 0.02]
    )
    for system in SYSTEMS.values():
        volumes = [volume for _, volume in system.buckets]
        assert volumes == sorted(volumes)
        for label, volume in system.buckets:
            assert parse(label, "volume") == pytest.approx(volume, rel=1e-12)
