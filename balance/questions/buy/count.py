"""Every part of an assembly, counted by size and kind."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import floor

from balance.parts.ends import Form, ends_of
from balance.parts.fittings import kinds
from balance.questions.assembly.elements import Assembly, Element, End
from balance.questions.buy.answer import Item

EQUIPMENT = "equipment"
BY_SERIES = ("fitting",)
"""Families that are made for a series of pipe; the rest goes with any of its size."""
OF_ANY_SERIES = (
    "union", "true union body", "bulkhead", "strainer", "barb", "hose joiner", "hose plug",
    "close nipple",
)  # fmt: skip
"""Fittings that are sold by size alone; common practice, no source."""
ONE_AT_LEAST = ("elbow", "tee", "coupling")
"""Of each of these at least one is bought beyond what is counted; common practice, no source."""

WORDS: dict[Form, str] = {
    "socket": "socket",
    "spigot": "spigot",
    "female thread": "thread",
    "male thread": "male thread",
    "fits": "to suit",
}


@dataclass(frozen=True)
class _Key:
    """What two elements share that go into one bag as one kind of thing."""

    bag: str
    kind: str
    size: str
    make: str
    ends: str
    family: str


def counted(assembly: Assembly, *, spare: float) -> tuple[Item, ...]:
    """Fittings, valves, devices and nozzles of an assembly; no pipe and no hose.

    Parameters
    ----------
    spare : share of fittings that is bought beyond what is counted; whole ones only, but at least
        one of each elbow, tee and coupling. Valves, devices and nozzles are bought as counted.
    """
    found: dict[_Key, list[tuple[Element, str]]] = {}
    for element, line in _placed(assembly):
        if element.family not in ("pipe", "hose"):
            found.setdefault(_key(element), []).append((element, line))
    return tuple(_item(key, elements, spare) for key, elements in found.items())


def _placed(assembly: Assembly) -> Iterator[tuple[Element, str]]:
    for node in assembly.nodes:
        yield node.element, f"joint {node.name}"
    for line in assembly.lines:
        for element in line.elements:
            yield element, line.name


def _item(key: _Key, listed: Sequence[tuple[Element, str]], spare: float) -> Item:
    number = sum(element.count for element, _ in listed)
    return Item(
        bag=key.bag,
        kind=key.kind,
        size=key.size,
        make=key.make,
        ends=key.ends,
        counted=number,
        implied=sum(element.count for element, _ in listed if element.added),
        spare=spares(key.kind, number, share=spare) if key.family == "fitting" else 0,
        lines=tuple(dict.fromkeys(line for _, line in listed)),
    )


def spares(kind: str, number: int, *, share: float) -> int:
    """How many of a fitting to buy beyond what is counted."""
    least = 1 if share > 0.0 and any(word in kind for word in ONE_AT_LEAST) else 0
    return max(least, floor(number * share + 1e-9))


def _key(element: Element) -> _Key:
    plumbing = [end for end in _ends(element) if end.form not in ("barb", "hose")]
    sized = [end for end in plumbing if end.size.series] or plumbing or list(_ends(element))
    largest = max(sized, key=lambda end: end.size.outside or end.size.bore)
    if element.family in ("device", "pump"):
        return _Key(EQUIPMENT, element.kind, "", "", "", element.family)
    make = largest.size.series if element.family in BY_SERIES else ""
    if element.kind in OF_ANY_SERIES:
        make = ""
    return _Key(
        largest.size.trade_size,
        element.kind,
        _size(element, largest),
        make,
        _joined(element),
        element.family,
    )


def _ends(element: Element) -> tuple[End, ...]:
    ends = (element.begin, element.finish, *([] if element.side is None else [element.side]))
    kept = tuple(end for end in ends if end.form not in ("shut", "open", "wall"))
    return kept or ends


def _size(element: Element, largest: End) -> str:
    """Size on the bag: the large one first, "1 x 3/4 in"; of a barb its hose last."""
    ends = _ends(element)
    barbs = dict.fromkeys(end.size.trade_size for end in ends if end.form == "barb")
    if barbs:
        own = [end.size.trade_size for end in ends if end.form != "barb"]
        return f"{' x '.join((*own, *barbs))} hose"
    others = {end.size.trade_size for end in ends} - {largest.size.trade_size}
    if not others:
        return largest.size.trade_size
    large, unit = largest.size.trade_size.rpartition(" ")[::2]
    small = others.pop()
    number, its_unit = small.rpartition(" ")[::2]
    return f"{large} x {number} {unit}" if unit == its_unit else f"{large} {unit} x {small}"


def _joined(element: Element) -> str:
    """How it is joined, in words; nothing where that is as its kind usually is."""
    forms = [end.form for end in _ends(element)]
    if element.family == "device":
        return ""
    usual: tuple[Form, ...] = ("socket", "socket")
    if element.family == "fitting" and element.kind in kinds():
        usual = ends_of("fitting", element.kind)
    if set(forms) <= set(usual) - {"fits"}:
        return ""
    words = sorted({WORDS[form] for form in forms if form in WORDS})
    return " x ".join(words)
