"""The tables in which docs/tees_and_valves.md sets print beside what is reckoned here."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from math import cos, exp, radians
from pathlib import Path

import numpy as np
import pytest

from balance.parts.pipes import nominal_bore
from balance.parts.tees import STRAIGHT_A, tee_bank, tee_table
from balance.parts.valves import valve

PAGE = Path(__file__).parents[2] / "docs" / "tees_and_valves.md"
INCH = 0.0254


def tee(*, into_b: float, into_s: float) -> tuple[float, float]:
    """Loss from the first straight to the second, and to the side, equal bores, 90 degrees."""
    bank = tee_bank([tee_table(area_ratio=1.0)], [STRAIGHT_A], [1.0])
    loss = bank.losses(np.array([[into_b]]), np.array([[into_s]]))
    return float(loss.first[0, 0]), float(loss.second[0, 0])


def divides(y: float) -> tuple[float, float]:
    return tee(into_b=y - 1.0, into_s=-y)


def combines(y: float) -> tuple[float, float]:
    run, apart = tee(into_b=-1.0, into_s=y)
    return run, run - apart


def side_fed(y: float) -> float:
    """Loss from the side to the second straight."""
    a_b, a_s = tee(into_b=-y, into_s=1.0)
    return a_b - a_s


def turned(y: float) -> float:
    """bassett-2001, from memory, a corner of 90 degrees, equal bores."""
    return 1.0 + y**2 - 2.0 * y * cos(radians(67.5))


# gardel-1957, from memory, equal bores, 90 degrees.
def gardel_dividing_side(y: float) -> float:
    return 0.95 * (1.0 - y) ** 2 + 1.3 * y**2 + 0.8 * y * (1.0 - y)


def gardel_dividing_run(y: float) -> float:
    return 0.03 * (1.0 - y) ** 2 + 0.35 * y**2 - 0.2 * y * (1.0 - y)


def gardel_combining_side(y: float) -> float:
    return -0.92 * (1.0 - y) ** 2 + 1.2 * y**2 + y * (1.0 - y)


def gardel_combining_run(y: float) -> float:
    return 0.03 * (1.0 - y) ** 2 + 0.62 * y**2 + y * (1.0 - y)


def k(kind: str, opening: float, *, bore: float = INCH) -> float:
    return float(valve(kind, bore=bore).loss_coefficient(np.array(opening)).k)


Column = Callable[[float], float]
TABLES: dict[str, tuple[Column, ...]] = {
    "side takes": (
        lambda y: divides(y)[1],
        gardel_dividing_side,
        turned,
        lambda y: divides(y)[0],
        gardel_dividing_run,
    ),
    "side brings": (
        lambda y: combines(y)[1],
        gardel_combining_side,
        lambda y: combines(y)[0],
        gardel_combining_run,
    ),
    # idelchik, diagram 7-29: the factor of threaded malleable iron is 1.5.
    "a straight takes": (side_fed, lambda y: 1.0 + 1.5 * y**2, turned),
    "open": (
        lambda x: k("gate", x),
        lambda x: k("gate wedge", x),
        lambda x: k("gate wedge", x) / k("gate", x),
        # miller-1978, gate and sluice valves
        lambda x: 51.45 * exp(-6.046 * x),
        lambda x: 248.89 * exp(-7.8265 * x),
    ),
    "handle": (
        lambda x: k("ball", x),
        lambda x: k("ball low loss", x),
        lambda x: k("ball low loss", x) / k("ball", x),
    ),
}
UNITS = {"%": 0.01, "deg": 1.0 / 90.0, "": 1.0}


def number(text: str) -> float:
    figure, _, unit = text.partition(" ")
    over, _, under = figure.partition("/")
    return float(over) / float(under or 1.0) * UNITS[unit]


def tables() -> Iterator[tuple[str, list[list[str]]]]:
    """Each table by the head of its first column, with its rows."""
    for found in re.findall(r"(?:^\|.*\|\n)+", PAGE.read_text(encoding="utf-8"), re.MULTILINE):
        lines = [
            [cell.strip() for cell in line.strip("|").split("|")] for line in found.split("\n")
        ]
        yield lines[0][0], lines[2:-1]


@pytest.mark.parametrize("head", TABLES)
def test_figures_of_the_page(head: str) -> None:
    rows = dict(tables())[head]
    assert len(rows) >= 3
    for label, *cells in rows:
        for cell, column in zip(cells, TABLES[head], strict=True):
            digit = 10.0 ** -len(cell.partition(".")[2])
            assert float(cell) == pytest.approx(column(number(label)), abs=0.501 * digit), label


def test_diaphragm_and_butterfly_beside_later_tests() -> None:
    # miller-1978, diaphragm and butterfly valves
    for x in np.arange(0.2, 1.01, 0.1):
        assert k("diaphragm", x) == pytest.approx(10 ** (2.2596 * exp(-1.8816 * x)), rel=0.9)
        if x > 0.39:
            assert k("butterfly", x) == pytest.approx(619.81 * exp(-7.3211 * x), rel=0.6)
    assert k("butterfly", 0.2) > 2.0 * 619.81 * exp(-7.3211 * 0.2)


# crane-tp410, appendix A: an open valve loses as much as so many bores; friction factor at 2 in.
BORES = {"gate": 8.0, "ball": 3.0, "plug": 18.0, "globe": 340.0, "butterfly": 45.0}
FRICTION_FACTOR = 0.019


def test_open_valves_of_the_page() -> None:
    rows = dict(tables())["fully open"]
    assert {row[0].strip("`") for row in rows} == BORES.keys()
    for label, here, crane in rows:
        kind = label.strip("`")
        printed = BORES[kind] * FRICTION_FACTOR
        for cell, figure in ((here, k(kind, 1.0, bore=nominal_bore("2 in"))), (crane, printed)):
            digit = 10.0 ** -len(cell.partition(".")[2])
            assert float(cell) == pytest.approx(figure, abs=0.501 * digit), label
