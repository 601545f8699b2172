"""Marks that a hand can set: how far apart they are, and how a person says so."""

from __future__ import annotations

import re
from dataclasses import dataclass

from balance.errors import QuantityError, UsageError
from balance.network.arrays import Valve
from balance.units import parse

DEGREES = 90.0
DEFAULT = {"degrees": 1.0, "turns": 0.125, "percent": 1.0}
"""Finest marks that a hand can read off a handle; our own choice."""


@dataclass(frozen=True)
class Marks:
    """Finest mark of each kind of handle: degrees, turns, percent of travel."""

    degrees: float = DEFAULT["degrees"]
    turns: float = DEFAULT["turns"]
    percent: float = DEFAULT["percent"]

    def step(self, valve: Valve) -> float:
        """Share of a valve's travel between two of its marks."""
        return {"degrees": self.degrees, "turns": self.turns, "percent": self.percent}[
            valve.part.handle
        ] / travel(valve)

    def label(self, valve: Valve) -> str:
        """A step as a person says it: "1 deg", "1/8 turn", "1 %"."""
        match valve.part.handle:
            case "degrees":
                return f"{self.degrees:g} deg"
            case "turns":
                return "1/8 turn" if self.turns == DEFAULT["turns"] else f"{self.turns:g} turn"
            case "percent":
                return f"{self.percent:g} %"


def travel(valve: Valve) -> float:
    """Travel of a handle in its own unit: 90 degrees, its turns, 100 percent."""
    match valve.part.handle:
        case "degrees":
            return DEGREES
        case "turns":
            return valve.part.turns or 1.0
        case "percent":
            return 100.0


def marks_of(text: str | None) -> Marks:
    """Marks from words such as "5 deg", "1/4 turn" or "2 %", several joined by commas.

    Raises
    ------
    UsageError
        If the text is none of these.
    """
    if text is None:
        return Marks()
    found: dict[str, float] = {}
    for word in re.split(r"\s*,\s*", text.strip()):
        for key, dimension, factor in (
            ("degrees", "angle", 1.0),
            ("turns", "turns", 1.0),
            ("percent", "percent", 100.0),
        ):
            try:
                value = parse(word, dimension) * factor
            except QuantityError:
                continue
            if value > 0.0:
                found[key] = value
            break
        else:
            value = 0.0
        if value <= 0.0:
            raise UsageError(
                f'"{word}" is no distance between marks; write "5 deg", "1/4 turn" or "2 %"'
            )
    return Marks(**found)
