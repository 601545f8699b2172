"""Where drains go down: tried at several places, and the narrowest sheet is kept."""

from __future__ import annotations

import math
from collections.abc import Mapping
from itertools import pairwise

from balance.questions.flows import Flows
from balance.show.pictures.plumbing.packing import GAP, draw_near, pack
from balance.show.pictures.plumbing.scheme import Scheme, scheme_of
from balance.show.pictures.plumbing.ways import works_of

SHIFTS = (0.5, -0.5, 1.5, -1.5, -2.5, 2.5, -3.5)  # from a vessel's own verticals, in taps
DETOUR = 120.0  # wider may a sheet be to spare a drain the way around, or behind, a vessel
FEW = 6  # vessels whose drains are tried each for itself


def arranged(answer: Flows, drained: Mapping[str, float], *, left: float) -> tuple[Scheme, float]:
    """Give the scheme of the narrowest sheet that was found, packed, and where it ends.

    Parameters
    ----------
    left : where it begins
    """

    def tried(shifts: Mapping[str, float]) -> tuple[Scheme, float, float]:
        scheme = scheme_of(answer, works_of(answer), drained, shifts)
        ends = {}
        for last in (False, True):
            pack(scheme.standing, left=left)
            _place_words(scheme, last=last)
            ends[last] = pack(scheme.items, left=left)
        if ends[False] < ends[True]:
            pack(scheme.standing, left=left)
            _place_words(scheme, last=False)
        right = pack(scheme.items, left=left)
        lanes = sum(len(bundle.entries) for bundle in scheme.bundles)
        return scheme, right, right + DETOUR * (lanes + scheme.behind)

    names = list(dict.fromkeys(drain.from_ for drain in answer.plan.drains))
    shifts: dict[str, float] = {}
    best, right, least = tried(shifts)
    alone = len(names) <= FEW
    for group in [[name] for name in names] if alone else [names]:
        for shift in SHIFTS:
            other = shifts | dict.fromkeys(group, shift)
            scheme, end, cost = tried(other)
            if cost < least - 1.0:
                best, right, least, shifts = scheme, end, cost, other
    draw_near(best.loose, best.items)
    return best, right


def _place_words(scheme: Scheme, *, last: bool) -> None:
    """Give the words of a vessel the first place between its verticals that is wide enough.

    Parameters
    ----------
    last : where none is, they stand behind all of its verticals, else in the widest place
    """
    for tank in scheme.tanks.values():
        if tank.label is None:
            continue
        slot = ("row", tank.row)
        here = sorted(
            (
                item
                for item in scheme.standing
                if slot in item.room and tank.left.key <= item.key <= tank.right.key
            ),
            key=lambda item: item.key,
        )
        wanted = sum(tank.label.room[slot])
        boxes = [box for box in scheme.tanks.values() if box.host == tank.name]
        spaces = [
            -math.inf
            if any(box.left.key <= item.key < box.right.key for box in boxes)
            else (after.x - after.room[slot][0]) - (item.x + item.room[slot][1]) - 2 * GAP
            for item, after in pairwise(here)
        ]
        if spaces:
            wide = next((n for n, space in enumerate(spaces) if space >= wanted), None)
            widest = max(range(len(spaces)), key=spaces.__getitem__)
            place = wide if wide is not None else len(spaces) - 1 if last else widest
            tank.label.key = (*here[place].key, 0.0)
