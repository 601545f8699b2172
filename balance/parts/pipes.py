"""Pipes and hoses: their bores, roughness and pressures by trade size.

The bore of a pipe is an average one. Standards fix the outside and the *least* wall; real walls
lie above it, so the bore that follows from the least wall is too wide, by 8 to 17 % of head loss in
1 in PVC pipe and below. Where makers print an average bore, that is taken; else the middle of what
the standard allows. `docs/pipes.md` tells how much the choice matters.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cache

from balance.errors import QuantityError, UnknownNameError
from balance.parts.tables import look_up, rows, unknown
from balance.units import parse

INCH = 0.0254

DEFAULT_HOSE = "vinyl"
_FITTINGS = ("sch 40", "PN10", "PN16")  # series by which fittings are sized, in this order
_FINEST = 64  # trade sizes are fractions of an inch no finer than this
_SIZE = re.compile(r"(.*?(?:mm|cm|inch(?:es)?|in|[\"″]))\.?(?![a-z])\s*(.*)", re.IGNORECASE)
_NOMINAL = "nominal bore"
_LENGTHS = ("outside", "outside_most", "wall", "wall_most", "bore")


@dataclass(frozen=True)
class PipeSize:
    """A size of pipe or hose.

    Attributes
    ----------
    name : as the trade writes it
    series : what the name says beyond the size, such as "sch 40"; empty for a hose or a bare bore
    material : a key of the tables of roughness and of temperature
    bore : inside diameter [m]
    outside, wall : outside diameter and least wall [m]; None where only the bore is known
    mean_outside : the middle of what the standard allows the outside diameter to be [m], or None
    roughness : height of the sand grains that would give the same friction [m]
    rating : gauge pressure that it stands in cool water [Pa], see `balance.parts.ratings`; zero
        where it is not made for pressure, None where nothing is known of it
    source : where all this comes from
    """

    name: str
    series: str
    material: str
    bore: float
    outside: float | None
    mean_outside: float | None
    wall: float | None
    roughness: float
    rating: float | None
    source: str

    @property
    def trade_size(self) -> str:
        """Size by which it is sold, without its series: "1 1/4 in"."""
        plain = self.name.removesuffix(_NOMINAL).strip()
        return plain.removesuffix(self.series).strip()


def pipe(text: str) -> PipeSize:
    """Return the size of pipe that `text` names.

    Forms: a size and a series, as in ``"1 1/4 in sch 40"``, ``"1 in sch 80 CPVC"`` or ``"32 mm
    PN10"`` (`series` lists them all); behind it ``nominal bore`` for the outside less twice the
    least wall, as in ``"1 in sch 40 nominal bore"``; ``"80 mm bore"`` for any plastic pipe by its
    inside diameter.

    Raises UnknownNameError with the nearest sizes; QuantityError where the size is no length.
    """
    words = " ".join(text.split())
    if match := re.fullmatch(rf"(.+?)\s+{_NOMINAL}", words, re.IGNORECASE):
        return _of_the_least_wall(pipe(match[1]))
    if match := re.fullmatch(r"(.+?)\s*bore", words, re.IGNORECASE):
        return _by_bore(match[1], name=f"{match[1]} bore", material="plastic")
    sized = _SIZE.fullmatch(words)
    kind = _series(sized[2]) if sized else None
    if sized is None or kind is None:
        raise _unknown_pipe(words)
    length = parse(sized[1], "length")
    for size in (f"{_inches(length)} in", _millimetres(length)):
        if found := _pipes().get(f"{size} {kind}".casefold()):
            return found
    raise _unknown_pipe(words)


def sizes() -> tuple[PipeSize, ...]:
    """Return every size of pipe that has a name."""
    return tuple(_pipes().values())


def larger(size: PipeSize) -> PipeSize | None:
    """Return the next larger pipe of the same series; None if none is made."""
    nominal = size.name.endswith(_NOMINAL)
    same = [_of_the_least_wall(p) if nominal else p for p in _of_series(size.series)]
    wider = [other for other in same if other.bore > size.bore]
    return min(wider, key=lambda other: other.bore, default=None)


def series() -> dict[str, tuple[PipeSize, ...]]:
    """Return all series of pipe: name -> its sizes, the smallest first."""
    names = dict.fromkeys(size.series for size in sizes())
    return {name: _of_series(name) for name in names}


def hose(text: str) -> PipeSize:
    """Return the hose that `text` names by its inside diameter, by which it is sold.

    ``"1/2 in"`` and ``"12 mm"`` are plain vinyl; ``"1/2 in silicone"`` and ``"16 mm braided"``
    (vinyl with a braid in it) are other kinds.

    Raises UnknownNameError for an unknown kind; QuantityError where the size is no length.
    """
    words = " ".join(text.split())
    sized = _SIZE.fullmatch(words)
    size, kind = (sized[1], sized[2]) if sized and sized[2] else (words, DEFAULT_HOSE)
    material = look_up("kind of hose", kind, {known: known for known in hoses()})
    named = size if material == DEFAULT_HOSE else f"{size} {material}"
    plain = _by_bore(size, name=named, material=material)
    for row in rows("hoses"):
        if row["kind"] == material and plain.bore <= parse(row["bore_up_to"], "length"):
            rating = parse(row["rating"], "pressure")
            return replace(plain, rating=rating, source=f"as given; pressure: {row['source']}")
    return plain


def hoses() -> tuple[str, ...]:
    """Return all kinds of hose, the default first."""
    return tuple(dict.fromkeys(row["kind"] for row in rows("hoses")))


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
    inches, metric = f"{_inches(size)} in", _millimetres(size)
    for kind in _FITTINGS:
        for name in (f"{inches} {kind}", f"{metric} {kind}"):
            if found := known.get(name.casefold()):
                return found.bore
    made = [p.name.removesuffix(f" {kind}") for kind in _FITTINGS for p in _of_series(kind)]
    raise unknown("size", words, dict.fromkeys(made))


@cache
def roughness(material: str) -> float:
    """Return the sand roughness [m] of a material of the table, such as "pvc"."""
    table = {row["material"]: float(row["roughness_mm"]) / 1000.0 for row in rows("roughness")}
    return table[material]


@cache
def _pipes() -> dict[str, PipeSize]:
    """Return every named size of pipe, folded name -> size."""
    return {size.name.casefold(): size for size in map(_of_row, rows("pipes"))}


def _of_row(row: dict[str, str]) -> PipeSize:
    """Read a size, whose lengths are in the unit of its name.

    Without a printed bore it is that of the middle of what the standard allows; without a greatest
    outside, the outside given is the mean.
    """
    unit = row["size"].rpartition(" ")[2]
    length = {
        column: parse(f"{row[column]} {unit}", "length") for column in _LENGTHS if row[column]
    }
    mean_outside = _mean_outside(length) if "outside" in length else None
    bore = length.get("bore")
    if bore is None:
        bore = _mean_outside(length) - length["wall"] - length["wall_most"]
    return PipeSize(
        name=f"{row['size']} {row['series']}",
        series=row["series"],
        material=row["material"],
        bore=bore,
        outside=length.get("outside"),
        mean_outside=mean_outside,
        wall=length.get("wall"),
        roughness=roughness(row["material"]),
        rating=parse(row["rating"], "pressure"),
        source=row["source"],
    )


def _mean_outside(length: Mapping[str, float]) -> float:
    return (length["outside"] + length.get("outside_most", length["outside"])) / 2.0


def _unknown_pipe(words: str) -> UnknownNameError:
    """Return the error for no pipe: the nearest sizes of its series, else others of its size."""
    offered = sizes()
    if sized := _SIZE.fullmatch(words):
        length, kind = parse(sized[1], "length"), _series(sized[2])
        if kind is not None:
            made = sorted(_of_series(kind), key=lambda size: abs(_nominal(size) - length))
            names = tuple(size.name for size in made)
            return UnknownNameError("pipe", words, names[:2], names)
        offered = tuple(s for s in offered if abs(_nominal(s) - length) < 1e-6) or offered
    return unknown("pipe", words, [size.name for size in offered])


def _of_series(kind: str) -> tuple[PipeSize, ...]:
    return tuple(size for size in sizes() if size.series == kind)


def _nominal(size: PipeSize) -> float:
    """Return the size [m] that a pipe goes by."""
    return parse(size.name.removesuffix(size.series), "length")


def _series(text: str) -> str | None:
    """Return the series that `text` names, in the spelling of the table; None if none has it."""
    folded = text.casefold()
    folded = re.sub(r"^sch(?:ed(?:ule)?)?\.?\s*", "sch ", folded)
    folded = re.sub(r"\bpn\s+(?=\d)", "pn", folded)
    folded = re.sub(r"\b(si?dr)(?=\d)", r"\1 ", folded)
    folded = re.sub(r"\s+pvc(?:-u)?$", "", folded)
    known = {name.casefold(): name for name in series()}
    return known.get(folded)


def _of_the_least_wall(size: PipeSize) -> PipeSize:
    """Return a pipe with the bore that a table of outsides and least walls would give it."""
    if size.outside is None or size.wall is None:
        raise QuantityError(
            size.name,
            f"{size.name} pipe is made by its bore, which has no nominal one beside it",
            f'write "{size.name}"',
        )
    name = f"{size.name} {_NOMINAL}"
    return replace(size, name=name, bore=size.outside - 2.0 * size.wall)


def _by_bore(text: str, *, name: str, material: str) -> PipeSize:
    bore = parse(text, "length")
    if bore <= 0.0:
        raise QuantityError(text, "a bore must be above zero", 'write for example "80 mm"')
    return PipeSize(
        name=name,
        series="",
        material=material,
        bore=bore,
        outside=None,
        mean_outside=None,
        wall=None,
        roughness=roughness(material),
        rating=None,
        source="as given",
    )


def _millimetres(length: float) -> str:
    return f"{length * 1000.0:g} mm"


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
