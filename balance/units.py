"""The door for quantities: text from a person becomes SI floats, and SI floats become text.

A closed table and a strict grammar.  General unit parsers take "1 1/4 in" for a quarter inch and
"35 ppt" for picopints without a word; here a text is read as a person means it or refused.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from difflib import get_close_matches
from fractions import Fraction

from balance.errors import QuantityError

LONGEST = 60  # characters of a quantity
G = 9.80665
_INCH = 0.0254
_FOOT = 12 * _INCH
_GALLON = 231 * _INCH**3
_IMPERIAL_GALLON = 4.54609e-3
_POUND = 0.45359237
_PSI = _POUND * G / _INCH**2
_ABSOLUTE = 35.16504 / 35.0  # g/kg over practical salinity
_FRESH_AT_25 = 997.047  # kg/m³, for specific gravity at 25/25 degC

# Unit names by dimension: SI value of one.  Spelling is folded before it is looked up: lower case
# but for M and L where they matter not, no dots, one space.
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
_UNITS: dict[str, dict[str, float]] = {
    "length": _LENGTHS,
    "head": {unit: _LENGTHS[unit] for unit in ("m", "cm", "mm", "ft", "foot", "feet", "in")},
    "flow": _FLOWS,
    "volume": _VOLUMES,
    "time": _TIMES,
    "pressure": {
        "pa": 1.0, "kpa": 1e3, "mbar": 100.0, "hpa": 100.0, "bar": 1e5, "psi": _PSI, "mpa": 1e6,
    },
    "temperature": {"degc": 1.0, "c": 1.0, "°c": 1.0, "degf": 5 / 9, "f": 5 / 9, "°f": 5 / 9},
    "salinity": {"g/kg": 1.0, "ppt": 1.0, "psu": 1.0, "sg": 1.0},
    "power": {"w": 1.0, "kw": 1e3, "hp": 745.6998715822702},
    "speed ratio": {"%": 0.01, "percent": 0.01},
    "percent": {"%": 0.01, "percent": 0.01},
    "angle": {"deg": 1.0, "degrees": 1.0, "°": 1.0},
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
    "area": "10 cm2", "mass": "2 kg",
}  # fmt: skip
_LARGEST = {"length": 1e6, "head": 1e6, "flow": 1e6, "volume": 1e12, "time": 1e12}
_LARGEST_OTHER = 1e15

_NUMBER = re.compile(
    r"(?P<sign>[+-])?\s*(?:"
    r"(?P<whole>\d{1,9})[\s-]+(?P<part>\d{1,4}/\d{1,4})"
    r"|(?P<fraction>\d{1,6}/\d{1,4})"
    r"|(?P<decimal>(?:\d{1,18}(?:\.\d{0,18})?|\.\d{1,18})(?:[eE][+-]?\d{1,3})?)"
    r")"
)


def _fold(unit: str) -> str:
    """Unit as it stands in the table."""
    text = " ".join(unit.strip().split()).lower().replace("³", "3").replace("²", "2")
    text = text.replace("^", "").rstrip(".").replace("µ", "u").replace("deg c", "degc")
    return text.replace("deg f", "degf")


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
        salinity (gives g/kg), power, speed ratio and percent (give 0.85 for "85 %"), angle (deg),
        turns, velocity, density, kinematic viscosity, area, mass.

    Raises
    ------
    QuantityError
        If the text is no such quantity; says what may be written instead.
    """
    shown = " ".join(text.split())
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
    rest = shown[match.end() :].strip()
    if not rest:
        raise QuantityError(
            text,
            f'"{shown}" has no unit',
            f'write it with one of {_offered(dimension)}: "{shown} {example.rpartition(" ")[2]}"',
        )
    second = re.match(r"(ft|foot|feet|')\s*(?=\d)", rest, re.IGNORECASE)
    if dimension in ("length", "head") and second is not None:
        inches = _NUMBER.fullmatch(re.sub(r"\s*(in|inch|inches|\")$", "", rest[second.end() :]))
        if inches is not None and inches["sign"] is None and re.search(r'(in|")\s*$', rest):
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
        example = _EXAMPLES[dimension]
        number, _, unit = example.partition(" ")
        raise QuantityError(
            text, f'"{text[:LONGEST]}" is not a range', f'write it so: "{number}..{number} {unit}"'
        )
    last = parse(high, dimension)
    if _NUMBER.fullmatch(low.strip()) is not None:
        match = _NUMBER.match(high.strip())
        unit = high.strip()[match.end() :] if match else ""
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
    """Salinity [g/kg] of a specific gravity at 25/25 degC, by the one-atmosphere EOS-80 density.

    Linear between rows of the density of seawater of practical salinity at 25 degC (UNESCO
    Technical Papers in Marine Science 44, 1983); g/kg by the ratio of standard seawater (TEOS-10).
    """
    salinities = (0.0, 10.0, 20.0, 30.0, 35.0, 40.0, 50.0)
    densities = (997.046, 1004.554, 1012.048, 1019.568, 1023.341, 1027.126, 1034.730)
    density = gravity * _FRESH_AT_25
    if not densities[0] - 0.05 <= density <= densities[-1]:
        raise QuantityError(
            text, f'"{text}": no salt water has that specific gravity', 'for example "1.0264 sg"'
        )
    for (s0, d0), (s1, d1) in zip(
        zip(salinities, densities, strict=True),
        zip(salinities[1:], densities[1:], strict=True),
        strict=False,
    ):
        if density <= d1:
            practical = max(0.0, s0 + (s1 - s0) * (density - d0) / (d1 - d0))
            return practical * _ABSOLUTE
    return salinities[-1] * _ABSOLUTE


def _bounded(value: float, text: str, dimension: str) -> float:
    if not math.isfinite(value) or abs(value) > _LARGEST.get(dimension, _LARGEST_OTHER):
        raise QuantityError(
            text,
            f'"{text}" is far beyond any plumbing',
            f'check it; for example "{_EXAMPLES[dimension]}"',
        )
    return value


def _a(dimension: str) -> str:
    return ("an " if dimension[0] in "aeiou" else "a ") + dimension


def _offered(dimension: str) -> str:
    shown = {
        "flow": ("gph", "gpm", "imp gph", "L/h", "L/min", "m3/h"),
        "length": ("in", "ft", "mm", "cm", "m"),
        "head": ("ft", "m", "in"),
        "volume": ("gal", "qt", "L", "imp gal", "m3"),
        "temperature": ("degC", "degF"),
        "salinity": ("g/kg", "ppt", "sg"),
    }.get(dimension, tuple(_UNITS[dimension])[:4])
    return ", ".join(shown)


def _wrong_unit(text: str, shown: str, unit: str, dimension: str) -> QuantityError:
    example = _EXAMPLES[dimension]
    other = dimension_of(shown)
    if other is not None and other != dimension:
        return QuantityError(
            text,
            f'"{shown}" is {_a(other)}; {_a(dimension)} is wanted',
            f'write it so: "{example}"',
        )
    near = get_close_matches(_fold(unit), _UNITS[dimension], n=1, cutoff=0.6)
    remedy = f'did you mean "{near[0]}"? ' if near else ""
    return QuantityError(
        text,
        f'"{unit[:20]}" is no unit of {dimension} that is known here',
        f'{remedy}units: {_offered(dimension)}; for example "{example}"',
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

    def text(self, value: float, dimension: str, digits: int = 3) -> str:
        """Value with its unit, to some significant digits: ``"119 gph"``."""
        return f"{significant(self.number(value, dimension), digits)} {self.unit(dimension)}"


def significant(number: float, digits: int = 3) -> str:
    """A number to some significant digits, without exponent, never "-0"; 1187 stays whole."""
    if number == 0 or not math.isfinite(number):
        return "0" if number == 0 else "-"
    decimals = max(0, digits - 1 - math.floor(math.log10(abs(number))))
    text = f"{number:.{min(decimals, digits + 2)}f}"
    if "." in text and abs(number) >= 10 ** (digits - 1):
        text = text.rstrip("0").rstrip(".")
    return text.lstrip("-") if float(text) == 0 else text


_COMMON = {
    "time": ("s", 1.0),
    "power": ("W", 1.0),
    "salinity": ("g/kg", 1.0),
    "density": ("kg/m³", 1.0),
    "percent": ("%", 0.01),
    "speed ratio": ("%", 0.01),
    "kinematic viscosity": ("mm²/s", 1e-6),
}
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
            "pressure": ("psi", _PSI),
            "temperature": ("degF", 1.0),
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
            "pressure": ("psi", _PSI),
            "temperature": ("degC", 1.0),
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
            "pressure": ("kPa", 1e3),
            "temperature": ("degC", 1.0),
        },
        _METRIC_BUCKETS,
    ),
}
