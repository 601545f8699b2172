"""A stretch of plumbing between two joints, summed up as the coefficients of one run's law."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from math import isclose, isfinite, isinf, pi
from typing import Any, Literal

from balance.parts import beds, checks, devices, fittings, outlets, valves
from balance.parts.pumps import GRAVITY
from balance.parts.valves import ValveLaw
from balance.plan.model import (
    CheckPart,
    DevicePart,
    FittingPart,
    HosePart,
    InletPart,
    LossPart,
    MediaBed,
    OutletPart,
    Part,
    PipePart,
    ValvePart,
)
from balance.water import Water

SAME_BORE = 0.005  # two bores within this share of each other make no step; our own choice


@dataclass(frozen=True)
class PlacedValve:
    """A valve in its stretch.

    Attributes
    ----------
    part : as the plan has it
    law : its loss against opening
    scale : 1 / (2 g A²) of the bore its coefficient stands on [s²/m⁵], times its count
    """

    part: ValvePart
    law: valves.ValveLaw
    scale: float


LossKind = Literal["fitting", "barb", "device", "end"]
"""How surely a loss is known: of fittings and open valves, of barbs, of devices, of plain ends."""


@dataclass(frozen=True)
class LossShare:
    """What one part adds to a stretch's coefficients.

    Attributes
    ----------
    kind : how surely it is known
    in_hose : it goes with the bore of a hose, as the velocity head in it does
    linear, forward, backward : as those of `Stretch`
    """

    kind: LossKind
    in_hose: bool
    linear: float
    forward: float
    backward: float

    def times(self, factor: float) -> LossShare:
        """The same multiplied."""
        return replace(
            self,
            linear=self.linear * factor,
            forward=self.forward * factor,
            backward=self.backward * factor,
        )


@dataclass
class Stretch:
    """Coefficients of one run, summed over its parts.

    Attributes
    ----------
    linear : head per flow [m/(m³/s)], of the 1/Re terms
    forward, backward : head per flow squared, either way [m/(m³/s)²], without its valves
    opening_head : of check valves [m]
    pieces : lengths of straight pipe and hose by bore and relative roughness [m]
    powers : (coefficient, exponent) of devices with a loss through one point
    points : devices with a loss through several points, and the share of it that fouling leaves
    one_way : water cannot pass backwards
    closed : a cap in it lets nothing pass
    outlet_height : axis of a free outlet at its end, else None [m]
    bore_start, bore_end : [m], of the first and last part
    least_area : of all parts [m²]
    pipe_area : least of pipe and hose, infinite where there is none [m²]
    length : of pipe and hose [m]
    volume : of water in pipe, hose and devices, without fittings and valves [m³]
    shares : what each part adds to linear, forward and backward, where it adds anything
    hoses : bores of its hoses [m]
    """

    linear: float = 0.0
    forward: float = 0.0
    backward: float = 0.0
    opening_head: float = 0.0
    pieces: dict[tuple[float, float], float] = field(default_factory=dict)
    powers: list[tuple[float, float]] = field(default_factory=list)
    points: list[tuple[devices.DeviceCurve, float]] = field(default_factory=list)
    valves: list[PlacedValve] = field(default_factory=list)
    one_way: bool = False
    closed: bool = False
    outlet_height: float | None = None
    bore_start: float | None = None
    bore_end: float | None = None
    least_area: float = float("inf")
    pipe_area: float = float("inf")
    length: float = 0.0
    volume: float = 0.0
    shares: list[LossShare] = field(default_factory=list)
    hoses: frozenset[float] = frozenset()

    def lose(self, k: float, bore: float, *, backward: float | None = None) -> None:
        """Adds a coefficient on the velocity in a bore; the same both ways unless told."""
        scale = velocity_head(bore)
        self.forward += k * scale
        self.backward += (k if backward is None else backward) * scale
        self.narrow(bore)

    def velocity(self, flow: float) -> float:
        """Greatest velocity in its pipe and hose [m/s]; short narrow parts count by their loss."""
        area = self.pipe_area if isfinite(self.pipe_area) else self.least_area
        return abs(flow) / area

    def narrow(self, bore: float) -> None:
        """Counts a bore for the least area."""
        self.least_area = min(self.least_area, pi / 4 * bore**2)

    def step(self, bore_from: float, bore_to: float, *, angle: float = fittings.SUDDEN) -> None:
        """Adds a step in bore, sudden or in a cone of that angle [deg]."""
        if isclose(bore_from, bore_to, rel_tol=SAME_BORE):
            return
        self.lose(
            fittings.step(bore_from=bore_from, bore_to=bore_to, angle=angle),
            min(bore_from, bore_to),
            backward=fittings.step(bore_from=bore_to, bore_to=bore_from, angle=angle),
        )

    def laminar(self, k_laminar: float, bore: float, viscosity: float) -> None:
        """Adds the 1/Re term of a fitting: (K1 nu / (D V)) V² / 2g is linear in flow."""
        self.linear += k_laminar * viscosity / bore / (2 * GRAVITY * pi / 4 * bore**2)

    def lossier(self, factor: float, laws: Sequence[ValveLaw]) -> Stretch:
        """The stretch with all it loses multiplied, and with other laws for its valves."""
        return replace(
            self,
            linear=self.linear * factor,
            forward=self.forward * factor,
            backward=self.backward * factor,
            pieces={key: length * factor for key, length in self.pieces.items()},
            powers=[(coefficient * factor, exponent) for coefficient, exponent in self.powers],
            points=[(curve, share * factor) for curve, share in self.points],
            valves=[replace(valve, law=law) for valve, law in zip(self.valves, laws, strict=True)],
            shares=[share.times(factor) for share in self.shares],
        )

    def less(self, tail: Stretch, *, bore_end: float) -> Stretch:
        """What is left without the end of the stretch, which stands by itself as `tail`."""
        pieces = {key: self.pieces[key] - tail.pieces.get(key, 0.0) for key in self.pieces}
        return replace(
            self,
            linear=self.linear - tail.linear,
            forward=self.forward - tail.forward,
            backward=self.backward - tail.backward,
            opening_head=self.opening_head - tail.opening_head,
            pieces={key: length for key, length in pieces.items() if length > 0.0},
            powers=self.powers[: len(self.powers) - len(tail.powers)],
            points=self.points[: len(self.points) - len(tail.points)],
            valves=self.valves[: len(self.valves) - len(tail.valves)],
            shares=self.shares[: len(self.shares) - len(tail.shares)],
            outlet_height=None,
            bore_end=bore_end,
            length=self.length - tail.length,
            volume=self.volume - tail.volume,
        )

    def halves(self) -> tuple[Stretch, Stretch]:
        """The two halves of the stretch, each with half of every loss and of every valve."""

        def half() -> Stretch:
            return replace(
                self,
                linear=self.linear / 2,
                forward=self.forward / 2,
                backward=self.backward / 2,
                opening_head=self.opening_head / 2,
                pieces={key: length / 2 for key, length in self.pieces.items()},
                powers=[(coefficient / 2, exponent) for coefficient, exponent in self.powers],
                points=[(curve, factor / 2) for curve, factor in self.points],
                valves=[replace(valve, scale=valve.scale / 2) for valve in self.valves],
                length=self.length / 2,
                volume=self.volume / 2,
                shares=[share.times(0.5) for share in self.shares],
            )

        return half(), half()


def velocity_head(bore: float) -> float:
    """Velocity head per flow squared, 1 / (2 g A²) [s²/m⁵], in a bore [m]."""
    return 1.0 / (2 * GRAVITY * (pi / 4 * bore**2) ** 2)


def stretch_of(
    parts: Sequence[Part],
    *,
    water: Water,
    from_vessel: bool = False,
    to_vessel: bool = False,
    bore_before: float | None = None,
    bore_after: float | None = None,
) -> Stretch:
    """Sums up parts in their order.

    Parameters
    ----------
    water : what flows
    from_vessel, to_vessel : ends in a vessel, which get a square entrance and a submerged exit
        unless the parts name another
    bore_before, bore_after : of a tee's leg at either end [m], to which a step is computed
    """
    stretch = Stretch(
        hoses=frozenset(part.hose.bore for part in parts if isinstance(part, HosePart))
    )
    if from_vessel and parts and not isinstance(parts[0], InletPart):
        square = outlets.inlet("square")
        stretch.lose(square.k, parts[0].bore_from, backward=square.backward)
        _share(stretch, "fitting", in_hose=parts[0].bore_from in stretch.hoses)
    bore = bore_before
    for part in parts:
        if bore is not None:
            stretch.step(bore, part.bore_from)
        _ADD[type(part)](stretch, part, water)
        bore = part.bore_to
        _share(stretch, _kind(part), in_hose=_goes_with_hose(part, stretch.hoses))
    if bore is not None and bore_after is not None:
        stretch.step(bore, bore_after)
        _share(stretch, "fitting", in_hose=bore in stretch.hoses)
    if to_vessel and bore is not None and not (parts and isinstance(parts[-1], OutletPart)):
        submerged = outlets.outlet("submerged")
        stretch.lose(submerged.k, bore, backward=submerged.backward)
        _share(stretch, "end", in_hose=bore in stretch.hoses)
    stretch.volume = sum(part.holds for part in parts)
    stretch.bore_start = _first_bore(parts)
    stretch.bore_end = bore if parts else None
    return stretch


def _share(stretch: Stretch, kind: LossKind, *, in_hose: bool) -> None:
    """Notes what has been added to the coefficients since the last note."""
    noted = stretch.shares
    added = LossShare(
        kind,
        in_hose,
        stretch.linear - sum(share.linear for share in noted),
        stretch.forward - sum(share.forward for share in noted),
        stretch.backward - sum(share.backward for share in noted),
    )
    # Less than a rounding of the sums is nothing.
    rounding = 1e-12
    if (
        abs(added.linear) > rounding * stretch.linear
        or abs(added.forward) > rounding * stretch.forward
        or abs(added.backward) > rounding * stretch.backward
    ):
        noted.append(added)


def _kind(part: Part) -> LossKind:
    match part:
        case FittingPart() if part.fitting.startswith("barb"):
            return "barb"
        case DevicePart() | LossPart():
            return "device"
        case OutletPart():
            # A plain end gives up the velocity head, which is sure; a nozzle is a device.
            return "end" if _is_plain(part) else "device"
    return "fitting"


def _goes_with_hose(part: Part, hoses: frozenset[float]) -> bool:
    """Whether what a part loses follows the bore of a hose, not a figure of its own."""
    match part:
        case FittingPart() if part.is_barb:
            return part.bore_is_estimate  # then a share of the hose stands for it
        case DevicePart():
            return part.k is not None and part.bore in hoses
        case OutletPart() if not _is_plain(part):
            # A throat that nobody gave is a share of the hose.
            return part.bore_from in hoses and part.bore == part.law.throat(part.bore_from)
    return part.bore_to in hoses


def _is_plain(part: OutletPart) -> bool:
    """Whether an outlet is an end of pipe or hose, and no nozzle, holes or slot."""
    stated = part.drop is not None or part.points is not None
    return not (stated or part.law.narrows or part.law.ports is not None)


def _first_bore(parts: Sequence[Part]) -> float | None:
    return parts[0].bore_from if parts else None


def _add_straight(stretch: Stretch, part: PipePart | HosePart, _: Water) -> None:
    size = part.pipe if isinstance(part, PipePart) else part.hose
    length = part.length * part.count
    stretch.length += length
    stretch.narrow(size.bore)
    stretch.pipe_area = min(stretch.pipe_area, pi / 4 * size.bore**2)
    if part.friction_factor is not None:
        stretch.lose(part.friction_factor * length / size.bore, size.bore)
        return
    roughness = size.roughness if part.roughness is None else part.roughness
    key = (size.bore, roughness / size.bore)
    stretch.pieces[key] = stretch.pieces.get(key, 0.0) + length


def _add_fitting(stretch: Stretch, part: FittingPart, water: Water) -> None:
    loss = fittings.fitting(part.fitting, part.bore)
    if isinf(loss.k):
        stretch.closed = True
        return
    if part.k is not None:
        # A stated coefficient is all that the fitting loses, its own steps in bore among it.
        stretch.lose(part.k * part.count, part.bore)
        return
    stretch.step(part.bore_from, part.bore, angle=part.cone_angle)
    stretch.lose(loss.k * part.count, part.bore)
    stretch.laminar(loss.k_laminar * part.count, part.bore, water.kinematic_viscosity)
    stretch.step(part.bore, part.bore_to, angle=part.cone_angle)


def _add_valve(stretch: Stretch, part: ValvePart, water: Water) -> None:
    law = valve_law(part)
    stretch.valves.append(PlacedValve(part, law, part.count * velocity_head(part.bore)))
    stretch.laminar(law.k_laminar * part.count, part.bore, water.kinematic_viscosity)
    stretch.narrow(part.bore)


def _add_check(stretch: Stretch, part: CheckPart, water: Water) -> None:
    law = checks.check_valve(part.check, bore=part.bore)
    if part.k is not None:
        stretch.lose(part.k * part.count, part.bore)
    else:
        stretch.lose(law.k * part.count, part.bore)
        stretch.laminar(law.k_laminar * part.count, part.bore, water.kinematic_viscosity)
    if not part.failed:
        stretch.one_way = True
        opening = law.opening_head if part.opening is None else part.opening
        stretch.opening_head += opening * part.count


def _add_device(stretch: Stretch, part: DevicePart, water: Water) -> None:
    # Fouling is loss at equal flow: at 30 % the device loses 1.3 times what it did when clean.
    factor = (1.0 + part.fouled) * part.count
    if part.bore:
        stretch.narrow(part.bore)
    if part.points is not None:
        curve = devices.device_curve(
            [point.flow for point in part.points], [point.head for point in part.points]
        )
        stretch.points.append((curve, factor))
    elif part.drop is not None:
        coefficient = devices.coefficient(
            head=part.drop.head, flow=part.drop.flow, exponent=part.exponent
        )
        if part.exponent == 2:
            stretch.forward += factor * coefficient
            stretch.backward += factor * coefficient
        else:
            stretch.powers.append((factor * coefficient, part.exponent))
    elif part.bed is not None:
        _add_bed(stretch, part.bed, factor, water)
    elif part.k is not None:
        stretch.lose(factor * part.k, part.bore)


def _add_bed(stretch: Stretch, media: MediaBed, factor: float, water: Water) -> None:
    bed, viscosity = media.bed, water.kinematic_viscosity
    if media.grain_density is not None:
        curve = beds.lifted(
            bed,
            viscosity=viscosity,
            grain_density=media.grain_density,
            density=water.density,
        )
        stretch.points.append((curve, factor))
        return
    loss = beds.still(bed, viscosity=viscosity)
    stretch.linear += factor * loss.linear
    stretch.forward += factor * loss.quadratic
    stretch.backward += factor * loss.quadratic


def _add_inlet(stretch: Stretch, part: InletPart, _: Water) -> None:
    law = outlets.inlet(part.inlet)
    k = law.k if part.k is None else part.k
    stretch.lose(k, part.bore, backward=law.backward if k else 0.0)


def _add_outlet(stretch: Stretch, part: OutletPart, _: Water) -> None:
    if part.is_free:
        stretch.one_way = True
        stretch.outlet_height = part.height
    # Several outlets side by side share the flow.
    if part.points is not None:
        curve = devices.device_curve(
            [part.count * point.flow for point in part.points],
            [point.head for point in part.points],
        )
        stretch.points.append((curve, 1.0))
    elif part.drop is not None:
        quadratic = devices.coefficient(
            head=part.drop.head, flow=part.count * part.drop.flow, exponent=2.0
        )
        stretch.forward += quadratic
        stretch.backward += quadratic
    else:
        k, backward = _end_loss(part)
        stretch.lose(k / part.count**2, part.bore, backward=backward / part.count**2)


def _end_loss(part: OutletPart) -> tuple[float, float]:
    """Coefficient of an outlet either way, on the velocity in its bore."""
    row, law = part.row(), part.law
    if row is not None:
        return row.k, row.backward
    k = law.k if part.k is None else part.k
    backward = law.backward if isfinite(law.backward) else k
    if part.bore_from > part.bore:
        backward += fittings.step(bore_from=part.bore, bore_to=part.bore_from)
    return k, backward if k else 0.0


def _add_loss(stretch: Stretch, part: LossPart, _: Water) -> None:
    stretch.lose(part.k * part.count, part.bore)


def valve_law(part: ValvePart) -> valves.ValveLaw:
    """Loss against opening of a valve as the plan has it."""
    return valves.valve(
        part.valve, bore=part.bore, table=part.measured(bore=part.bore), k_open=part.k
    )


_ADD: dict[type[Part], Callable[[Stretch, Any, Water], None]] = {
    PipePart: _add_straight,
    HosePart: _add_straight,
    FittingPart: _add_fitting,
    ValvePart: _add_valve,
    CheckPart: _add_check,
    DevicePart: _add_device,
    InletPart: _add_inlet,
    OutletPart: _add_outlet,
    LossPart: _add_loss,
}
