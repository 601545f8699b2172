"""How pipe is sold, and what is done with a piece that is longer."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from math import ceil

from balance.parts.pipes import INCH, PipeSize
from balance.plan.model import Plan, Shop
from balance.questions.assembly.elements import Element, End, Mate
from balance.questions.assembly.mating import between

FOOT = 12 * INCH

# Lengths in which pipe is sold [m]; common practice, no source.
INCH_STOCK = (3.048,)
METRIC_STOCK = (2.0,)


def stock_of(size: PipeSize, shop: Shop | None) -> tuple[float, ...]:
    """Lengths in which pipe of a size is sold [m]."""
    if shop is not None and shop.stock is not None:
        return shop.stock
    return METRIC_STOCK if " mm" in f" {size.name}" else INCH_STOCK


def stick_words(length: float) -> str:
    """A length in which pipe is sold, as the shop calls it: "10 ft", "40 in", "2 m"."""
    for unit, metres in (("ft", FOOT), ("in", INCH)):
        number = length / metres
        if abs(number - round(number, 2)) < 1e-6:
            return f"{round(number, 2):g} {unit}"
    return f"{length:.6g} m"


def coupled(
    elements: Iterable[Element], start: Mate | None, stop: Mate | None, *, plan: Plan
) -> tuple[Element, ...]:
    """Elements of a line with each piece that no length sold is long enough for cut in several.

    The pieces are alike, and couplings join them; what a coupling keeps apart is taken off.
    """
    listed = list(elements)
    found: list[Element] = []
    for at, element in enumerate(listed):
        if not element.is_pipe or element.length is None:
            found.append(element)
            continue
        mates = (
            found[-1].finish if found else None if start is None else start.end,
            listed[at + 1].begin if at + 1 < len(listed) else None if stop is None else stop.end,
        )
        longest = max(stock_of(element.begin.size, plan.shop))
        found.extend(_coupled(element, mates, longest, by_centres=plan.measured == "centre"))
    return tuple(found)


def _coupled(
    element: Element,
    mates: tuple[End | None, End | None],
    longest: float,
    *,
    by_centres: bool,
) -> list[Element]:
    length = element.length or 0.0
    hidden = sum((mate.depth or 0.0) for mate in mates if mate is not None)
    if by_centres:  # lengths run through the parts beside it, and through couplings too
        hidden = -sum((mate.take_out or 0.0) for mate in mates if mate is not None)
    if length + hidden <= longest:
        return [element]
    joint = between(element.finish, element.begin)
    if not joint:  # a nipple with threads, which is bought as it is
        return [element]
    (coupling,) = joint
    end = coupling.begin
    inside = 0.0 if by_centres else end.depth or 0.0
    apart = 0.0 if by_centres else 2.0 * ((end.take_out or 0.0) + inside)  # length of a coupling
    pieces = ceil((length + hidden - 2.0 * inside) / (longest - 2.0 * inside))
    pieces = max(pieces, 2)
    each = replace(element, length=(length - (pieces - 1) * apart) / pieces)
    said = replace(coupling, added="since no length of pipe that is sold is long enough")
    found = [each]
    for _ in range(pieces - 1):
        found += [said, each]
    return found
