"""Pressure along the way, wherever the plan gives a height.

A gauge shows p = rho (g (H - z) - V²/2) over the air's pressure, with the total head H and the
velocity V of the pipe it is screwed into: one place in one pipe.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

from balance.network.along import Along, Section
from balance.network.layout import tap_joint
from balance.parts.pumps import GRAVITY
from balance.plan.model import Header
from balance.questions.record import Record, quantity
from balance.water import atmosphere

Kind = Literal["header", "joint", "suction", "high point"]

_ROUNDING = 1.0  # Pa, a tenth of a millimetre of water: no pressure is known so well


@dataclass(frozen=True, kw_only=True)
class Pressure(Record):
    """Gauge pressure at one place.

    Attributes
    ----------
    place : the joint, or the stretch whose high point it is
    kind : what gave the height
    stretch : the run, branch or header it is read in; None at a joint that nothing ties to a vessel
    height : of the place above the plan's datum [m]
    head : total, above that datum [m]; None, as what follows, where nothing ties it to a vessel
    velocity : of the water there [m/s]
    pressure : over the air's [Pa], negative below it
    below_atmosphere : air may be drawn in at unions and valves there
    below_vapour : the water boils there and its column breaks, so the flows are not to be believed
    """

    place: str
    kind: Kind
    stretch: str | None
    height: float = quantity("length")
    head: float | None = quantity("head")
    velocity: float | None = quantity("velocity")
    pressure: float | None = quantity("pressure")
    below_atmosphere: bool
    below_vapour: bool

    @property
    def words(self) -> str:
        """The place as a sentence names it."""
        return (
            f'the high point of "{self.place}"' if self.kind == "high point" else f'"{self.place}"'
        )


def pressures_of(along: Along) -> tuple[Pressure, ...]:
    """Pressures of a solved plan: headers, joints, suctions, high points of runs and branches.

    Each is the least that there is: at a joint, of the pipes that meet there (for a header, of its
    own); at a high point, of all of its stretch, since the plan does not say where along it lies.
    """
    return (*_headers(along), *_joints(along), *_suctions(along), *_high_points(along))


def _headers(along: Along) -> Iterator[Pressure]:
    for header in along.solution.network.plan.headers:
        if header.height is None:
            continue
        for joint in _joints_of(header):
            if joint in along.solution.network.joint_names:
                legs = [
                    (run.owner, section)
                    for run, section in along.legs(joint)
                    if run.owner == header.name
                ]
                yield _least(along, joint, "header", header.height, legs, owner=header.name)


def _joints_of(header: Header) -> tuple[str, ...]:
    taps = [tap_joint(tap.branch) for tap in header.taps if tap.branch is not None]
    return tuple(dict.fromkeys((header.from_, *taps, *((header.to,) if header.to else ()))))


def _joints(along: Along) -> Iterator[Pressure]:
    for name, joint in along.solution.network.plan.joints.items():
        if joint.height is not None:
            legs = [(run.owner, section) for run, section in along.legs(name)]
            yield _least(along, name, "joint", joint.height, legs)


def _suctions(along: Along) -> Iterator[Pressure]:
    """Joints that a pump draws from, at the height of its intake where they have none."""
    network = along.solution.network
    for machine in network.machines:
        joint, height = machine.pump.from_, machine.pump.intake
        known = network.plan.joints.get(joint)
        if (
            height is None
            or joint not in network.joint_names
            or (known is not None and known.height is not None)
        ):
            continue
        legs = [(run.owner, section) for run, section in along.legs(joint)]
        yield _least(along, joint, "suction", height, legs)


def _high_points(along: Along) -> Iterator[Pressure]:
    for stretch in along.stretches():
        if stretch.high_point is not None:
            sections = [(stretch.name, section) for section in along.sections(stretch)]
            yield _least(
                along,
                stretch.name,
                "high point",
                stretch.high_point,
                sections,
                owner=stretch.name,
            )


def _least(
    along: Along,
    place: str,
    kind: Kind,
    height: float,
    sections: Sequence[tuple[str, Section]],
    *,
    owner: str | None = None,
) -> Pressure:
    """The least pressure of some sections at one height, each with what it is a section of."""
    if not sections:
        return Pressure(
            place=place,
            kind=kind,
            stretch=owner,
            height=height,
            head=None,
            velocity=None,
            pressure=None,
            below_atmosphere=False,
            below_vapour=False,
        )
    water = along.solution.network.water
    air = atmosphere(altitude=along.solution.network.plan.water.altitude)
    stretch, section = min(sections, key=lambda pair: pair[1].standing)
    pressure = water.density * GRAVITY * (section.standing - height)
    return Pressure(
        place=place,
        kind=kind,
        stretch=stretch,
        height=height,
        head=section.head,
        velocity=section.velocity,
        pressure=pressure,
        below_atmosphere=pressure < -_ROUNDING,
        below_vapour=air + pressure < water.vapour_pressure,
    )
