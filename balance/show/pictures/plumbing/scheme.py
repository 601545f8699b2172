"""Which verticals there are, what stands beside them, and the room that all of it needs.

A vertical is a line or a bundle of drains.  What crosses a row or the gap above it asks for room
there, so that nothing that is packed touches anything else.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from itertools import groupby

from balance.plan.model import Drain, Plan, ValvePart
from balance.questions.flows import Flows
from balance.show.pictures.canvas import lines_of
from balance.show.pictures.plumbing.order import NEXT, places_of
from balance.show.pictures.plumbing.packing import GAP, Item, Slot
from balance.show.pictures.plumbing.rows import Row, rows_of
from balance.show.pictures.plumbing.tags import (
    DIAL,
    ROOM,
    Cell,
    Text,
    cell_of,
    drain_words,
    stack_of,
    vessel_words,
)
from balance.show.pictures.plumbing.things import State
from balance.show.pictures.plumbing.ways import Bar, Line, Way, Works, bundles_of
from balance.units import SYSTEMS

THIN, WIDE, DRY = 2.0, 12.0, 4.0  # widths of water, and of a pipe without any
NOTHING = 1e-6  # of the greatest flow
PITCH, DIAL_PITCH = 16.0, 36.0  # from drain to drain of a bundle, the second behind a handle
HOOK = 30.0  # from a riser over the rim to where it ends
WALL = 9.0  # room beside a wall
Side = str  # "start" or "end" of a line or of a bundle


@dataclass(frozen=True)
class Gauge:
    """How wide flows are drawn: as pipes in which all water is equally fast."""

    most: float

    def width(self, flow: float | None) -> float:
        """Of the water, in pixels."""
        if flow is None or self.state(flow) == "dry":
            return DRY
        return THIN + (WIDE - THIN) * float(min(abs(flow) / self.most, 1.0) ** 0.5)

    def state(self, flow: float | None) -> State:
        """Whether something flows."""
        if flow is None:
            return "unknown"
        return "wet" if self.most > 0.0 and abs(flow) > NOTHING * self.most else "dry"


@dataclass
class Column:
    """A line as a vertical.

    Attributes
    ----------
    at : its order
    start, end : rows of its ends; None for an open end
    cells : its stack, from the top
    gap : that the stack stands in
    entries : where it enters a vessel that it does not stand at, by end
    hook : to which side it turns over a rim, 1 to the right
    """

    line: Line
    at: float
    start: int | None
    end: int | None
    cells: tuple[Cell, ...]
    gap: int
    width: float
    state: State
    sunk: bool
    item: Item
    entries: dict[Side, Item] = field(default_factory=dict)
    hook: float = 1.0

    @property
    def up(self) -> bool:
        """Whether it rises from its start."""
        if self.start is None or self.end is None:
            return self.start is None
        return self.end < self.start

    @property
    def height(self) -> float:
        """Of its stack."""
        return sum(cell.height for cell in self.cells)


@dataclass
class Bundle:
    """Drains side by side.

    Attributes
    ----------
    shifts : of the drains from the first one
    tags : what is written of each
    heading : of the box they leave, where it has no room for its own words
    """

    drains: tuple[Drain, ...]
    at: float
    start: int
    end: int | None
    flows: tuple[float | None, ...]
    shifts: tuple[float, ...]
    tags: tuple[tuple[Text, ...], ...]
    item: Item
    heading: tuple[Text, ...] = ()
    entries: dict[Side, Item] = field(default_factory=dict)

    @property
    def light(self) -> bool:
        """Whether it is in use for water changes only."""
        return self.drains[0].role == "change"


@dataclass
class Tank:
    """A vessel: its walls and where its words stand.

    Attributes
    ----------
    host : the vessel that it stands in as its box
    hooked : its first pipe comes up outside its left wall
    """

    name: str
    row: int
    left: Item
    right: Item
    words: tuple[Text, ...]
    label: Item | None
    host: str | None = None
    hooked: bool = False


@dataclass
class Note:
    """A name above a bar, or a cell on it."""

    bar: Bar
    row: int
    item: Item
    texts: tuple[Text, ...] = ()
    cell: Cell | None = None


@dataclass
class Scheme:
    """All verticals and what else stands on the sheet."""

    works: Works
    rows: list[Row]
    gauge: Gauge
    columns: list[Column]
    bundles: list[Bundle]
    tanks: dict[str, Tank]
    notes: list[Note]

    @property
    def items(self) -> Iterator[Item]:
        """Everything that needs room."""
        yield from self.standing
        for tank in self.tanks.values():
            if tank.label is not None:
                yield tank.label

    @property
    def standing(self) -> Iterator[Item]:
        """All of it but for the words in vessels, which go where there is room."""
        for vertical in self.verticals:
            yield vertical.item
            yield from vertical.entries.values()
        for tank in self.tanks.values():
            yield tank.left
            yield tank.right
        yield from (note.item for note in self.notes)

    @property
    def verticals(self) -> list[Column | Bundle]:
        """Lines and bundles of drains."""
        return [*self.columns, *self.bundles]

    @property
    def behind(self) -> int:
        """How many verticals pass behind a vessel."""
        return sum(
            tank.left.key < vertical.item.key < tank.right.key
            for tank in self.tanks.values()
            for vertical in self.verticals
            if ("row", tank.row) in vertical.item.room
            and tank.row not in (vertical.start, vertical.end)
        )

    @property
    def loose(self) -> Iterator[Item]:
        """What may move to its right-hand neighbours."""
        for tank in self.tanks.values():
            if not tank.hooked:
                yield tank.left
                if tank.label is not None:
                    yield tank.label
            if tank.right.key[1] < 0.0:
                yield tank.right
        yield from (note.item for note in self.notes if note.cell is None)


def scheme_of(
    answer: Flows, works: Works, drained: Mapping[str, float], shifts: Mapping[str, float]
) -> Scheme:
    """Work out what stands on the sheet, and its order from left to right.

    Parameters
    ----------
    drained : flows of drains, as far as they are known [m³/s]
    shifts : of the drains of vessels, from what else stands there, in taps; left out: half the way
        to the next vessel
    """
    rows = rows_of(works)
    known = [*(run.flow for run in answer.runs), *drained.values()]
    gauge = Gauge(max((abs(flow) for flow in known), default=0.0))
    row_at = _row_at(rows)
    scheme = Scheme(works, rows, gauge, [], [], {}, [])
    places, bases = places_of(works)
    for line in works.lines:
        scheme.columns.append(_column(line, places[id(line)], row_at, answer, gauge))
    _Cores(scheme, drained, shifts).settle()
    for column in scheme.columns:
        _ask_for_column(column, scheme)
    for bundle in scheme.bundles:
        _ask_for_bundle(bundle)
    scheme.notes = list(_notes(scheme, bases))
    return scheme


def _row_at(rows: list[Row]) -> dict[str, int]:
    found = {}
    for number, row in enumerate(rows):
        for name in row.vessels if row.bar is None else row.bar.places:
            found[name] = number
    return found


def _column(line: Line, at: float, row_at: dict[str, int], answer: Flows, gauge: Gauge) -> Column:
    plan = answer.plan
    start, end = row_at.get(line.start), row_at.get(line.end)
    first = line.steps[0].way
    sunk = line.start in plan.vessels and first.kind == "pump" and first.start == line.start
    cells = stack_of(line, answer, sunk=sunk)
    if start is None:
        gap = (end or 0) + 1
    else:
        gap = start if end is not None and end < start else start + 1
    rises = start is None or (end is not None and end < start)
    column = Column(
        line, at, start, end, cells, gap, gauge.width(line.flow), gauge.state(line.flow), sunk,
        Item((at, 0.0)),
    )  # fmt: skip
    if rises:
        column.cells = _upwards(cells)
    return column


def _upwards(cells: tuple[Cell, ...]) -> tuple[Cell, ...]:
    """Turn a stack over, but for the words, which stay under what they belong to."""
    figures = [cell for cell in cells if cell.kind != "words"]
    words = [cell for cell in cells if cell.kind == "words"]
    return (*reversed(figures), *words)


# Where verticals stand at vessels -----------------------------------------------------------------


@dataclass
class _Stand:
    """A vertical at a vessel."""

    at: float
    vessel: str
    side: Side
    thing: Column | Bundle
    from_below: bool  # it comes up into the vessel


class _Cores:
    """Finds for each vessel the verticals that stand at it side by side, and builds its walls."""

    def __init__(
        self, scheme: Scheme, drained: Mapping[str, float], shifts: Mapping[str, float]
    ) -> None:
        self.scheme = scheme
        self.shifts = shifts
        self.plan: Plan = scheme.works.plan
        self.drained = drained
        self.row_at = _row_at(scheme.rows)
        self.stands: dict[str, list[_Stand]] = {name: [] for name in self.plan.vessels}
        self.most = max((column.at for column in scheme.columns), default=-1.0)
        for column in scheme.columns:
            for side, name in (("start", column.line.start), ("end", column.line.end)):
                if name in self.stands:
                    here, there = (
                        (column.start, column.end)
                        if side == "start"
                        else (column.end, column.start)
                    )
                    below = there is not None and here is not None and there > here
                    inward = side == "end"
                    self.stands[name].append(
                        _Stand(column.at, name, side, column, below and inward)
                    )

    def settle(self) -> None:
        """Go through the rows of vessels from the top: what drains is then placed further down."""
        free = bundles_of(self.plan)
        for number, row in enumerate(self.scheme.rows):
            if not row.vessels:
                continue
            hosts = self._hosts(row)
            spans = self._main(row, number)
            for name in row.vessels:
                own = [drains for key, drains in free.items() if key[0] == name]
                if own:
                    at = self._free_place(hosts.get(name, name), self.shifts.get(name), spans)
                    for drains in own:
                        self._add_bundle(tuple(drains), at, number)
                elif not self.stands[name] and name not in (*hosts, *spans):
                    self.most += 1.0
                    spans[name] = self.most, self.most
            for name in row.vessels:
                self._build(name, number, hosts, spans)

    def _hosts(self, row: Row) -> dict[str, str]:
        """Boxes that stand in the vessel which spills into them: all they have is drains."""
        found: dict[str, str] = {}
        for weir in self.plan.weirs:
            own = {weir.from_, weir.to} <= set(row.vessels)
            if own and not self.stands[weir.to] and weir.from_ not in found:
                found.setdefault(weir.to, weir.from_)
        return found

    def _main(self, row: Row, number: int) -> dict[str, tuple[float, float]]:
        """Keep of each vessel the verticals that stand together; others enter over a lane."""
        stands = sorted(
            (stand for name in row.vessels for stand in self.stands[name]),
            key=lambda stand: stand.at,
        )
        runs = [list(run) for _, run in groupby(stands, key=lambda stand: stand.vessel)]
        spans = {}
        for name in row.vessels:
            own = [run for run in runs if run[0].vessel == name]
            if not own:
                continue
            main = max(own, key=len)
            self.stands[name] = main
            first, last = main[0].at, main[-1].at
            spans[name] = first, last
            for stand in (each for run in own if run is not main for each in run):
                right = stand.at > last
                key = (last, 1.5, stand.at) if right else (first, 0.7, stand.at)
                entry = Item(key)
                count = len(stand.thing.drains) if isinstance(stand.thing, Bundle) else 1
                entry.needs(("row", number), 9.0, 9.0 + PITCH * (count - 1))
                stand.thing.entries[stand.side] = entry
        return spans

    def _free_place(
        self, name: str, shift: float | None, spans: dict[str, tuple[float, float]]
    ) -> float:
        """Find where drains may stand: beside a vessel's own verticals, before the next vessel."""
        if name not in spans:
            self.most += 1.0
            spans[name] = self.most, self.most
            return self.most
        first, last = spans[name]
        beyond = [start for start, _ in spans.values() if start > last]
        before = [end for _, end in spans.values() if end < first]
        if shift is None:
            at = (last + min(beyond)) / 2 if beyond else last + 0.5
        elif shift > 0.0:
            at = last + shift
            at = at if not beyond or at < min(beyond) else (last + min(beyond)) / 2
        else:
            at = first + shift
            at = at if not before or at > max(before) else (first + max(before)) / 2
        spans[name] = min(first, at), max(last, at)
        return at

    def _add_bundle(self, drains: tuple[Drain, ...], at: float, row: int) -> None:
        below = len(self.scheme.rows) - row
        at += NEXT * (below + 0.01 * len(self.scheme.bundles)) * 0.1
        ordered = sorted(drains, key=lambda drain: _valve(drain) is not None)
        shifts = [0.0]
        for drain in ordered[:-1]:
            shifts.append(shifts[-1] + (DIAL_PITCH if _valve(drain) else PITCH))
        flows = tuple(self.drained.get(drain.name) for drain in ordered)
        tags = tuple(
            drain_words(drain, flow, self.plan) for drain, flow in zip(ordered, flows, strict=True)
        )
        bundle = Bundle(
            tuple(ordered), at, row, self.row_at.get(drains[0].to), flows, tuple(shifts), tags,
            Item((at, 1.0)),
        )  # fmt: skip
        self.scheme.bundles.append(bundle)
        self.most = max(self.most, at)
        for side, name in (("start", drains[0].from_), ("end", drains[0].to)):
            if name in self.stands:
                uphill = bundle.end is not None and bundle.end < row and side == "end"
                self.stands[name].append(_Stand(at, name, side, bundle, uphill))

    def _build(
        self,
        name: str,
        number: int,
        hosts: dict[str, str],
        spans: dict[str, tuple[float, float]],
    ) -> None:
        """Put up the walls of a vessel around what stands at it, and place its words."""
        boxes = [box for box, host in hosts.items() if host == name]
        stands = sorted(
            (stand for each in (name, *boxes) for stand in self.stands[each]),
            key=lambda stand: stand.at,
        )
        slot: Slot = ("row", number)
        if not stands:
            first = last = spans.get(name, (self.most, self.most))[0]
            before, after = (first, -1.0), (last, 2.0)
        elif name in hosts:
            first, last = stands[0].at, stands[-1].at
            before, after = (first, 0.8), (last, 1.2)
        else:
            first, last = stands[0].at, stands[-1].at
            before = (first, 0.3) if stands[0].from_below else (first, -1.0)
            after = (last, 2.0)
            if stands[-1].from_below and len(stands) > 1:
                after = (last, -0.5)
        left, right = Item(before), Item(after)
        left.needs(slot, WALL, WALL - 4.0)
        right.needs(slot, WALL - 4.0, WALL)
        hooked = bool(stands) and stands[0].from_below and name not in hosts
        if len(stands) > 1 and stands[-1].from_below:
            right.needs(slot, HOOK, WALL)
            if isinstance(stands[-1].thing, Column):
                stands[-1].thing.hook = -1.0
        words = vessel_words(self.plan, name, self._spills(name, hosts))
        label = None
        if hooked:
            left.needs(slot, WALL, HOOK - WALL)
        if name not in hosts:
            label = Item((*before, 0.0))
            label.needs(slot, 2.0, max(text.width for text in words) + 4.0)
        else:
            own = [each.thing for each in stands if isinstance(each.thing, Bundle)]
            if own:
                own[0].heading = words
        self.scheme.tanks[name] = Tank(
            name, number, left, right, words, label, hosts.get(name), hooked
        )

    def _spills(self, name: str, hosts: dict[str, str]) -> tuple[str, ...]:
        return tuple(
            f"spills into {weir.to}"
            for weir in self.plan.weirs
            if weir.from_ == name and hosts.get(weir.to) != name
        )


def _valve(drain: Drain) -> ValvePart | None:
    return next((part for part in drain.parts if isinstance(part, ValvePart)), None)


# Room ---------------------------------------------------------------------------------------------


def _crossed(start: int | None, end: int | None) -> Iterator[Slot]:
    """Gaps, and rows between, that a vertical goes through."""
    if start is None or end is None:
        yield "gap", ((end if start is None else start) or 0) + 1
        return
    top, bottom = min(start, end), max(start, end)
    for number in range(top + 1, bottom + 1):
        yield ("gap", number)
        if number < bottom:
            yield ("row", number)


def _ask_for_column(column: Column, scheme: Scheme) -> None:
    item, half = column.item, column.width / 2 + 4.0
    for slot in _crossed(column.start, column.end):
        item.needs(slot, half, half)
    for cell in column.cells:
        item.needs(("gap", column.gap), cell.left, column.width / 2 + cell.right)
    for side, row in (("start", column.start), ("end", column.end)):
        other = column.end if side == "start" else column.start
        if row is None:
            continue
        from_below = other is not None and other > row
        if scheme.rows[row].bar is not None:
            before = _opposite(column, side, scheme)
            item.room["row", row] = (half + 3.0 if before is None else before, half + 3.0)
        elif side in column.entries:
            if from_below:
                item.needs(("row", row), half, half)
        elif from_below and column.hook > 0 and not _is_outside(column, side, scheme):
            item.needs(("row", row), half, HOOK + 8.0)
        else:
            item.needs(("row", row), half, half)
        if side == "start" and column.sunk:
            item.needs(("row", row), 26.0, 26.0)


def _opposite(column: Column, side: Side, scheme: Scheme) -> float | None:
    """Give the room that lets a column stand over the one before it, across their joint."""
    joint = column.line.start if side == "start" else column.line.end
    row, other = (column.start, column.end) if side == "start" else (column.end, column.start)
    before = [
        each
        for each in scheme.columns
        if joint in (each.line.start, each.line.end) and each.at < column.at
    ]
    if not before or row is None:
        return None
    last = max(before, key=lambda each: each.at)
    there = last.end if last.start == row else last.start
    goes_up, went_up = ((end is not None and end < row) for end in (other, there))
    return -(last.width / 2 + 7.0 + GAP) if goes_up != went_up else None


def _is_outside(column: Column, side: Side, scheme: Scheme) -> bool:
    """Whether a column rises outside the left wall of its vessel."""
    name = column.line.start if side == "start" else column.line.end
    tank = scheme.tanks.get(name)
    return tank is not None and tank.left.key[:2] == (column.at, 0.3)


def _ask_for_bundle(bundle: Bundle) -> None:
    item, wide = bundle.item, bundle.shifts[-1]
    for slot in _crossed(bundle.start, bundle.end):
        item.needs(slot, 9.0, wide + 9.0)
    item.needs(("row", bundle.start), 9.0, wide + 9.0)
    if bundle.end is not None and "end" not in bundle.entries:
        item.needs(("row", bundle.end), 9.0, wide + 9.0)
    texts = [text for tag in (bundle.heading, *bundle.tags) for text in tag]
    block = max((text.width for text in texts), default=0.0)
    has_dial = any(_valve(drain) for drain in bundle.drains)
    right = max(16.0 + block, DIAL + 10.0 if has_dial else 0.0)
    item.needs(("gap", bundle.start + 1), 9.0, wide + right)


def _notes(scheme: Scheme, bases: dict[int, float]) -> Iterator[Note]:
    """Names above bars, and what stands on headers between their taps."""
    system = SYSTEMS[scheme.works.plan.units]
    for number, row in enumerate(scheme.rows):
        bar = row.bar
        if bar is None:
            continue
        base = bases[id(bar)]
        for name, (place, flow) in bar.names.items():
            lines = lines_of(name, 12.0, room=ROOM + 20.0, most=2)
            texts = [Text(line, role="soft") for line in lines]
            if flow is not None:
                texts.append(Text(system.text(abs(flow), "flow"), role="soft"))
            item = Item((base + place, 0.0))
            item.needs(("gap", number), 2.0, max(text.width for text in texts) + 2.0)
            item.needs(("row", number), 0.0, 0.0)
            yield Note(bar, number, item, tuple(texts))
        for piece in bar.pieces:
            yield from _cells_on(bar, piece, base, number)


def _cells_on(bar: Bar, piece: Way, base: float, row: int) -> Iterator[Note]:
    near, far = bar.places[piece.start], bar.places[piece.end]
    found = [cell_of(part, piece, along=far > near) for part in piece.parts]
    cells = [cell for cell in found if cell is not None]
    for count, cell in enumerate(cells, start=1):
        place = near + (far - near) * (0.5 + 0.4 * count / (len(cells) + 1))
        item = Item((base + place, 0.5))
        item.needs(("gap", row), cell.left + 3.0, cell.right + 14.0)
        item.needs(("row", row), 12.0, 24.0)
        yield Note(bar, row, item, cell=cell)
