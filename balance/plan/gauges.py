"""Where a level was read, and the level itself, by a standpipe or a pressure gauge."""

from __future__ import annotations

import re
from dataclasses import dataclass

from balance.errors import QuantityError, UnknownNameError
from balance.plan.fields import HEIGHT, nearest, quoted
from balance.plan.model import Branch, Plan, Run
from balance.plan.names import fold
from balance.plan.pieces import StraightPart
from balance.plan.reading import GaugePlace
from balance.units import G, dimension_of, parse
from balance.water import density

_WITH_PART = re.compile(r"(?P<stretch>.+?)\s+(?:part\s+)?(?P<part>\d{1,6})", re.IGNORECASE)


@dataclass(frozen=True)
class Gauge:
    """What a cell says of where a level was read."""

    text: str
    place: GaugePlace
    height: float | None
    """Of a pressure gauge [m above the plan's datum]; None where none is said."""


def gauge(plan: Plan, text: str) -> Gauge:
    """Read where a level was read.

    Parameters
    ----------
    text
        ``"riser"``, a run or branch; ``"riser 3"`` or ``"riser part 3"``, the third of its parts;
        of a gauge of pressure its height too: ``"riser 3 @ 20 in"``.

    Raises
    ------
    QuantityError, UnknownNameError
        If there is no such place.
    """
    where, at, height = (piece.strip() for piece in text.rpartition("@"))
    if not at:
        return Gauge(text, place(plan, text), None)
    return Gauge(text, place(plan, where), HEIGHT.read(height))


def level(plan: Plan, text: str, gauge: Gauge) -> float:
    """Read a level [m above the plan's datum].

    Parameters
    ----------
    text
        ``"45 in"``, above the datum; or ``"2.1 psi"``, the pressure that a gauge shows.
    gauge
        Where it was read.

    Raises
    ------
    QuantityError
        If it makes no sense there.
    """
    if dimension_of(text) != "pressure":
        if gauge.height is not None:
            raise QuantityError(
                text,
                f"{quoted(text)} is a level above the datum, for which a gauge's height has no "
                "bearing",
                'leave out its height, or write the pressure that it shows: "2.1 psi"',
            )
        return HEIGHT.read(text)
    if gauge.height is None:
        raise QuantityError(
            text,
            f"{quoted(text)} is a pressure: how high is the gauge?",
            f'write its height above the datum in `at`: "{gauge.text} @ 20 in"',
        )
    return gauge.height + parse(text, "pressure") / (_density(plan) * G)


def _density(plan: Plan) -> float:
    """Density of the plan's water [kg/m3]."""
    spec = plan.water
    if spec.density is not None:
        return spec.density
    return density(spec.temperature, salinity=spec.salinity)


def place(plan: Plan, text: str) -> GaugePlace:
    """Find a pipe or hose by its stretch, ``"riser"``, and its place there, ``"riser 3"``.

    Raises
    ------
    QuantityError, UnknownNameError
        If there is none.
    """
    stretches = {fold(stretch.name): stretch for stretch in _stretches(plan)}
    if fold(text) in stretches:
        return _first(stretches[fold(text)])
    match = _WITH_PART.fullmatch(text)
    if match is None or fold(match["stretch"]) not in stretches:
        raise _unknown(plan, match["stretch"] if match else text)
    return _nth(stretches[fold(match["stretch"])], int(match["part"]))


def _stretches(plan: Plan) -> tuple[Run | Branch, ...]:
    return (*plan.runs, *plan.branches)


def _first(stretch: Run | Branch) -> GaugePlace:
    _flows(stretch)
    straight = _straight(stretch)
    if not straight:
        raise QuantityError(
            stretch.name,
            f'"{stretch.name}" has no pipe and no hose, at whose middle a level could be read',
            "read it at another run or branch",
        )
    return GaugePlace(stretch.name, straight[0])


def _nth(stretch: Run | Branch, number: int) -> GaugePlace:
    _flows(stretch)
    straight = ", ".join(f'"{stretch.name} {index + 1}"' for index in _straight(stretch))
    if not 1 <= number <= len(stretch.parts):
        problem = f'"{stretch.name}" has {len(stretch.parts)} parts, and no part {number}'
    elif not isinstance(stretch.parts[number - 1], StraightPart):
        problem = f'part {number} of "{stretch.name}" is no pipe and no hose'
    else:
        return GaugePlace(stretch.name, number - 1)
    raise QuantityError(stretch.name, problem, f"write {straight}" if straight else "")


def _flows(stretch: Run | Branch) -> None:
    """Refuse a stretch that stands outside what is reckoned."""
    if isinstance(stretch, Run) and stretch.use == "change":
        raise QuantityError(
            stretch.name, f'"{stretch.name}" is shut but for water changes', "read it elsewhere"
        )
    if isinstance(stretch, Branch) and stretch.to is None:
        raise QuantityError(
            stretch.name,
            f'"{stretch.name}" is capped: it has no `to` in the plan',
            "read the level elsewhere, or give it its end there",
        )


def _straight(stretch: Run | Branch) -> list[int]:
    return [index for index, part in enumerate(stretch.parts) if isinstance(part, StraightPart)]


def _unknown(plan: Plan, name: str) -> QuantityError | UnknownNameError:
    known = tuple(stretch.name for stretch in _stretches(plan))
    others = {fold(header.name): "header" for header in plan.headers}
    others |= {fold(drain.name): "drain" for drain in plan.drains}
    if kind := others.get(fold(name)):
        return QuantityError(
            name,
            f'"{name}" is a {kind}; levels are read in runs and branches',
            "write one of " + ", ".join(f'"{one}"' for one in known[:12]),
        )
    near = nearest(name, known)
    return UnknownNameError("run or branch", name, (near,) if near else (), known)
