"""Levels of a picture, from the top down: rows of vessels, and bars between them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import NamedTuple

from balance.plan.model import Plan
from balance.show.pictures.plumbing.ways import Bar, Line, Step, Way, Works

RIM, DEPTH = 0.04, 0.25  # above and below a level where the plan tells no more [m]
SHARED = 0.25  # of the lower one's height, that vessels of a row have in common
STEP = 1e-6  # between bars whose height is not told [m]


class Span(NamedTuple):
    """Heights of a vessel [m]."""

    bottom: float
    level: float
    rim: float


@dataclass(frozen=True)
class Row:
    """A row of vessels, or a bar; the one or the other.

    Attributes
    ----------
    height : by which rows are sorted [m]
    """

    height: float
    vessels: tuple[str, ...] = ()
    bar: Bar | None = None


def span_of(plan: Plan, name: str) -> Span:
    """Heights of a vessel, with what the plan leaves out supposed."""
    vessel = plan.vessels[name]
    bottom = vessel.level - DEPTH if vessel.bottom is None else vessel.bottom
    rim = vessel.level + RIM if vessel.rim is None else vessel.rim
    return Span(min(bottom, vessel.level - 0.02), vessel.level, max(rim, vessel.level + 0.005))


def rows_of(works: Works) -> list[Row]:
    """Sort vessels and bars into rows, the highest first.

    Lines between two places of one row are cut in two, and meet on a bar of their own above it.
    """
    rows = [*_vessel_rows(works.plan), *_bar_rows(works)]
    rows.sort(key=lambda row: -row.height)
    return list(_with_arches(works, rows))


def _vessel_rows(plan: Plan) -> Iterator[Row]:
    """Vessels that stand beside one another; a drain between two puts one below the other."""
    apart = {frozenset((drain.from_, drain.to)) for drain in plan.drains}
    rows: list[list[str]] = []
    for name in sorted(plan.vessels, key=lambda name: -plan.vessels[name].level):
        if rows and all(_beside(plan, name, other, apart) for other in rows[-1]):
            rows[-1].append(name)
        else:
            rows.append([name])
    for names in rows:
        levels = [plan.vessels[name].level for name in names]
        yield Row(sum(levels) / len(levels), tuple(n for n in plan.vessels if n in names))


def _beside(plan: Plan, name: str, other: str, apart: set[frozenset[str]]) -> bool:
    one, two = span_of(plan, name), span_of(plan, other)
    shared = min(one.rim, two.rim) - max(one.bottom, two.bottom)
    least = min(one.rim - one.bottom, two.rim - two.bottom)
    return frozenset((name, other)) not in apart and shared > SHARED * least


def _bar_rows(works: Works) -> Iterator[Row]:
    """Bars at their heights; others above what feeds them, the farther the higher."""
    plan = works.plan
    sources = {
        end
        for line in works.lines
        if line.pumps and not line.light
        for end in (line.start, line.end)
        if end in plan.vessels
    }
    pumped = bool(sources)
    low = min((vessel.level for vessel in plan.vessels.values()), default=0.0)
    high = max((vessel.level for vessel in plan.vessels.values()), default=0.0)
    base = (low + high) / 2
    if pumped:
        base = min(span_of(plan, name).rim for name in sources)
    depths = _depths(works, sources or set(plan.vessels))
    heights: dict[int, float] = {}
    for bar in sorted(works.bars, key=lambda bar: depths.get(id(bar), 0)):
        depth = depths.get(id(bar), 0)
        height = base + STEP * depth * (1 if pumped else -1) if bar.height is None else bar.height
        heights[id(bar)] = height
        yield Row(height, bar=bar)


def _depths(works: Works, sources: set[str]) -> dict[int, int]:
    """How many lines away from the pumps' vessels a bar is, by its identity."""
    import networkx as nx

    graph = nx.Graph()
    for line in works.lines:
        ends = [id(works.home[end]) if end in works.home else end for end in (line.start, line.end)]
        graph.add_edge(*ends)
    found = [source for source in sorted(sources) if source in graph]
    for vessel in works.plan.vessels:  # the way is not through another vessel
        if vessel in graph and vessel not in found:
            graph.remove_node(vessel)
    if not found:
        return {}
    depths = nx.multi_source_dijkstra_path_length(graph, found)
    return {bar: depth for bar, depth in depths.items() if isinstance(bar, int)}


def _with_arches(works: Works, rows: list[Row]) -> Iterator[Row]:
    place = {name: number for number, row in enumerate(rows) for name in row.vessels}
    place |= {
        joint: number for number, row in enumerate(rows) if row.bar for joint in row.bar.places
    }
    arches: dict[int, list[Row]] = {}
    lines: list[Line] = []
    for line in works.lines:
        start, end = place.get(line.start), place.get(line.end)
        if start != end:
            lines.append(line)
            continue
        number = start or 0
        top = f"{line.steps[0].way.name} at its highest"
        arch = Bar({top: 0.0})
        works.bars.append(arch)
        works.home[top] = arch
        height = rows[number].height if rows else 0.0
        arches.setdefault(number, []).append(Row(height, bar=arch))
        down = Way(line.steps[-1].way.name, "link", top, line.end, flow=line.flow, light=line.light)
        lines += [
            Line(line.steps, line.start, top),
            Line((Step(down, along=True),), top, line.end),
        ]
    works.lines = lines
    for number, row in enumerate(rows):
        yield from arches.get(number, ())
        yield row
