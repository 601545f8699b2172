"""Where everything stands on the sheet, in pixels: from packed verticals to things at places."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from itertools import pairwise

from balance.plan.model import OUTSIDE, Plan, ValvePart
from balance.questions.flows import Flows
from balance.show.pictures.plumbing.arrange import arranged
from balance.show.pictures.plumbing.key import key_of
from balance.show.pictures.plumbing.rows import Row, span_of
from balance.show.pictures.plumbing.scale import room_for_scale, scale_of
from balance.show.pictures.plumbing.scheme import (
    HOOK,
    PITCH,
    Bundle,
    Column,
    Note,
    Scheme,
    Side,
    Tank,
)
from balance.show.pictures.plumbing.tags import DIAL, LEADING, Cell, Text, outlet_of, steps_of
from balance.show.pictures.plumbing.things import (
    BARS,
    Break,
    Device,
    Dial,
    Glass,
    Layout,
    Pipe,
    Point,
    Pump,
    Rule,
    Sign,
    Words,
)

LEFT, EDGE = 52.0, 20.0  # margins: of the scale of heights, and the others
LEAST = 480.0  # width of a sheet
LANE = 18.0  # from lane to lane above a row of vessels
OVER = 16.0  # of a pipe over the rim
BAR = 22.0  # height of a bar's row
LEAST_DEPTH, LEAST_ROW, MOST_ROW = 66.0, 96.0, 220.0  # of water, and of a row of vessels
PUMP = 17.0  # from the middle of a pump to the floor


@dataclass
class _Level:
    """A row with its place: from what height on the sheet to what, and its scale."""

    top: float = 0.0
    bottom: float = 0.0
    high: float = 0.0  # height at `first` [m]
    first: float = 0.0
    scale: float = 0.0  # pixels for a metre

    def y(self, height: float) -> float:
        """Where a height lies."""
        return self.first + (self.high - height) * self.scale

    @property
    def middle(self) -> float:
        """Of a bar."""
        return (self.top + self.bottom) / 2


def layout_of(answer: Flows, drained: Mapping[str, float]) -> Layout:
    """Lay a plan out with what flows in it.

    Parameters
    ----------
    drained : flows of drains, as far as they are known [m³/s]
    """
    margin = max(LEFT, room_for_scale(answer.plan) + 26.0)
    scheme, right = arranged(answer, drained, left=margin + 10.0)
    shift = max((LEAST - right - EDGE) / 2, 0.0)
    for item in scheme.items:
        item.x += shift
    return _Sheet(scheme, max(right + EDGE, LEAST), margin).laid()


@dataclass
class _Sheet:
    """Collects what stands on the sheet."""

    scheme: Scheme
    width: float
    margin: float
    glasses: list[Glass] = field(default_factory=list)
    pipes: list[Pipe] = field(default_factory=list)
    tees: list[tuple[Point, Point, float]] = field(default_factory=list)
    dials: list[Dial] = field(default_factory=list)
    pumps: list[Pump] = field(default_factory=list)
    devices: list[Device] = field(default_factory=list)
    signs: list[Sign] = field(default_factory=list)
    rules: list[Rule] = field(default_factory=list)
    words: list[Words] = field(default_factory=list)

    def __post_init__(self) -> None:
        """Find the lanes above each row, then the levels of all rows."""
        self.plan: Plan = self.scheme.works.plan
        self.lanes = _lanes(self.scheme)
        self.gaps: list[tuple[float, float]] = []
        self.levels: list[_Level] = []
        self._stack_levels()

    def laid(self) -> Layout:
        """Everything at its place."""
        for tank in self.scheme.tanks.values():
            self._tank(tank)
        for bundle in self.scheme.bundles:
            self._bundle(bundle)
        for column in self.scheme.columns:
            self._column(column)
        for number, row in enumerate(self.scheme.rows):
            if row.bar is not None:
                self._bar(number)
        for note in self.scheme.notes:
            self._note(note)
        self._weirs()
        rules, words = scale_of(self.plan, self._zones(), self.margin - 8.0)
        breaks = tuple(self._breaks())
        said, samples, dials, foot = key_of(
            self.scheme, self.plan.title, EDGE, self.width - EDGE, self.gaps[-1][1] + 10.0
        )
        self.words += said
        self.pipes += samples
        self.dials += dials
        return Layout(
            self.width, foot,
            tuple(self.glasses), tuple(self.pipes), tuple(self.tees), breaks,
            tuple(self.dials), tuple(self.pumps), tuple(self.devices), tuple(self.signs),
            (*self.rules, *rules), (*self.words, *words),
        )  # fmt: skip

    # Levels ---------------------------------------------------------------------------------------

    def _stack_levels(self) -> None:
        y = EDGE
        for number, row in enumerate(self.scheme.rows):
            y = self._gap(number, y)
            level = self._vessel_level(number, row, y) if row.vessels else _Level(y, y + BAR)
            self.levels.append(level)
            y = level.bottom
        self._gap(len(self.scheme.rows), y)

    def _gap(self, number: int, top: float) -> float:
        stacks = [column for column in self.scheme.columns if column.gap == number]
        heights = [column.height + 24.0 + _tail(column) for column in stacks]
        heights += [_block_height(b) for b in self.scheme.bundles if b.start + 1 == number]
        heights += [_note_height(note) for note in self.scheme.notes if note.row == number]
        edge = number in (0, len(self.scheme.rows))
        height = max([0.0 if edge else 20.0, *heights])
        self.gaps.append((top, top + height))
        return top + height

    def _vessel_level(self, number: int, row: Row, top: float) -> _Level:
        spans = {name: span_of(self.plan, name) for name in row.vessels}
        outlets = [height for height in self._heights_at(row) if height is not None]
        high = max([span.rim for span in spans.values()] + outlets)
        low = min(span.bottom for span in spans.values())
        hosts = [tank for tank in self.scheme.tanks.values() if tank.row == number]
        depths = [
            spans[tank.name].level - spans[tank.name].bottom for tank in hosts if not tank.host
        ]
        tall = max(high - low, 1e-3)
        scale = max(LEAST_DEPTH / min(depths), LEAST_ROW / tall)
        scale = min(scale, (MOST_ROW if self._in_use(number) else LEAST_ROW) / tall)
        first = top + LANE * self.lanes.count(number) + OVER + 10.0
        level = _Level(top, first + tall * scale + 4.0, high, first, scale)
        for tank in hosts:
            if tank.label is not None:
                under = self._label_top(tank, level) + LEADING * len(tank.words)
                level.bottom = max(level.bottom, under + 6.0)
        return level

    def _in_use(self, row: int) -> bool:
        """Whether a row has more to do than to give and take water for changes."""
        here = [each for each in self.scheme.verticals if row in (each.start, each.end)]
        return not here or not all(_is_light(vertical) for vertical in here)

    def _heights_at(self, row: Row) -> Iterator[float | None]:
        """Heights of outlets above the vessels of a row."""
        for line in self.scheme.works.lines:
            for step in line.steps:
                outlet = outlet_of(step.way.parts)
                if outlet is not None and step.way.end in row.vessels:
                    yield outlet.height
        for drain in self.plan.drains:
            outlet = outlet_of(drain.parts)
            if outlet is not None and drain.to in row.vessels:
                yield outlet.height

    def _label_top(self, tank: Tank, level: _Level) -> float:
        """Under the surface, or under the floor where the water is too low for the words."""
        span = span_of(self.plan, tank.name)
        surface, floor = level.y(span.level), level.y(span.bottom)
        fits = floor - surface >= LEADING * len(tank.words) + 6.0
        return surface + 4.0 if fits else floor + 4.0

    # Vessels --------------------------------------------------------------------------------------

    def _tank(self, tank: Tank) -> None:
        level, span = self.levels[tank.row], span_of(self.plan, tank.name)
        vessel = self.plan.vessels[tank.name]
        left, right = tank.left.x, self._right_wall(tank, level.scale)
        floor, surface = level.y(span.bottom), level.y(span.level)
        area = (vessel.length or 0.0) * (vessel.width or 0.0)
        sand = vessel.displaced / area * level.scale if area and vessel.bottom is not None else 0.0
        sand = min(sand, (floor - surface) * 0.4)
        self.glasses.append(
            Glass(
                left, right, level.y(span.rim), surface, floor - sand, floor,
                vessel.bottom is not None, tank.host is not None,
            )
        )  # fmt: skip
        if tank.label is not None:
            self._write(tank.words, tank.label.x, self._label_top(tank, level))

    def _right_wall(self, tank: Tank, scale: float) -> float:
        """Draw a vessel as long as it is, as far as there is room to its right."""
        vessel, right = self.plan.vessels[tank.name], tank.right.x
        length = vessel.length or vessel.diameter
        slot = ("row", tank.row)
        beyond = [
            item.x - item.room[slot][0]
            for item in self.scheme.items
            if slot in item.room and item.key > tank.right.key
        ]
        free = min([*beyond, self.width - EDGE]) - 6.0
        if tank.host is not None:
            free = min(free, self._right_wall(self.scheme.tanks[tank.host], scale) - 8.0)
        for other in self.scheme.tanks.values():  # two that a weir joins share a wall
            if other.row == tank.row and self._joined(tank.name, other.name) and not other.host:
                near = [x for x in beyond if x < other.left.x - 12.0]
                if other.left.key > tank.right.key and not near:
                    return other.left.x
        if length is None or not self._in_use(tank.row):
            return right
        return max(right, min(tank.left.x + length * scale, free))

    def _joined(self, one: str, two: str) -> bool:
        return any({weir.from_, weir.to} == {one, two} for weir in self.plan.weirs)

    def _weirs(self) -> None:
        """A spill over the wall that two vessels share, or over that of a box in its vessel."""
        for weir in self.plan.weirs:
            one, two = self.scheme.tanks[weir.from_], self.scheme.tanks[weir.to]
            if one.row != two.row:
                continue
            y = self.levels[one.row].y(weir.crest)
            if two.host == one.name or one.right.key < two.left.key:
                self.signs.append(Sign("spill", two.left.x, y, (1.0, 0.0)))
            else:
                self.signs.append(Sign("spill", one.left.x, y, (-1.0, 0.0)))

    # Lines ----------------------------------------------------------------------------------------

    def _column(self, column: Column) -> None:
        x, light = column.item.x, column.line.light
        ends: dict[Side, list[Point]] = {}
        for side, row in (("start", column.start), ("end", column.end)):
            if row is None:
                ends[side] = [(x, self._open_end(column))]
            elif self.scheme.rows[row].bar is not None:
                ends[side] = [(x, self.levels[row].middle)]
            else:
                ends[side] = self._in_vessel(column, side, row)
        points = (*ends["start"], *reversed(ends["end"]))
        self.pipes.append(
            Pipe(points, column.width, column.state, light, self._depth(lane=bool(column.entries)))
        )
        self._stack(column)
        if column.sunk and column.start is not None:
            span = span_of(self.plan, column.line.start)
            y = self.levels[column.start].y(span.bottom) - PUMP - 2.0
            self.pumps.append(Pump(x, y, light))

    def _depth(self, *, lane: bool) -> int:
        """One in a lane lies before all that were laid so far."""
        return max((pipe.depth for pipe in self.pipes), default=0) + 1 if lane else 0

    def _open_end(self, column: Column) -> float:
        """Where a line ends in the open, with a cap or an arrow."""
        top, bottom = self.gaps[column.gap]
        x = column.item.x
        y = min(top + column.height + 26.0, bottom - 8.0)
        kind = self.scheme.works.terminals.get(
            column.line.end if column.end is None else column.line.start, "end"
        )
        if kind in ("cap", "end"):
            self.signs.append(Sign("cap", x, y, (1.0, 0.0), max(column.width / 2 + 5.0, 8.0)))
        else:
            down = column.end is None
            self.signs.append(Sign("tip", x, y + 2.0, (0.0, 1.0 if down else -1.0)))
        return y

    def _in_vessel(self, column: Column, side: Side, row: int) -> list[Point]:
        """From where it ends in a vessel, to where its vertical begins."""
        level, x = self.levels[row], column.item.x
        name = column.line.start if side == "start" else column.line.end
        other = column.end if side == "start" else column.start
        from_below = other is not None and other > row
        span = span_of(self.plan, name)
        step = column.line.steps[0 if side == "start" else -1]
        leaves = (side == "start") == step.along
        if leaves:
            floor = level.y(span.bottom)
            inside = floor - (PUMP if column.sunk else 14.0)
            inside = max(inside, level.y(span.level) + 6.0)
        else:
            inside = self._outlet(column, side, name, level)
        entry = column.entries.get(side)
        if entry is not None:
            y = self._lane(row, column)
            return [(entry.x, inside), (entry.x, y), (x, y)]
        if from_below and not leaves:
            tip = x + column.hook * HOOK
            over = level.y(max(span.rim, span_of(self.plan, name).level)) - OVER
            return [(tip, inside), (tip, min(over, inside - 14.0)), (x, min(over, inside - 14.0))]
        return [(x, inside)]

    def _outlet(self, column: Column, side: Side, name: str, level: _Level) -> float:
        """Height at which it gives its water to a vessel; a free one drips from there."""
        span, way = span_of(self.plan, name), column.line.steps[0 if side == "start" else -1].way
        outlet = outlet_of(way.parts)
        surface = level.y(span.level)
        if outlet is not None and outlet.height is not None:
            y = level.y(outlet.height)
        else:
            depth = 0.0 if outlet is None or outlet.depth is None else outlet.depth
            y = surface + max(depth * level.scale, 7.0)
        y = min(y, level.y(span.bottom) - 5.0)
        entry, x = column.entries.get(side), column.item.x
        row = column.start if side == "start" else column.end
        other = column.end if side == "start" else column.start
        hooked = entry is None and other is not None and row is not None and other > row
        at = entry.x if entry is not None else x + column.hook * HOOK if hooked else x
        if y < surface - 3.0 and column.state == "wet":
            self.signs.append(Sign("drop", at, y, (0.0, 1.0), surface - y))
        return y

    def _lane(self, row: int, vertical: Column | Bundle, drain: int = 0) -> float:
        number = self.lanes.number(row, vertical, drain)
        return self.levels[row].top + LANE * (number + 0.5) + 2.0

    def _stack(self, column: Column) -> None:
        top, bottom = self.gaps[column.gap]
        rises = column.up and column.start is not None
        y = bottom - column.height - 8.0 if rises else top + 12.0
        way = -1.0 if column.up else 1.0
        arrow = bottom - 3.0 if rises else top + 5.0
        for cell in column.cells:
            self._cell(
                cell, column.item.x, y,
                way=way, half=column.width / 2, light=column.line.light,
            )  # fmt: skip
            y += cell.height
        if column.state == "wet" and column.start is not None and column.end is not None:
            ahead = way if (column.line.flow or 0.0) > 0.0 else -way
            self.signs.append(Sign("arrow", column.item.x, arrow, (0.0, ahead), column.width / 2))

    def _cell(
        self, cell: Cell, x: float, y: float, *, way: float, half: float, light: bool
    ) -> None:
        under = y + (0.0 if cell.aside else cell.figure)
        if cell.valve is not None:
            pivot = y + DIAL + 5.0
            self.dials.append(
                Dial(x, pivot, cell.valve.open, steps_of(cell.valve), cell.valve.locked)
            )
        elif cell.kind == "check":
            self.signs.append(Sign("check", x, y + 9.0, (0.0, way if cell.along else -way), 8.0))
        elif cell.kind == "device":
            self.devices.append(Device(x, y + 2.0))
        elif cell.kind == "pump":
            self.pumps.append(Pump(x, y + 20.0, light))
        self._write(cell.texts, x + half + cell.indent, under)

    def _write(self, texts: tuple[Text, ...], x: float, top: float) -> None:
        """Write lines of text one under another, from an upper edge on."""
        for number, text in enumerate(texts):
            y = top + LEADING * number + 11.5
            self.words.append(Words(x, y, text.text, text.size, text.bold, text.role))

    # Drains ---------------------------------------------------------------------------------------

    def _bundle(self, bundle: Bundle) -> None:
        level, gauge = self.levels[bundle.start], self.scheme.gauge
        top, bottom = self.gaps[bundle.start + 1]
        x = bundle.item.x
        block = x + bundle.shifts[-1] + 16.0
        y = top + 8.0
        self._write(bundle.heading, block, y)
        y += LEADING * len(bundle.heading) + (6.0 if bundle.heading else 0.0)
        surface = level.y(span_of(self.plan, bundle.drains[0].from_).level)
        for number, drain in enumerate(bundle.drains):
            here = x + bundle.shifts[number]
            inlet = surface if drain.inlet is None else level.y(drain.inlet)
            width, state = gauge.width(bundle.flows[number]), gauge.state(bundle.flows[number])
            start = (here, inlet)
            self.signs.append(Sign("funnel", here, inlet, (0.0, 1.0), width / 2 + 4.0))
            ends = self._drain_end(bundle, number, here, bottom)
            depth = self._depth(lane=len(ends) > 1)
            self.pipes.append(Pipe((start, *ends), width, state, bundle.light, depth))
            tag = bundle.tags[number]
            if len(bundle.drains) > 1:
                middle = y + 7.5
                self.rules.append(Rule(((here, middle), (block - 4.0, middle)), dot=True))
            self._write(tag, block, y)
            y += LEADING * len(tag) + 5.0
        y += 4.0
        for number, drain in enumerate(bundle.drains):
            valve = next((part for part in drain.parts if isinstance(part, ValvePart)), None)
            if valve is not None:
                cell, here = Cell("valve", valve=valve), x + bundle.shifts[number]
                self._cell(cell, here, y, way=1.0, half=0.0, light=bundle.light)

    def _drain_end(self, bundle: Bundle, number: int, x: float, bottom: float) -> list[Point]:
        drain = bundle.drains[number]
        if bundle.end is None or drain.to == OUTSIDE:
            self.signs.append(Sign("tip", x, bottom - 8.0, (0.0, 1.0)))
            return [(x, bottom - 10.0)]
        level, span = self.levels[bundle.end], span_of(self.plan, drain.to)
        outlet = outlet_of(drain.parts)
        surface = level.y(span.level)
        if outlet is not None and outlet.height is not None:
            y = level.y(outlet.height)
        else:
            depth = 0.0 if outlet is None or outlet.depth is None else outlet.depth
            y = surface + max(depth * level.scale, 7.0)
        y = min(y, level.y(span.bottom) - 5.0)
        entry = bundle.entries.get("end")
        at = x if entry is None else entry.x + PITCH * number
        if y < surface - 3.0 and self.scheme.gauge.state(bundle.flows[number]) == "wet":
            self.signs.append(Sign("drop", at, y, (0.0, 1.0), surface - y))
        if entry is None:
            return [(x, y)]
        lane = self._lane(bundle.end, bundle, number)
        return [(x, lane), (at, lane), (at, y)]

    # Bars -----------------------------------------------------------------------------------------

    def _bar(self, row: int) -> None:
        """A bar in pieces from tap to tap; what flows in each follows from what comes and goes."""
        level, bar, gauge = self.levels[row], self.scheme.rows[row].bar, self.scheme.gauge
        if bar is None:
            return
        taps = []
        for column in self.scheme.columns:
            flow = column.line.flow
            for side, joint in (("start", column.line.start), ("end", column.line.end)):
                if joint in bar.places:
                    came = None if flow is None else (flow if side == "end" else -flow)
                    taps.append((column.item.x, came, column))
        taps.sort(key=lambda tap: tap[0])
        y, total = level.middle, 0.0
        known = all(came is not None for _, came, _ in taps)
        light = all(column.line.light for *_, column in taps) if taps else False
        for (x, came, near), (there, _, far) in pairwise(taps):
            total += came or 0.0
            flow = total if known else None
            width, state = gauge.width(flow), gauge.state(flow)
            beyond = (
                near.width / 2 if x == taps[0][0] else 0.0,
                far.width / 2 if there == taps[-1][0] else 0.0,
            )
            self.pipes.append(Pipe(((x, y), (there, y)), width, state, light, BARS, beyond))
            if state == "wet" and there - x > 26.0:
                ahead = 1.0 if total > 0.0 else -1.0
                middle = there - 15.0 if ahead > 0.0 else x + 15.0
                self.signs.append(Sign("arrow", middle, y, (ahead, 0.0), width / 2))
        widths = [
            pipe.width for pipe in self.pipes if pipe.depth == BARS and pipe.points[0][1] == y
        ]
        for x, _, column in taps:
            if column.state != "dry":
                other = self._other_end(column, row)
                reach = max([*widths, 4.0]) / 2 + 4.0
                self.tees.append(((x, y), (x, y + reach if other > y else y - reach), column.width))

    def _other_end(self, column: Column, row: int) -> float:
        """Where a column goes on from a bar: above it or below it."""
        if column.start is None or column.end is None:
            return self.levels[row].bottom + 1.0
        other = column.end if column.start == row else column.start
        return self.levels[row].bottom + 1.0 if other > row else self.levels[row].top - 1.0

    def _note(self, note: Note) -> None:
        level = self.levels[note.row]
        if note.cell is None:
            top = level.middle - 14.0 - LEADING * len(note.texts)
            self._write(note.texts, note.item.x, top)
            return
        x, y, cell = note.item.x, level.middle, note.cell
        if cell.valve is not None:
            self.dials.append(
                Dial(x, y, cell.valve.open, steps_of(cell.valve), cell.valve.locked, flat=True)
            )
        elif cell.kind == "check":
            self.signs.append(Sign("check", x, y, (1.0 if cell.along else -1.0, 0.0), 8.0))
        elif cell.kind == "device":
            self.devices.append(Device(x, y - 30.0))
        lift = {"valve": DIAL + 12.0, "device": 34.0}.get(cell.kind, 14.0)
        self._write(cell.texts, x + 2.0, y - lift - LEADING * len(cell.texts))

    # Crossings and the scale ----------------------------------------------------------------------

    def _breaks(self) -> Iterator[Break]:
        """Where a pipe passes behind another that it does not join."""
        pieces = [(a, b, pipe) for pipe in self.pipes for a, b in pairwise(pipe.points)]
        upright = [piece for piece in pieces if piece[0][0] == piece[1][0]]
        level = [piece for piece in pieces if piece[0][1] == piece[1][1]]
        for (x, y0), (_, y1), one in upright:
            for (x0, y), (x1, _), two in level:
                across = min(x0, x1) + 3.0 < x < max(x0, x1) - 3.0
                if one is two or not across or not min(y0, y1) + 3.0 < y < max(y0, y1) - 3.0:
                    continue
                front, back = (two, one) if two.depth >= one.depth else (one, two)
                reach = front.width / 2 + 4.5
                ends = ((x, y - reach), (x, y + reach))
                if back is two:
                    ends = ((x - reach, y), (x + reach, y))
                yield Break(ends, back.width + 6.0, front.depth)

    def _zones(self) -> list[tuple[float, float, float, float]]:
        """Rows of vessels: the heights at their upper and lower ends, and where these lie."""
        zones = []
        for level, row in zip(self.levels, self.scheme.rows, strict=True):
            if row.vessels:
                low = min(span_of(self.plan, name).bottom for name in row.vessels)
                zones.append((level.high, low, level.y(level.high), level.y(low)))
        return zones


def _is_light(vertical: Column | Bundle) -> bool:
    return vertical.line.light if isinstance(vertical, Column) else vertical.light


def _tail(column: Column) -> float:
    return 26.0 if column.start is None or column.end is None else 0.0


def _block_height(bundle: Bundle) -> float:
    texts = LEADING * len(bundle.heading) + 6.0 if bundle.heading else 0.0
    texts += sum(LEADING * len(tag) + 5.0 for tag in bundle.tags)
    dial = any(isinstance(part, ValvePart) for drain in bundle.drains for part in drain.parts)
    return 8.0 + texts + (DIAL + 18.0 if dial else 0.0) + (24.0 if bundle.end is None else 8.0)


def _note_height(note: Note) -> float:
    texts = LEADING * len(note.texts)
    if note.cell is not None:
        texts = LEADING * len(note.cell.texts) + (DIAL + 14.0 if note.cell.valve else 30.0)
    return texts + 12.0


class _Lanes:
    """Ways above a row of vessels, for what enters one from beyond another."""

    def __init__(self) -> None:
        self.taken: dict[int, list[list[tuple[float, float]]]] = {}
        self.places: dict[tuple[int, int, int], int] = {}

    def count(self, row: int) -> int:
        """How many there are above a row."""
        return len(self.taken.get(row, ()))

    def number(self, row: int, vertical: Column | Bundle, drain: int) -> int:
        """Give the lane of a vertical."""
        return self.places[row, id(vertical), drain]

    def take(
        self, row: int, vertical: Column | Bundle, drain: int, reach: tuple[float, float]
    ) -> None:
        """Give a vertical the first lane that is free as far as it reaches."""
        lanes = self.taken.setdefault(row, [])
        number = 0
        while number < len(lanes) and not _free(lanes[number], reach):
            number += 1
        if number == len(lanes):
            lanes.append([])
        lanes[number].append(reach)
        self.places[row, id(vertical), drain] = number


def _free(lane: list[tuple[float, float]], reach: tuple[float, float]) -> bool:
    return all(reach[1] + 12.0 < low or high + 12.0 < reach[0] for low, high in lane)


def _lanes(scheme: Scheme) -> _Lanes:
    lanes = _Lanes()
    for vertical in scheme.verticals:
        for side, entry in vertical.entries.items():
            row = vertical.start if side == "start" else vertical.end
            if row is None:
                continue
            shifts = vertical.shifts if isinstance(vertical, Bundle) else (0.0,)
            for number, shift in enumerate(shifts):
                reach = sorted((vertical.item.x + shift, entry.x + PITCH * number))
                lanes.take(row, vertical, number, (reach[0], reach[1]))
    return lanes
