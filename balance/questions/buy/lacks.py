"""What was forgotten: unions, second valves, bulkheads."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from balance.plan.model import OUTSIDE, Plan
from balance.questions.assembly.elements import Assembly, Element, Line
from balance.questions.buy.answer import Lack

UNION, SECOND_VALVE, BULKHEAD = "union", "second valve", "bulkhead"


def lacks_of(plan: Plan, assembly: Assembly) -> Iterator[Lack]:
    """What a plan lacks that one wishes for later, the dangerous first.

    Common practice, no source: a union near each pump and device, one in the line of each valve and
    at both ends of a header, two valves on a drain that can empty the system, a bulkhead where a
    drain leaves its vessel.
    """
    yield from _second_valves(plan)
    yield from _bulkheads(plan, assembly)
    yield from _pumps(plan, assembly)
    for line in assembly.lines:
        yield from _devices(line)
        if line.kind == "header":
            yield from _header(line)
        yield from _valves(line)


def _second_valves(plan: Plan) -> Iterator[Lack]:
    valves = [ref.stretch for ref in plan.valves()]
    for drain in plan.drains:
        if drain.role == "change" and valves.count(drain.name) < 2:
            yield Lack(
                SECOND_VALVE,
                drain.name,
                "it stands shut for months; a single valve that leaks or sticks empties the system",
            )


def _bulkheads(plan: Plan, assembly: Assembly) -> Iterator[Lack]:
    for line in assembly.lines:
        if line.kind == "drain" and line.from_ in plan.vessels:
            first = line.elements[:2]
            if first and not any("bulkhead" in element.kind for element in first):
                yield Lack(BULKHEAD, line.name, "it goes through the wall of its vessel")


def _pumps(plan: Plan, assembly: Assembly) -> Iterator[Lack]:
    """Pumps that a saw alone takes out: nothing beside them comes apart, on one side or both."""
    for name, pump in plan.pumps.items():
        for place, where in ((pump.from_, f"suction of pump {name}"), (pump.to, f"pump {name}")):
            if place in plan.vessels or place == OUTSIDE:
                continue
            key = ("joints", place)
            lines = [line for line in assembly.lines if key in _keys(line)]
            beside = [_until_a_tee(_seen_from(line, key)) for line in lines]
            if len(lines) != 1 or not _comes_apart(beside[0]):
                yield Lack(UNION, where, "with one it comes out for cleaning without a saw")


def _keys(line: Line) -> set[object]:
    return {mate.key for mate in (line.start, line.stop) if mate is not None}


def _seen_from(line: Line, key: object) -> tuple[Element, ...]:
    """Elements of a line from the end that has this key."""
    if line.start is not None and line.start.key == key:
        return line.elements
    return line.elements[::-1]


def _until_a_tee(elements: Iterable[Element]) -> tuple[Element, ...]:
    found = []
    for element in elements:
        if element.side is not None:
            break
        found.append(element)
    return tuple(found)


def _comes_apart(elements: Iterable[Element]) -> bool:
    return any(element.comes_apart for element in elements)


def _devices(line: Line) -> Iterator[Lack]:
    """A device with no union or hose on one of its sides; an end that hangs free comes apart."""
    for at, element in enumerate(line.elements):
        if element.family != "device":
            continue
        sides = (
            ("before", line.elements[:at][::-1], line.start is None),
            ("behind", line.elements[at + 1 :], line.stop is None),
        )
        missing = [
            word
            for word, beside, free in sides
            if not free and not _comes_apart(_until_a_device(beside))
        ]
        if missing:
            where = f'{element.kind} of "{line.name}", {" and ".join(missing)} it'
            yield Lack(UNION, where, "with one it comes out for new media or a new lamp")


def _until_a_device(elements: Iterable[Element]) -> tuple[Element, ...]:
    found = []
    for element in elements:
        if element.family == "device" or element.side is not None:
            break
        found.append(element)
    return tuple(found)


def _header(line: Line) -> Iterator[Lack]:
    tees = [at for at, element in enumerate(line.elements) if element.side is not None]
    if not tees:
        return
    first, last = line.elements[: tees[0]], line.elements[tees[-1] :]
    lacking = []
    if line.start is not None and not _comes_apart(first):
        lacking.append("where it begins")
    if line.stop is not None and not _comes_apart(last):
        lacking.append("where it ends")
    if lacking:
        where = f"{line.name}, {' and '.join(lacking)}"
        yield Lack(UNION, where, "with one it comes out in one piece")


def _valves(line: Line) -> Iterator[Lack]:
    """Valves in a line without a union, but for those that hang between hoses or free ends."""
    if any(element.unions for element in line.elements):
        return
    stuck = [
        element
        for at, element in enumerate(line.elements)
        if element.family in ("valve", "check valve")
        and not (
            (line.start is None or _comes_apart(line.elements[:at]))
            and (line.stop is None or _comes_apart(line.elements[at:]))
        )
    ]
    if stuck:
        kinds = " and ".join(dict.fromkeys(element.kind for element in stuck))
        yield Lack(
            UNION,
            f"{kinds} of {line.name}",
            "with one, or as a true-union valve, it comes out when it sticks or leaks",
        )
