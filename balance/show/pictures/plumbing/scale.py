"""A scale of heights beside the rows of vessels: true within each, broken between them."""

from __future__ import annotations

import math
from itertools import pairwise

from balance.plan.model import Plan
from balance.show.pictures.canvas import text_width
from balance.show.pictures.plumbing.rows import span_of
from balance.show.pictures.plumbing.things import Rule, Words
from balance.units import SYSTEMS

SIZE = 11.0  # of its numbers
APART = 18.0  # between two marks, at least
Zone = tuple[float, float, float, float]


def room_for_scale(plan: Plan) -> float:
    """Give the width of the numbers beside the scale, in pixels."""
    system = SYSTEMS[plan.units]
    spans = [height for name in plan.vessels for height in span_of(plan, name)]
    numbers = [f"{system.number(height, 'length'):.0f}" for height in spans]
    return max((text_width(number, SIZE) for number in numbers), default=0.0)


def scale_of(plan: Plan, zones: list[Zone], x: float) -> tuple[list[Rule], list[Words]]:
    """Draw the scale.

    Parameters
    ----------
    zones : of each row, its upper and lower height [m] and where these lie on the sheet
    """
    system = SYSTEMS[plan.units]
    rules, words = [], []
    for high, low, top, bottom in zones:
        rules.append(Rule(((x, top), (x, bottom))))
        upper, lower = (system.number(height, "length") for height in (high, low))
        pixels = (bottom - top) / max(upper - lower, 1e-9)
        step = _step(APART / pixels)
        mark = math.ceil(lower / step - 1e-9)
        while mark * step <= upper + 1e-9:
            y = bottom - (mark * step - lower) * pixels
            rules.append(Rule(((x, y), (x - 4.0, y))))
            words.append(
                Words(x - 7.0, y + 4.0, f"{mark * step:g}", SIZE, role="soft", anchor="right")
            )
            mark += 1
    for (*_, above), (_, _, below, _) in pairwise(zones):
        middle = (above + below) / 2
        rules.append(
            Rule(((x, above), (x, middle - 7.0), (x - 5.0, middle - 4.0), (x + 5.0, middle - 1.0)))
        )
        rules.append(
            Rule(((x - 5.0, middle + 1.0), (x + 5.0, middle + 4.0), (x, middle + 7.0), (x, below)))
        )
    if zones:
        unit = system.unit("length")
        words.append(Words(x - 7.0, zones[0][2] - 10.0, unit, SIZE, role="soft", anchor="right"))
    return rules, words


def _step(least: float) -> float:
    """Give the least of 1, 2, 5, 10 ... that is no less."""
    power = 10.0 ** math.floor(math.log10(least))
    return next(
        power * factor for factor in (1.0, 2.0, 5.0, 10.0) if power * factor >= least * 0.999
    )
