"""The order of all verticals from left to right, before there are widths."""

from __future__ import annotations

from collections import deque

from balance.show.pictures.plumbing.ways import Bar, Works

NEXT = 1e-4  # keeps verticals apart that would have one place


def places_of(works: Works) -> tuple[dict[int, float], dict[int, float]]:
    """Place each line and the beginning of each bar, by their identity.

    Taps stand a step apart, and what leads to them where they are.
    """
    found: dict[int, float] = {}
    bars: dict[int, float] = {}  # where the place 0 of a bar is
    leading = [line for line in works.lines if line.pumps]
    for line in (*leading, *works.lines):
        for end in (line.start, line.end):
            bar = works.home.get(end)
            if bar is not None and id(bar) not in bars:
                edge = max(found.values(), default=-2.0) + 2.0
                _spread(works, bar, edge - bar.places[end], found, bars)
    for line in works.lines:
        if id(line) not in found:
            found[id(line)] = max(found.values(), default=-1.0) + 1.0
    return {id(line): found[id(line)] + NEXT * n for n, line in enumerate(works.lines)}, bars


def _spread(
    works: Works, first: Bar, at: float, found: dict[int, float], bars: dict[int, float]
) -> None:
    """Place all lines that can be reached from a bar over other bars."""
    waiting = deque([(first, at)])
    bars[id(first)] = at
    while waiting:
        bar, base = waiting.popleft()
        for joint, place in bar.places.items():
            lines = [line for line in works.lines if joint in (line.start, line.end)]
            lines.sort(key=lambda line: (not line.pumps, line.light))
            for number, line in enumerate(lines):
                there = base + place + (number if bar.is_joint else 0.01 * number)
                there = found.setdefault(id(line), there)
                for end in (line.start, line.end):
                    other = works.home.get(end)
                    if other is not None and id(other) not in bars:
                        bars[id(other)] = there - other.places[end]
                        waiting.append((other, bars[id(other)]))
