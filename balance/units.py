"""The door for quantities: text from a person becomes SI floats, and SI floats become text.

A closed table and a strict grammar.  General unit parsers take "1 1/4 in" for a quarter inch and
"35 ppt" for picopints without a word; here a text is read as a person means it or refused.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from difflib import get_close_matches
from fractions import Fraction

from balance.errors import QuantityError

LONGEST = 60  # characters of a quantity
G = 9.80665  # m/s², standard: by definition
ABSOLUTE_SALINITY = 35.16504 / 35.0
"""g/kg for one practical unit of standard seawater: millero-2008."""

# All by definition, in SI.
_INCH = 0.0254
_FOOT = 0.3048
_GALLON = 231 * _INCH**3
_IMPERIAL_GALLON = 4.54609e-3
_POUND = 0.45359237
_PSI = _POUND * G / _INCH**2
_FAHRENHEIT = 5 / 9
_BTU = _POUND * 4186.8 * _FAHRENHEIT  # of the international table

# Unit names by dimension: SI value of one.  Case is folded before the look-up, but for MPa, which
# differs from mPa by nothing else.
_LENGTHS = {
    "m": 1.0, "cm": 0.01, "mm": 0.001, "um": 1e-6, "in": _INCH, "inch": _INCH, "inches": _INCH,
    '"': _INCH, "ft": _FOOT, "foot": _FOOT, "feet": _FOOT, "'": _FOOT, "yd": 3 * _FOOT,
}  # fmt: skip
_VOLUMES = {
    "l": 1e-3, "liter": 1e-3, "liters": 1e-3, "litre": 1e-3, "litres": 1e-3, "ml": 1e-6,
    "m3": 1.0, "ft3": _FOOT**3, "cu ft": _FOOT**3, "gal": _GALLON, "gallon": _GALLON,
    "gallons": _GALLON, "us gal": _GALLON, "qt": _GALLON / 4, "pt": _GALLON / 8,
    "imp gal": _IMPERIAL_GALLON, "imp qt": _IMPERIAL_GALLON / 4,
}  # fmt: skip
_TIMES = {
    "s": 1.0, "sec": 1.0, "second": 1.0, "seconds": 1.0, "min": 60.0, "minute": 60.0,
    "minutes": 60.0, "h": 3600.0, "hr": 3600.0, "hour": 3600.0, "hours": 3600.0, "d": 86400.0,
    "day": 86400.0, "days": 86400.0,
}  # fmt: skip
_FLOWS = {
    "gph": _GALLON / 3600, "us gph": _GALLON / 3600, "gpm": _GALLON / 60, "us gpm": _GALLON / 60,
    "imp gph": _IMPERIAL_GALLON / 3600, "imp gpm": _IMPERIAL_GALLON / 60, "lph": 1e-3 / 3600,
    "lpm": 1e-3 / 60, "cfs": _FOOT**3, "cfm": _FOOT**3 / 60,
}  # fmt: skip
_POWERS = {
    "w": 1.0, "kw": 1e3, "hp": 745.6998715822702, "btu/h": _BTU / 3600, "btu/hr": _BTU / 3600,
    "btu/hour": _BTU / 3600, "btuh": _BTU / 3600,
}  # fmt: skip
_UNITS: dict[str, dict[str, float]] = {
    "length": _LENGTHS,
    "head": _LENGTHS,
    "flow": _FLOWS,
    "volume": _VOLUMES,
    "time": _TIMES,
    "pressure": {
        "pa": 1.0, "kpa": 1e3, "mbar": 100.0, "hpa": 100.0, "bar": 1e5, "psi": _PSI, "MPa": 1e6,
    },
    "temperature": {
        "degc": 1.0, "c": 1.0, "°c": 1.0, "degf": _FAHRENHEIT, "f": _FAHRENHEIT,
        "°f": _FAHRENHEIT,
    },
    "salinity": {"g/kg": 1.0, "ppt": 1.0, "psu": ABSOLUTE_SALINITY, "sg": 1.0},
    "power": _POWERS,
    "heat": _POWERS,
    "warming": {"degc/h": 1 / 3600, "k/h": 1 / 3600, "degf/h": _FAHRENHEIT / 3600},
    "percent": {"%": 0.01, "percent": 0.01},
    "speed ratio": {"%": 0.01, "percent": 0.01},
    "angle": {"deg": 1.0, "degree": 1.0, "degrees": 1.0, "°": 1.0},
    "turns": {"turn": 1.0, "turns": 1.0},
    "velocity": {"m/s": 1.0, "ft/s": _FOOT, "cm/s": 0.01},
    "density": {"kg/m3": 1.0, "g/cm3": 1e3, "g/ml": 1e3, "kg/l": 1e3, "lb/ft3": _POUND / _FOOT**3},
    "kinematic viscosity": {"m2/s": 1.0, "mm2/s": 1e-6, "cst": 1e-6, "ft2/s": _FOOT**2},
    "area": {"m2": 1.0, "cm2": 1e-4, "mm2": 1e-6, "in2": _INCH**2, "ft2": _FOOT**2},
    "mass": {"kg": 1.0, "g": 1e-3, "lb": _POUND, "oz": _POUND / 16},
}  # fmt: skip
_EXAMPLES = {
    "length": "14 in", "head": "1.2 ft", "flow": "120 gph", "volume": "10 gal", "time": "30 s",
    "pressure": "15 psi", "temperature": "25 degC", "salinity": "35 g/kg", "power": "35 W",
    "speed ratio": "85 %", "percent": "10 %", "angle": "45 deg", "turns": "3 turns",
    "velocity": "5 ft/s", "density": "1023 kg/m3", "kinematic viscosity": "0.94e-6 m2/s",
    "area": "10 cm2", "mass": "2 kg", "heat": "790 BTU/h", "warming": "0.5 degC/h",
}  # fmt: skip
_OFFERED = {
    "length": "in, ft, mm, cm, m", "head": "ft, in, m, cm, mm",
    "flow": "gph, gpm, imp gph, L/h, L/min, m3/h", "volume": "gal, qt, L, imp gal, m3",
    "time": "s, min, h, days", "pressure": "psi, kPa, bar, mbar", "temperature": "degC, degF",
    "salinity": "g/kg, ppt, sg", "power": "W, kW, hp, BTU/h", "speed ratio": "%", "percent": "%",
    "angle": "deg", "turns": "turns", "velocity": "ft/s, m/s, cm/s",
    "density": "kg/m3, g/mL, lb/ft3", "kinematic viscosity": "m2/s, mm2/s, cSt",
    "area": "in2, ft2, cm2, mm2, m2", "mass": "kg, g, lb, oz", "heat": "BTU/h, W, kW",
    "warming": "degF/h, degC/h, K/h",
}  # fmt: skip
# What a size cannot pass without being a slip of the pen, in SI.
_LARGEST = {
    "length": 1e6, "head": 1e6, "flow": 1e6, "volume": 1e12, "time": 1e12, "pressure": 1e10,
    "temperature": 1e3, "salinity": 1e3, "power": 1e9, "speed ratio": 100.0, "percent": 100.0,
    "angle": 3600.0, "turns": 1000.0, "velocity": 1e4, "density": 1e5,
    "kinematic viscosity": 10.0, "area": 1e12, "mass": 1e12, "heat": 1e9, "warming": 1e6,
}  # fmt: skip
_COLDEST = -273.15  # degC

_NUMBER = re.compile(
    r"(?P<sign>[+-])?\s*(?:"
    r"(?P<whole>\d{1,9})(?:\s+|-)(?P<part>\d{1,4}/\d{1,4})"
    r"|(?P<fraction>\d{1,6}/\d{1,4})"
    r"|(?P<decimal>(?:\d{1,18}(?:\.\d{0,18})?|\.\d{1,18})(?:[eE][+-]?\d{1,3})?)"
    r")",
    re.ASCII,  # digits of other scripts are no digits here
)
_PLAIN = str.maketrans("³²µμ’′”″", "32uu''\"\"")


def _fold(unit: str) -> str:
    """Unit as it stands in the table."""
    text = " ".join(unit.split()).translate(_PLAIN).replace("^", "").rstrip(".")
    if text == "MPa":
        return text
    text = text.lower().replace(" per ", "/").replace(" / ", "/")
    return text.replace("deg c", "degc").replace("deg f", "degf")


def _unit(text: str, dimension: str) -> float | None:
    folded = _fold(text)
    known = _UNITS[dimension]
    if folded in known:
        return known[folded]
    if dimension == "flow" and "/" in folded:
        volume, _, time = folded.partition("/")
        if volume.strip() in _VOLUMES and time.strip() in _TIMES:
            return _VOLUMES[volume.strip()] / _TIMES[time.strip()]
    return None


def dimension_of(text: str) -> str | None:
    """Dimension that a text most likely has, None if its unit is unknown."""
    match = _NUMBER.match(text.strip())
    if match is None:
        return None
    rest = text.strip()[match.end() :]
    return next((name for name in _UNITS if rest and _unit(rest, name) is not None), None)


def parse(text: str, dimension: str) -> float:
    """SI value of a quantity.

    Parameters
    ----------
    text
        Number and unit: ``"120 gph"``, ``"3/4 in"``, ``"1 1/4 in"``, ``"6 ft 3 in"``.  A sign may
        stand on the first number only.
    dimension
        One of the table's: length, head, flow, volume, time, pressure, temperature (gives degC),
        salinity (gives g/kg), power, heat (gives W), warming (gives K/s), speed ratio and percent
        (give 0.85 for "85 %"), angle (deg), turns, velocity, density, kinematic viscosity, area,
        mass.

    Raises
    ------
    QuantityError
        If the text is no such quantity; says what may be written instead.
    """
    shown = " ".join(text[: LONGEST + 1].split())
    example = _EXAMPLES[dimension]
    if len(text) > LONGEST:
        raise QuantityError(
            text, f'"{shown[:30]}..." is too long for a {dimension}', f'write "{example}"'
        )
    match = _NUMBER.match(shown)
    if match is None or match.end() == 0:
        raise QuantityError(
            text, f'"{shown}" is not {_a(dimension)}', f'write a number and its unit: "{example}"'
        )
    value = _value(match, text)
    rest = shown[match.end() :].strip().translate(_PLAIN)
    if rest.startswith(","):
        raise QuantityError(
            text,
            f'"{shown}" has a comma in its number',
            'write a point for decimals ("1.5 m") and nothing between thousands ("1200 gph")',
        )
    if not rest:
        raise QuantityError(
            text,
            f'"{shown}" has no unit',
            f'write it with one of {_OFFERED[dimension]}: "{shown} {example.partition(" ")[2]}"',
        )
    second = re.match(r"(ft|foot|feet|')\s*(?=\d)", rest, re.IGNORECASE)
    if dimension in ("length", "head") and second is not None:
        inches = _NUMBER.match(rest, second.end())
        if inches is not None and _unit(rest[inches.end() :], "length") == _INCH:
            size = abs(value) * _FOOT + _value(inches, text) * _INCH
            return _bounded(math.copysign(size, value), text, dimension)
    factor = _unit(rest, dimension)
    if factor is None:
        raise _wrong_unit(text, shown, rest, dimension)
    return _bounded(_scaled(value, factor, _fold(rest), dimension, text), text, dimension)


def parse_range(text: str, dimension: str) -> tuple[float, float]:
    """SI values of a range such as ``"100..150 gph"``; a unit on the last is enough."""
    low, dots, high = text.partition("..")
    if not dots or not low.strip() or not high.strip():
        number, _, unit = _EXAMPLES[dimension].partition(" ")
        example = f"{number}..{2 * float(number):g} {unit}"
        raise QuantityError(text, f'"{text[:LONGEST]}" is not a range', f'write it so: "{example}"')
    last = parse(high, dimension)
    first = _NUMBER.match(high.strip())
    if first is not None and _NUMBER.fullmatch(low.strip()) is not None:
        unit = high.strip()[first.end() :]
        # "6..8 ft 3 in" has no one unit to lend to the 6: left bare, it is refused.
        if _unit(unit, dimension) is not None:
            low = f"{low.strip()} {unit.strip()}"
    return parse(low, dimension), last


def _value(match: re.Match[str], text: str) -> float:
    try:
        if match["decimal"] is not None:
            value = float(match["decimal"])
        elif match["fraction"] is not None:
            value = float(Fraction(match["fraction"]))
        else:
            value = float(int(match["whole"]) + Fraction(match["part"]))
    except ZeroDivisionError:
        raise QuantityError(
            text, f'"{text}" divides by zero', 'write a fraction like "3/4"'
        ) from None
    return -value if match["sign"] == "-" else value


def _scaled(value: float, factor: float, unit: str, dimension: str, text: str) -> float:
    if dimension == "temperature" and unit in ("degf", "f", "°f"):
        return (value - 32.0) * factor
    if dimension == "salinity" and unit == "sg":
        return _salinity_of(value, text)
    return value * factor


def _salinity_of(gravity: float, text: str) -> float:
    """Salinity [g/kg] of a specific gravity at 25/25 degC.

    Inverts the density of seawater at one atmosphere, rho = rho0 + a S + b S^1.5 + c S^2 with S the
    practical salinity, whose coefficients at 25 degC stand below, over fresh water at 25 degC.

    Source: unesco-1983 (EOS-80).
    """
    fresh, a, b, c = 997.0464198, 0.7592294095, -4.20191782e-3, 4.8314e-4
    excess = (gravity - 1.0) * fresh
    if not 0.0 <= excess <= 38.0:  # 50 g/kg
        raise QuantityError(
            text, f'"{text}": no salt water has that specific gravity', 'for example "1.0264 sg"'
        )
    practical = excess / a
    for _ in range(6):  # the curve is so near a line that each step of Newton squares 1e-2
        root = math.sqrt(practical)
        missing = excess - practical * (a + b * root + c * practical)
        practical += missing / (a + 1.5 * b * root + 2.0 * c * practical)
    return max(practical, 0.0) * ABSOLUTE_SALINITY


def _bounded(value: float, text: str, dimension: str) -> float:
    frozen = dimension == "temperature" and value < _COLDEST
    if not abs(value) <= _LARGEST[dimension] or frozen:
        raise QuantityError(
            text,
            f'"{text}" is far beyond any plumbing',
            f'check it; for example "{_EXAMPLES[dimension]}"',
        )
    return value


def _a(dimension: str) -> str:
    nouns = {"percent": "percentage", "turns": "number of turns", "heat": "flow of heat"}
    noun = nouns.get(dimension, dimension)
    return ("an " if noun[0] in "aeiou" else "a ") + noun


def _wrong_unit(text: str, shown: str, unit: str, dimension: str) -> QuantityError:
    example = _EXAMPLES[dimension]
    other = dimension_of(shown)
    if other is not None and other != dimension:
        return QuantityError(
            text,
            f'"{shown}" is {_a(other)}; {_a(dimension)} is wanted',
            f'write it so: "{example}"',
        )
    near = get_close_matches(_fold(unit), _UNITS[dimension], n=2, cutoff=0.6)
    guesses = " or ".join(f'"{name}"' for name in near)
    remedy = f"did you mean {guesses}? " if near else ""
    return QuantityError(
        text,
        f'"{unit[:20]}" is no unit of {dimension} that is known here',
        f'{remedy}units: {_OFFERED[dimension]}; for example "{example}"',
    )


# Printing ---------------------------------------------------------------------------------------


@dataclass(frozen=True)
class UnitSystem:
    """Units in which answers are printed.

    Attributes
    ----------
    name : us, imperial or metric
    units : for each dimension the unit's name and its SI value
    buckets : (label, volume [m³]) of the usual vessels for a stopwatch, rising
    """

    name: str
    units: dict[str, tuple[str, float]]
    buckets: tuple[tuple[str, float], ...]

    def unit(self, dimension: str) -> str:
        """Name of the unit of a dimension."""
        return self.units[dimension][0]

    def number(self, value: float, dimension: str) -> float:
        """Value in the system's unit, from SI."""
        if dimension == "temperature":
            return value * 1.8 + 32.0 if self.name == "us" else value
        return value / self.units[dimension][1]

    def figure(self, value: float, dimension: str, digits: int = 3) -> str:
        """Value without its unit, to some significant digits.

        Flows keep all of them below 10 too: a stopwatch tells 6.05 gph from 6.14 as well as 60.5
        from 61.4.
        """
        number = self.number(value, dimension)
        small = dimension == "flow" and abs(number) < TEN
        return significant(number, digits + 1 if small else digits)

    def text(self, value: float, dimension: str, digits: int = 3) -> str:
        """Value with its unit, to some significant digits: ``"119 gph"``."""
        return f"{self.figure(value, dimension, digits)} {self.unit(dimension)}"

    def apart(self, value: float, other: float, dimension: str) -> tuple[str, str]:
        """Two values without unit, with digits enough that one can tell them apart."""
        for digits in range(3, 10):
            one, two = (self.figure(each, dimension, digits) for each in (value, other))
            if one != two:
                return one, two
        return self.figure(value, dimension), self.figure(other, dimension)


TEN = 9.995  # what is less is printed below 10, to three digits


def significant(number: float, digits: int = 3) -> str:
    """A number rounded for people, without exponent, never "-0".

    Below 10 it has one digit fewer, since small figures are read off small things: with three
    digits 118.7 is "119", 7.25 "7.3" and 0.043 "0.043"; 1187 stays whole.
    """
    if not math.isfinite(number):
        return "-"
    if number == 0:
        return "0"
    # Twelve digits first: a half that the change of units has blurred is still rounded up.
    exact = Decimal(f"{number:.12g}")
    rounded = exact.quantize(_last_place(exact, digits), ROUND_HALF_UP)
    # Again where rounding has carried into a new digit: 99.96 is "100", not "100.0".
    rounded = exact.quantize(_last_place(rounded, digits), ROUND_HALF_UP)
    return f"{rounded:f}" if rounded else "0"


def _last_place(number: Decimal, digits: int) -> Decimal:
    kept = digits if abs(number) >= 10 else max(digits - 1, 1)
    decimals = kept - 1 - number.adjusted()
    return Decimal(1).scaleb(-min(max(decimals, 0), digits + 2))


_COMMON = {
    "time": ("s", 1.0),
    "power": ("W", 1.0),
    "salinity": ("g/kg", 1.0),
    "density": ("kg/m³", 1.0),
    "percent": ("%", 0.01),
    "speed ratio": ("%", 0.01),
    "kinematic viscosity": ("mm²/s", 1e-6),
    "angle": ("deg", 1.0),
    "turns": ("turns", 1.0),
}
# What stands about in a fish room; common practice, no source.
_METRIC_BUCKETS = tuple((f"{n} L", n * 1e-3) for n in (1, 2, 5, 10, 20))

SYSTEMS = {
    "us": UnitSystem(
        "us",
        {
            **_COMMON,
            "flow": ("gph", _GALLON / 3600),
            "head": ("ft", _FOOT),
            "length": ("in", _INCH),
            "velocity": ("ft/s", _FOOT),
            "volume": ("gal", _GALLON),
            "mass": ("lb", _POUND),
            "pressure": ("psi", _PSI),
            "temperature": ("degF", 1.0),
            "heat": ("BTU/h", _BTU / 3600),
            "warming": ("degF/h", _FAHRENHEIT / 3600),
        },
        tuple(
            (label, n * _GALLON)
            for label, n in (("1 qt", 0.25), ("1 gal", 1), ("2 gal", 2), ("5 gal", 5))
        ),
    ),
    "imperial": UnitSystem(
        "imperial",
        {
            **_COMMON,
            "flow": ("imp gph", _IMPERIAL_GALLON / 3600),
            "head": ("ft", _FOOT),
            "length": ("in", _INCH),
            "velocity": ("ft/s", _FOOT),
            "volume": ("imp gal", _IMPERIAL_GALLON),
            "mass": ("lb", _POUND),
            "pressure": ("psi", _PSI),
            "temperature": ("degC", 1.0),
            "heat": ("BTU/h", _BTU / 3600),
            "warming": ("degC/h", 1 / 3600),
        },
        _METRIC_BUCKETS,
    ),
    "metric": UnitSystem(
        "metric",
        {
            **_COMMON,
            "flow": ("L/h", 1e-3 / 3600),
            "head": ("m", 1.0),
            "length": ("mm", 1e-3),
            "velocity": ("m/s", 1.0),
            "volume": ("L", 1e-3),
            "mass": ("kg", 1.0),
            "pressure": ("kPa", 1e3),
            "temperature": ("degC", 1.0),
            "heat": ("W", 1.0),
            "warming": ("degC/h", 1 / 3600),
        },
        _METRIC_BUCKETS,
    ),
}
