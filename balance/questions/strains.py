"""The pressure that pumps bring when everything is shut, beside what each part stands."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from balance.network.arrays import Machine, Network
from balance.parts.ratings import stands
from balance.plan.locate import Path
from balance.plan.model import HosePart, Part, PipePart, Plan, Pump
from balance.units import G

NEAR = 0.5
"""Share of what a part stands from which a doubt is told: a threaded end stands half of what plain
pipe does, and a valve that is shut at once adds to the pressure of a pump at rest. Source:
pvc-makers, note on threads; the rest is common practice, no source."""


@dataclass(frozen=True)
class Strain:
    """A pipe, hose or other part that a pump could press on.

    Attributes
    ----------
    path : where it stands in the plan
    owner : name of its stretch
    what : size and kind of a pipe or hose; empty for a part that states what it stands
    pressure : gauge, with everything shut and its pumps at that speed [Pa]
    foot : height that this pressure is reckoned at, above the plan's datum [m]
    stands : gauge pressure that it stands in water of that temperature [Pa]; zero where it is not
        made for pressure
    guessed : what it stands is printed nowhere, only usual
    """

    path: Path
    owner: str
    what: str
    pressure: float
    foot: float
    stands: float
    guessed: bool = False


Speed = Callable[[Pump], float]  # of a pump that is looked at [ratio]


def top_speed(pump: Pump) -> float:
    """Highest speed that a pump may run at [ratio]."""
    return pump.speed if pump.speed_range is None else pump.speed_range[1]


def dead_head(machine: Machine, speed: Speed = top_speed) -> float:
    """Head of a pump at zero flow and some speed [m]."""
    shaft = float(machine.shaft(np.array([speed(machine.pump)]))[0])
    curve = min(machine.curves, key=lambda points: abs(points.speed - shaft))
    return float(curve.curve.head[0]) * (shaft / curve.speed) ** 2 * (1.0 - machine.pump.wear)


def pressed(network: Network, speed: Speed = top_speed) -> dict[str, tuple[float, float]]:
    """All that pumps press on: gauge pressure at its foot with everything shut [Pa], and that [m].

    By the names of stretches and headers, with pumps at some speed.
    """
    return {
        owner: found
        for piece in _pieces(network)
        if (found := _pressure(network, piece, speed)) is not None
        for owner in piece.owners
    }


def strains(network: Network, speed: Speed = top_speed) -> Iterator[Strain]:
    """All that pumps press on and of which it is known what it stands, in the order of the plan."""
    pressures = pressed(network, speed)
    for path, owner, part in _parts(network.plan):
        if owner not in pressures:
            continue
        if part.stands is not None:
            yield Strain(path, owner, "", *pressures[owner], part.stands)
        elif isinstance(part, PipePart | HosePart):
            is_hose = isinstance(part, HosePart)
            size = part.hose if isinstance(part, HosePart) else part.pipe
            limit = stands(size, temperature=network.water.temperature)
            if limit is not None:
                what = f"{size.name} {'hose' if is_hose else 'pipe'}"
                yield Strain(path, owner, what, *pressures[owner], limit, guessed=is_hose)


def _parts(plan: Plan) -> Iterator[tuple[Path, str, Part]]:
    """Parts of runs, headers and branches, each with its path and the name of its stretch."""
    for run in plan.runs:
        for index, part in enumerate(run.parts):
            yield ("runs", run.name, "parts", index), run.name, part
    for header in plan.headers:
        pipe = PipePart.model_construct(pipe=header.pipe, length=0.0, stands=None)
        yield ("headers", header.name, "pipe"), header.name, pipe
        for place, tap in enumerate(header.taps):
            for index, part in enumerate(tap.parts):
                path = ("headers", header.name, "taps", place, "parts", index)
                yield path, header.name, part
    for branch in plan.branches:
        for index, part in enumerate(branch.parts):
            yield ("branches", branch.name, "parts", index), branch.name, part


@dataclass(frozen=True)
class _Piece:
    """Plumbing that is joined without a pump between: names of its joints and stretches."""

    joints: frozenset[str]
    owners: frozenset[str]


def _pieces(network: Network) -> list[_Piece]:
    pieces = [_Piece(frozenset({joint}), frozenset()) for joint in network.layout.joints()]
    for run in network.layout.runs:
        if run.kind == "pump":
            continue
        joints = frozenset({run.start, run.end} - network.layout.heads.keys())
        joined = [p for p in pieces if p.joints & joints or run.owner in p.owners]
        pieces = [p for p in pieces if p not in joined]
        pieces.append(
            _Piece(
                joints.union(*(p.joints for p in joined)),
                frozenset({run.owner}).union(*(p.owners for p in joined)),
            )
        )
    return pieces


def _pressure(network: Network, piece: _Piece, speed: Speed) -> tuple[float, float] | None:
    """Gauge pressure at the foot of a piece when all its ways out are shut [Pa], and its foot [m].

    It stands under the highest head that a vessel or a chain of pumps brings to it, and its foot is
    the lowest height that the plan tells: of the piece, or of the water that comes to it.  None
    where no pump presses.
    """
    if not any(machine.pump.to in piece.joints for machine in network.machines):
        return None
    fed = list(_feeds(network, piece, frozenset(), speed))
    if not fed:
        return None
    foot = min([*(surface for surface, _ in fed), *_heights(network.plan, piece)])
    return (max(head for _, head in fed) - foot) * network.water.density * G, foot


def _feeds(
    network: Network, piece: _Piece, used: frozenset[str], speed: Speed
) -> Iterator[tuple[float, float]]:
    """Surfaces of the water that can come to a piece, with the heads it comes with [m].

    Heights and heads are above the plan's datum; no pump adds its head twice.
    """
    surfaces = {name: vessel.level for name, vessel in network.plan.vessels.items()}
    for run in network.layout.runs:
        if run.kind != "pump" and run.owner in piece.owners:
            yield from ((surfaces[n],) * 2 for n in (run.start, run.end) if n in surfaces)
    for machine in network.machines:
        source = machine.pump.from_
        if machine.pump.to not in piece.joints or machine.name in used:
            continue
        if source in surfaces:
            before = [(surfaces[source], surfaces[source])]
        else:
            chain = used | {machine.name}
            before = [
                feed
                for other in _pieces(network)
                if source in other.joints
                for feed in _feeds(network, other, chain, speed)
            ]
        yield from ((surface, head + dead_head(machine, speed)) for surface, head in before)


def _heights(plan: Plan, piece: _Piece) -> Iterator[float]:
    """Heights that the plan tells of a piece [m]."""
    told = [joint.height for name, joint in plan.joints.items() if name in piece.joints]
    told += [header.height for header in plan.headers if header.name in piece.owners]
    told += [run.high_point for run in plan.runs if run.name in piece.owners]
    told += [branch.high_point for branch in plan.branches if branch.name in piece.owners]
    yield from (height for height in told if height is not None)
