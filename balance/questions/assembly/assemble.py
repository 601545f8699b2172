"""From a plan to its plumbing as it is put together."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from balance.network.layout import tap_joint
from balance.parts.ends import Form
from balance.parts.pipes import PipeSize
from balance.plan.locate import Path
from balance.plan.model import OUTSIDE, Branch, Drain, Header, Plan, Run
from balance.questions.assembly.elements import Assembly, Element, End, Line, Mate, Node
from balance.questions.assembly.joints import CEMENTED
from balance.questions.assembly.mating import between
from balance.questions.assembly.naming import centred, depth_of, elements_of
from balance.questions.assembly.sizes import sized, sizes_of, usual_series
from balance.questions.assembly.sticks import coupled

CLOSES = "to close the end"

Kind = Literal["run", "header", "branch", "drain"]


def assemble(plan: Plan) -> Assembly:
    """The plumbing of a plan with everything that it takes to join it.

    Tees of headers, the fittings at joints, short pieces between sockets, adapters between thread
    and socket, bushings between sizes, barbs on hoses, caps on spares, couplings in pieces that
    are longer than pipe is sold.
    """
    series = usual_series(plan)
    rough: list[_Rough] = []
    taps: dict[str, Mate] = {}
    for at, run in enumerate(plan.runs):
        rough.append(_stretch(run, "run", ("runs", at), series, hung_on=None))
    for at, header in enumerate(plan.headers):
        rough.append(_header(header, ("headers", at), series, taps))
    for at, branch in enumerate(plan.branches):
        tap = taps.get(branch.name) if branch.from_ is None else None
        hung_on = None if tap is None else tap.end.size
        line = _stretch(branch, "branch", ("branches", at), series, hung_on=hung_on)
        line.start = tap
        rough.append(line)
    for at, drain in enumerate(plan.drains):
        rough.append(_stretch(drain, "drain", ("drains", at), series, hung_on=None))
    nodes = _join(plan, rough, taps)
    lines = tuple(_filled(line, plan) for line in rough)
    return Assembly(lines, nodes)


@dataclass
class _Rough:
    """A line before what joins its elements is put between them."""

    name: str
    kind: Kind
    from_: str
    to: str
    elements: list[Element]
    start: Mate | None = None
    stop: Mate | None = None
    capped: bool = False

    def end_at(self, *, first: bool) -> End | None:
        """Its outermost end, from which a fitting at a joint takes its size."""
        if self.elements:
            return self.elements[0].begin if first else self.elements[-1].finish
        return None


def _stretch(
    item: Run | Branch | Drain,
    kind: Kind,
    path: Path,
    series: str,
    *,
    hung_on: PipeSize | None,
) -> _Rough:
    sizes = sizes_of(item.parts, hung_on=hung_on, series=series)
    return _Rough(
        item.name,
        kind,
        item.from_ or tap_joint(item.name),
        item.to or "",
        list(elements_of(item.parts, sizes, path)),
        capped=item.to is None,
    )


def _header(header: Header, path: Path, series: str, taps: dict[str, Mate]) -> _Rough:
    pipe = header.pipe
    plain = End("spigot", pipe, 0.0, 0.0)
    elements: list[Element] = []
    capped = False
    for at, tap in enumerate(header.taps):
        here = (*path, "taps", at)
        if tap.after > 0.0:
            elements.append(
                Element("pipe", "pipe", plain, plain, length=tap.after, path=(*here, "after"))
            )
        sizes = sizes_of(tap.parts, hung_on=pipe, series=pipe.series or series)
        elements.extend(elements_of(tap.parts, sizes, here))
        if tap.branch is None:
            continue
        side = pipe if tap.side_size is None else sized(tap.side_size, series=pipe.series)
        last = at == len(header.taps) - 1 and header.to is None
        if last and tap.end == "elbow":
            turn = socketed("elbow 90", pipe, path=here)
            elements.append(turn)
            taps[tap.branch] = Mate(turn.kind, f"of {header.name}", turn.finish, here)
            continue
        tee = socketed("tee", pipe, side=side, path=here)
        elements.append(tee)
        capped = last
        if tee.side is not None:
            taps[tap.branch] = Mate(tee.kind, f"of {header.name}", tee.side, here)
    return _Rough(
        header.name,
        "header",
        header.from_,
        "" if header.to is None else header.to,
        elements,
        capped=capped,
    )


def socketed(
    kind: str, size: PipeSize, *, side: PipeSize | None = None, path: Path = ()
) -> Element:
    """A fitting with sockets at all its ends, which a header or a joint implies."""

    def end(of: PipeSize) -> End:
        return centred(End("socket", of, depth_of("socket", of)), kind=kind)

    run = end(size)
    leg = None if side is None else end(side)
    if leg is not None and leg.take_out is not None and not leg.fits(run):
        # Its socket lies beside the run: no nearer to the centre than the run's own.
        leg = replace(leg, take_out=max(leg.take_out, run.take_out or 0.0), estimated=True)
    return Element(
        kind,
        "fitting",
        run,
        run,
        side=leg,
        added="" if path else "where lines meet",
        path=path,
    )


# Where lines meet -------------------------------------------------------------------------------


@dataclass
class _Leg:
    """An end of a line, or a pump, at a joint."""

    name: str
    line: _Rough | None
    first: bool

    def take(self, mate: Mate) -> None:
        if self.line is None:
            return
        if self.first:
            self.line.start = mate
        else:
            self.line.stop = mate

    @property
    def end(self) -> End | None:
        return None if self.line is None else self.line.end_at(first=self.first)


def _join(plan: Plan, lines: Sequence[_Rough], taps: Mapping[str, Mate]) -> tuple[Node, ...]:
    """Finds what each line is joined to where it begins or ends in a joint; fittings at those."""
    legs: dict[str, list[_Leg]] = {}
    vessels = {*plan.vessels, OUTSIDE}
    tees = {tap_joint(branch): mate for branch, mate in taps.items()}
    for name, pump in plan.pumps.items():
        for place in (pump.from_, pump.to):
            if place not in vessels:
                legs.setdefault(place, []).append(_Leg(name, None, first=True))
    for line in lines:
        for place, first in ((line.from_, True), (line.to, False)):
            if place and place not in vessels and not (first and place in tees and line.start):
                legs.setdefault(place, []).append(_Leg(line.name, line, first=first))
    nodes = []
    for place, here in legs.items():
        if place in tees:
            _meet_at_a_tap(lines, tees[place], here)
            continue
        node = _meet(plan, place, here)
        if node is not None:
            nodes.append(node)
    return tuple(nodes)


def _meet_at_a_tap(lines: Sequence[_Rough], tap: Mate, legs: Sequence[_Leg]) -> None:
    """Lines that meet a header at the tee of a branch make it a cross; its last elbow, a tee."""
    kind = "tee" if "elbow" in tap.kind else "cross"
    for line in lines:
        line.elements = [
            replace(each, kind=kind, side=each.side or each.finish)
            if each.path == tap.key
            else each
            for each in line.elements
        ]
        if line.start is not None and line.start.key == tap.key:
            line.start = replace(line.start, kind=kind)
    for leg in legs:
        leg.take(replace(tap, kind=kind))


def _meet(plan: Plan, place: str, legs: list[_Leg]) -> Node | None:
    """The fitting at a joint of three legs or more; two legs are joined to each other."""
    names, key = tuple(leg.name for leg in legs), ("joints", place)
    ends = [leg.end for leg in legs]
    if len(legs) < 3:
        if len(legs) == 2:
            _join_two(*legs, key=key)
        return None
    known = [end.size for end in ends if end is not None]
    if not known:
        return None
    # Of as wide ones that which is cemented: fittings of other pipe are no part of it.
    largest = max(known, key=lambda size: (_width(size), size.material in CEMENTED))
    spec = plan.joints.get(place)
    if len(legs) > 3:
        element = socketed("cross" if len(legs) == 4 else f"manifold of {len(legs)} ends", largest)
        for leg in legs:
            leg.take(Mate(element.kind, f"at {place}", element.begin, key))
        return Node(place, element, names)
    side = _side(legs, None if spec is None else spec.side)
    side_end = legs[side].end
    at_side = (
        largest if side_end is None else sized(side_end.size.trade_size, series=largest.series)
    )
    kind = "tee" if spec is None or spec.kind == "tee" else "wye 45"
    element = socketed(kind, largest, side=at_side)
    for at, leg in enumerate(legs):
        end = element.side if at == side and element.side is not None else element.begin
        leg.take(Mate(kind, f"at {place}", end, key))
    return Node(place, element, names)


def _join_two(one: _Leg, other: _Leg, *, key: Path) -> None:
    """Joins two lines, or a pump and a line; what it takes stands in the second of them."""
    first, second = one.end, other.end
    if first is not None and second is not None:
        other.take(Mate(one.name, "", first, key))
        added = between(first, second)
        nearest = added[0].begin if added else second
        one.take(Mate(other.name, "", replace(nearest, form="fits"), key, told_there=True))
        return
    for leg, end, beside in ((other, second, one), (one, first, other)):
        if end is not None:
            leg.take(Mate("pump", beside.name, End("own", end.size, 0.0, 0.0), key))


def _side(legs: Sequence[_Leg], named: str | None) -> int:
    """Which leg is the side of a tee: the one the plan names, else the narrowest, else the last."""
    for at, leg in enumerate(legs):
        if leg.name == named:
            return at
    ends = [leg.end for leg in legs]
    widths = [float("inf") if end is None else _width(end.size) for end in ends]
    return max(range(len(legs)), key=lambda at: (-widths[at], at))


def _width(size: PipeSize) -> float:
    return size.outside or size.bore


# Between the elements of a line -----------------------------------------------------------------


def _filled(line: _Rough, plan: Plan) -> Line:
    """A line with everything between its elements that joining them takes."""
    before = None if line.start is None else line.start.end
    after = None if line.stop is None else line.stop.end
    elements = list(_oriented(line.elements, before, after))
    if line.capped and (elements or before is not None):
        last = elements[-1].finish if elements else before
        if last is not None and last.form not in ("wall", "open", "shut"):
            elements.append(_cap(last))
    found: list[Element] = []
    for element in elements:
        if before is not None:
            found.extend(between(before, element.begin))
        found.append(element)
        before = element.finish
    if before is not None and after is not None:
        found.extend(between(before, after))
    found = list(_settled(found, line))
    return Line(
        line.name,
        line.kind,
        line.start,
        line.stop,
        line.from_,
        line.to,
        coupled(found, line.start, line.stop, plan=plan),
    )


def _oriented(
    elements: Iterable[Element], before: End | None, after: End | None
) -> Iterable[Element]:
    """Elements that may stand either way round, each as it takes least to join it."""
    listed = list(elements)
    for at, element in enumerate(listed):
        following = listed[at + 1].begin if at + 1 < len(listed) else after
        if element.reversible and (
            _cost(before, element.turned(), following) < _cost(before, element, following)
        ):
            listed[at] = element.turned()
        before = listed[at].finish
        yield listed[at]


SUITS: dict[Form, Form] = {
    "socket": "spigot",
    "spigot": "socket",
    "female thread": "male thread",
    "male thread": "female thread",
    "hose": "barb",
}
"""The form of an end that goes with what stands beside it."""


def _settled(elements: Sequence[Element], line: _Rough) -> Iterable[Element]:
    """Fittings and nozzles that are made to suit their neighbours, as they are then made."""
    for at, element in enumerate(elements):
        if element.family not in ("fitting", "nozzle"):
            yield element
            continue
        before = elements[at - 1].finish if at else None if line.start is None else line.start.end
        after = (
            elements[at + 1].begin
            if at + 1 < len(elements)
            else None
            if line.stop is None
            else line.stop.end
        )
        yield replace(
            element, begin=_suited(element.begin, before), finish=_suited(element.finish, after)
        )


def _suited(end: End, beside: End | None) -> End:
    if end.form != "fits" or beside is None or beside.form not in SUITS:
        return end
    form = SUITS[beside.form]
    if form == "barb":
        return End(form, beside.size, 0.0, 0.0)
    return replace(end, form=form, depth=depth_of(form, end.size, told=end.depth))


def _cost(before: End | None, element: Element, after: End | None) -> int:
    first = 0 if before is None else len(between(before, element.begin))
    second = 0 if after is None else len(between(element.finish, after))
    return first + second


def _cap(on: End) -> Element:
    """What closes an end for good: a cap over a pipe, a plug in a thread."""
    if on.form in ("male thread", "female thread"):
        thread: Literal["female thread", "male thread"] = (
            "female thread" if on.form == "male thread" else "male thread"
        )
        shut = End("shut", on.size, 0.0, 0.0)
        kind = "cap" if thread == "female thread" else "plug"
        return Element(
            kind, "fitting", End(thread, on.size, depth_of(thread, on.size), 0.0), shut,
            added=CLOSES,
        )  # fmt: skip
    if on.form in ("barb", "hose"):
        return Element(
            "hose plug", "fitting", End("barb", on.size, 0.0, 0.0),
            End("shut", on.size, 0.0, 0.0), added=CLOSES,
        )  # fmt: skip
    socket = centred(End("socket", on.size, depth_of("socket", on.size)), kind="cap")
    return Element("cap", "fitting", socket, End("shut", on.size, 0.0, 0.0), added=CLOSES)
