"""Verticals side by side as near as their labels let them: each keeps its order and its room."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

Slot = tuple[str, int]  # the gap above a row or the row itself, and its number
Key = tuple[float, ...]

GAP = 6.0  # between neighbours


@dataclass
class Item:
    """Something that stands at one place and needs room to its left and right, slot by slot."""

    key: Key
    room: dict[Slot, tuple[float, float]] = field(default_factory=dict)
    x: float = 0.0

    def needs(self, slot: Slot, left: float, right: float) -> None:
        """Ask for room in a slot, besides what was asked for."""
        before = self.room.get(slot, (0.0, 0.0))
        self.room[slot] = max(before[0], left), max(before[1], right)


def pack(items: Iterable[Item], *, left: float) -> float:
    """Place items from left to right in the order of their keys; give where the last one ends."""
    edges: dict[Slot, float] = {}
    for item in sorted(items, key=lambda item: item.key):
        item.x = max(
            (edges.get(slot, left) + before for slot, (before, _) in item.room.items()),
            default=left,
        )
        for slot, (_, after) in item.room.items():
            edges[slot] = item.x + after + GAP
    return max(edges.values(), default=left) - GAP


def draw_near(loose: Iterable[Item], items: Iterable[Item]) -> None:
    """Move what may stand anywhere before its neighbours to the right, up to them."""
    free = {id(item) for item in loose}
    edges: dict[Slot, float] = {}
    for item in sorted(items, key=lambda item: item.key, reverse=True):
        if id(item) in free:
            nearest = [
                edges[slot] - after for slot, (_, after) in item.room.items() if slot in edges
            ]
            item.x = max([item.x, *(nearest and [min(nearest)])])
        for slot, (before, _) in item.room.items():
            edges[slot] = min(edges.get(slot, item.x), item.x) - before - GAP
