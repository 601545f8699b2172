"""Numbers as a person reads them."""

from __future__ import annotations

from fractions import Fraction

from balance.units import UnitSystem, significant

NONE = "-"


def bare(system: UnitSystem, value: float | None, dimension: str, digits: int = 3) -> str:
    """A number without its unit, which stands in the column's heading."""
    if value is None:
        return NONE
    return system.figure(value, dimension, digits)


SIXTEENTHS = 16  # of an inch, the finest marks of a tape that hold for pipe


def tape(system: UnitSystem, length: float | None) -> str:
    """A length without its unit as a tape shows it: "10 7/8" in inches, "276" in millimetres.

    A length is not below nothing; none is "-".
    """
    if length is None:
        return NONE
    number = system.number(length, "length")
    if system.unit("length") != "in":
        return f"{round(number):d}"
    whole, part = divmod(Fraction(round(number * SIXTEENTHS), SIXTEENTHS), 1)
    if not part:
        return str(whole)
    return f"{whole} {part}" if whole else str(part)


def taped(system: UnitSystem, length: float | None) -> str:
    """A length with its unit as a tape shows it: "10 7/8 in"."""
    return NONE if length is None else f"{tape(system, length)} {system.unit('length')}"


def tiny(system: UnitSystem, value: float, dimension: str) -> str:
    """A residual without its unit, by its power of ten: "2e-13"."""
    return f"{system.number(value, dimension):.0e}" if value else "0"


def percent(ratio: float | None, digits: int = 2) -> str:
    """A ratio as percent: "53 %"."""
    return NONE if ratio is None else f"{significant(100.0 * ratio, digits)} %"


NEARLY = 0.99  # a chance above it is not rounded to certainty


def chance(ratio: float) -> str:
    """A chance as percent: "94 %", and "> 99 %" for what is nearly sure."""
    return f"> {100.0 * NEARLY:.0f} %" if ratio > NEARLY else percent(ratio)


def speed(ratio: float) -> str:
    """A speed as percent of full speed, as it was written: "60 %", "62.5 %"."""
    return f"{100.0 * ratio:.4g} %"


def between(
    system: UnitSystem, low: float | None, high: float | None, dimension: str = "flow"
) -> str:
    """Two bounds without unit, as one would write them: "90..110", ">= 300"; empty if open."""
    if low is not None and high is not None:
        return f"{_bound(system, low, dimension)}..{_bound(system, high, dimension)}"
    if low is not None:
        return f">= {_bound(system, low, dimension)}"
    return "" if high is None else f"<= {_bound(system, high, dimension)}"


def _bound(system: UnitSystem, value: float, dimension: str) -> str:
    """A number without the noughts that say only how well a measured one is known."""
    figure = bare(system, value, dimension)
    return figure.rstrip("0").rstrip(".") if "." in figure else figure


def seconds(time: float) -> str:
    """A time for a stopwatch: "36 s", "2 min 5 s"."""
    if time < 100.0:
        return f"{time:.0f} s" if time >= 10.0 else f"{time:.1f} s"
    minutes, left = divmod(round(time), 60)
    return f"{minutes} min {left} s" if left else f"{minutes} min"


def stopwatch(time: float) -> str:
    """Seconds as a stopwatch tells them apart: "13.2 s", "36.5 s", "2 min 5 s"."""
    return f"{time:.1f} s" if time < 60.0 else seconds(time)


def signed(figure: str) -> str:
    """A figure with its sense of direction: "+12 %", "-0.3", and "0" as it is."""
    is_signed = figure.startswith("-") or figure.partition(" ")[0] == "0"
    return figure if is_signed else f"+{figure}"
