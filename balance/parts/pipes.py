"""Pipes and hoses: their bores and roughness by trade size.

The default bore of PVC pipe is the average one. Standards fix the outside and the *least* wall;
real walls lie above it, so the bore that follows from the least wall is too wide, by 8 to 17 % of
head loss in 1 in pipe and below.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from functools import cache

from fluids.piping import schedule_lookup

from balance.errors import QuantityError
from balance.parts.tables import rows, unknown
from balance.units import parse

INCH = 0.0254

# Walls of ASTM D1785 pipe may be up to 12 % (and 0.020 in at least) above the printed least wall;
# half of that is the mean, and meets makers' average bores within 0.3 %.
_MEAN_WALL = 1.06
_SCHEDULES = ("40", "80")
_FINEST = 64  # trade sizes are fractions of an inch no finer than this


@dataclass(frozen=True)
class PipeSize:
    """A size of pipe or hose: name as the trade writes it, lengths in m.

    `outside` and `wall` are None where only the bore is known. `roughness` is the height of the
    sand grains that would give the same friction.
    """

    name: str
    bore: float
    outside: float | None
    wall: float | None
    roughness: float
    source: str


def pipe(text: str) -> PipeSize:
    """Return the size of pipe that `text` names.

    Forms: ``"1 1/4 in sch 40"`` and ``"... sch 80"`` (PVC of ASTM D1785), ``"32 mm PN10"`` and
    ``"... PN16"`` (PVC-U, outside diameter and wall of DIN 8062), ``"80 mm bore"`` (any pipe, by
    its inside diameter). PVC to a schedule has its makers' average bore; sizes that they do not
    print have the outside less 2 x 1.06 of the printed least wall. Metric pipe has its printed
    wall, the only one published.

    Raises UnknownNameError with the nearest sizes; QuantityError where the size is no length.
    """
    words = " ".join(text.split())
    if match := re.fullmatch(r"(.+?)\s*bore", words, re.IGNORECASE):
        return _by_bore(match[1], name=f"{match[1]} bore", material="plastic")
    if match := re.fullmatch(r"(.+?)\s*sch(?:ed(?:ule)?)?\.?\s*(\w+)", words, re.IGNORECASE):
        name = f"{_inches(parse(match[1], 'length'))} in sch {match[2]}"
    elif match := re.fullmatch(r"(.+?)\s*(pn)\s*(\w+)", words, re.IGNORECASE):
        name = f"{parse(match[1], 'length') * 1000.0:g} mm PN{match[3]}"
    else:
        name = words
    return _named(name, _pipes())


def sizes() -> tuple[PipeSize, ...]:
    """Return every size of pipe that has a name."""
    return tuple(_pipes().values())


def larger(size: PipeSize) -> PipeSize | None:
    """Return the next larger pipe of the same schedule or pressure class; None if none is made."""
    match = re.search(r" (sch \w+|PN\d+)$", size.name)
    if match is None:
        return None
    wider = [
        other
        for name, other in _pipes().items()
        if name.endswith(match[0]) and other.bore > size.bore
    ]
    return min(wider, key=lambda other: other.bore, default=None)


def hose(text: str) -> PipeSize:
    """Return the hose of the inside diameter that `text` gives, such as "1/2 in" or "12 mm".

    Hose is sold by its bore. Raises QuantityError where `text` is no length.
    """
    words = " ".join(text.split())
    return _by_bore(words, name=words, material="plastic")


def nominal_bore(text: str) -> float:
    """Return the bore [m] of a fitting or valve of the size that `text` names.

    ``"1 in"`` is that of schedule 40 pipe, ``"32 mm"`` that of PN10 pipe (PN16 where no PN10 is
    made): fittings are moulded to pass what the pipe passes. Any form that `pipe` reads is taken
    as well. Raises UnknownNameError with the nearest sizes; QuantityError where it is no size.
    """
    words = " ".join(text.split())
    try:
        size = parse(words, "length")
    except QuantityError:
        return pipe(words).bore
    known = _pipes()
    inches, metric = f"{_inches(size)} in", f"{size * 1000.0:g} mm"
    for name in (f"{inches} sch 40", f"{metric} PN10", f"{metric} PN16"):
        if name in known:
            return known[name].bore
    sizes = dict.fromkeys(re.sub(r" (sch \d+|PN\d+)$", "", name) for name in known)
    raise unknown("size", words, sizes)


@cache
def roughness(material: str) -> float:
    """Return the sand roughness [m] of a material of the table, such as "pvc"."""
    table = {row["material"]: float(row["roughness_mm"]) / 1000.0 for row in rows("roughness")}
    return table[material]


@cache
def _pipes() -> dict[str, PipeSize]:
    """Return every named size of pipe, name -> size."""
    averages = {f"{row['nominal']} sch {row['schedule']}": row for row in rows("pvc_average_bores")}
    sizes: dict[str, PipeSize] = {}
    for schedule in _SCHEDULES:
        nominals, _, outsides, walls = schedule_lookup[f"{schedule}D1785"]
        for nominal, outside_mm, wall_mm in zip(nominals, outsides, walls, strict=True):
            name = f"{_inches(nominal * INCH)} in sch {schedule}"
            outside, wall = outside_mm / 1000.0, wall_mm / 1000.0
            bore = outside - 2.0 * _MEAN_WALL * wall
            source = "astm-d1785, outside and least wall; bore from 1.06 of the least wall"
            if name in averages:
                bore = float(averages[name]["bore_in"]) * INCH
                source = averages[name]["source"]
            sizes[name] = PipeSize(name, bore, outside, wall, roughness("pvc"), source)
    for row in rows("metric_pipes"):
        name = f"{row['outside_mm']} mm {row['class']}"
        outside = float(row["outside_mm"]) / 1000.0
        wall = float(row["wall_mm"]) / 1000.0
        bore = outside - 2.0 * wall
        sizes[name] = PipeSize(name, bore, outside, wall, roughness("pvc"), row["source"])
    return sizes


def _by_bore(text: str, *, name: str, material: str) -> PipeSize:
    bore = parse(text, "length")
    if bore <= 0.0:
        raise QuantityError(text, "a bore must be above zero", 'write for example "80 mm"')
    return PipeSize(name, bore, None, None, roughness(material), "as given")


def _named(name: str, known: dict[str, PipeSize]) -> PipeSize:
    if name not in known:
        raise unknown("pipe", name, known)
    return known[name]


def _inches(length: float) -> str:
    """Write a length in inches the way sizes are named: 1 1/4."""
    inches = length / INCH
    size = Fraction(round(inches * _FINEST), _FINEST)
    if abs(inches - size) > 1e-6:
        return f"{inches:g}"
    whole, part = divmod(size, 1)
    if part == 0:
        return str(whole)
    return f"{whole} {part}" if whole else str(part)
