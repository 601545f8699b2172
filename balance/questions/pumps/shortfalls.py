"""What a trial misses: targets and limits, and by how much."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from balance.network.arrays import Network
from balance.questions.aims import Aim
from balance.questions.pumps.answer import Shortfall
from balance.questions.settings.reach import Dry
from balance.questions.settings.search import Found

Floats = NDArray[np.float64]

TELLING = 1e-3
"""Of a target or limit, by which it may be missed: no bucket shows less; our own choice.  Where
several wishes pull at once, the best settings miss one of them by as little as that."""


def shortfalls_of(network: Network, found: Found, flows: Floats) -> tuple[Shortfall, ...]:
    """What branches get too little or too much of at some flows (B,), the worst first."""
    return tuple(sorted(_each(network, found, flows), key=lambda each: -each.missing))


def _each(network: Network, found: Found, flows: Floats) -> Iterator[Shortfall]:
    """Targets that are missed, then limits of branches that are broken."""
    dry = {each.branch: each for each in found.dry}
    totals = found.wishes.rows @ flows
    for aim, flow in zip(found.wishes.aims, totals.tolist(), strict=True):
        if aim.asked == "bleed":
            continue
        missed = _missed(aim, flow, dry.get(aim.name))
        if missed.out_of_reach or missed.missing > TELLING:
            yield missed
    for place, branch in enumerate(network.plan.branches):
        low, high = branch.limits
        flow = float(flows[place])
        if branch.name in dry:
            continue
        if low is not None and flow < low * (1 - TELLING) and not found.space.stays_shut(place):
            yield _outside(branch.name, flow, low)
        if high is not None and flow > high * (1 + TELLING):
            yield _outside(branch.name, flow, high)


def _missed(aim: Aim, flow: float, dry: Dry | None) -> Shortfall:
    is_short = aim.low is not None and flow < aim.low
    bound = (aim.low if is_short else aim.high) or 0.0
    return Shortfall(
        name=aim.name,
        is_total=bool(aim.group),
        flow=flow,
        bound=bound,
        missing=float(aim.missing(np.array([flow]))[0]),
        out_of_reach=dry is not None,
        lift_missing=None if dry is None else _lift_missing(dry),
    )


def _lift_missing(dry: Dry) -> float | None:
    """Head that a branch without water is above what the pump lifts to [m]."""
    if dry.locked or dry.lifted is None or dry.lifted >= dry.needs:
        return None
    return dry.needs - dry.lifted


def _outside(name: str, flow: float, limit: float) -> Shortfall:
    return Shortfall(
        name=name,
        is_total=False,
        flow=flow,
        bound=limit,
        missing=abs(flow - limit) / limit,
        out_of_reach=False,
        lift_missing=None,
    )
