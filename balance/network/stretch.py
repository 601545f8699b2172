"""A stretch of plumbing between two joints, summed up as the coefficients of one run's law."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from math import isclose, isfinite, pi
from typing import Any

from balance.parts import checks, devices, fittings, outlets, valves
from balance.parts.pumps import GRAVITY
from balance.plan.model import (
    CheckPart,
    DevicePart,
    FittingPart,
    HosePart,
    InletPart,
    LossPart,
    OutletPart,
    Part,
    PipePart,
    ValvePart,
)

SAME_BORE = 0.005  # two bores within this share of each other make no step


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
    outlet_height : axis of a free outlet at its end, else None [m]
    bore_start, bore_end : [m], of the first and last part
    least_area : of all parts [m²]
    pipe_area : least of pipe and hose, infinite where there is none [m²]
    length : of pipe and hose [m]
    volume : of water in pipe, hose and devices [m³]
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
    outlet_height: float | None = None
    bore_start: float | None = None
    bore_end: float | None = None
    least_area: float = float("inf")
    pipe_area: float = float("inf")
    length: float = 0.0
    volume: float = 0.0

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

    def step(self, bore_from: float, bore_to: float) -> None:
        """Adds a sudden step in bore."""
        if isclose(bore_from, bore_to, rel_tol=SAME_BORE):
            return
        self.lose(
            fittings.step(bore_from=bore_from, bore_to=bore_to),
            min(bore_from, bore_to),
            backward=fittings.step(bore_from=bore_to, bore_to=bore_from),
        )

    def laminar(self, k_laminar: float, bore: float, viscosity: float) -> None:
        """Adds the 1/Re term of a fitting: (K1 nu / (D V)) V² / 2g is linear in flow."""
        self.linear += k_laminar * viscosity / bore / (2 * GRAVITY * pi / 4 * bore**2)

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
            )

        return half(), half()


def velocity_head(bore: float) -> float:
    """Velocity head per flow squared, 1 / (2 g A²) [s²/m⁵], in a bore [m]."""
    return 1.0 / (2 * GRAVITY * (pi / 4 * bore**2) ** 2)


def stretch_of(
    parts: Sequence[Part],
    *,
    viscosity: float,
    from_vessel: bool = False,
    to_vessel: bool = False,
    bore_before: float | None = None,
    bore_after: float | None = None,
) -> Stretch:
    """Sums up parts in their order.

    Parameters
    ----------
    viscosity : kinematic [m²/s]
    from_vessel, to_vessel : ends in a vessel, which get a square entrance and a submerged exit
        unless the parts name another
    bore_before, bore_after : of a tee's leg at either end [m], to which a step is computed
    """
    stretch = Stretch()
    if from_vessel and not (parts and isinstance(parts[0], InletPart)):
        _entrance(stretch, outlets.inlet("square"), _first_bore(parts))
    bore = bore_before
    for part in parts:
        if bore is not None and not isinstance(part, InletPart | OutletPart):
            stretch.step(bore, part.bore_from)
        _ADD[type(part)](stretch, part, viscosity)
        bore = part.bore_to
    if bore is not None and bore_after is not None:
        stretch.step(bore, bore_after)
    if to_vessel and not (parts and isinstance(parts[-1], OutletPart)):
        _exit(stretch, outlets.outlet("submerged").k, bore)
    stretch.bore_start = _first_bore(parts)
    stretch.bore_end = bore if parts else None
    return stretch


def _first_bore(parts: Sequence[Part]) -> float | None:
    return parts[0].bore_from if parts else None


def _entrance(stretch: Stretch, k: float, bore: float | None) -> None:
    """An entrance; run backwards it is an exit, unless it is ideal."""
    if bore is not None:
        stretch.lose(k, bore, backward=outlets.outlet("submerged").k if k else 0.0)


def _exit(stretch: Stretch, k: float, bore: float | None) -> None:
    """An exit; run backwards it is an entrance, unless it is ideal."""
    if bore is not None:
        stretch.lose(k, bore, backward=outlets.inlet("square") if k else 0.0)


def _add_straight(stretch: Stretch, part: PipePart | HosePart, _: float) -> None:
    size = part.pipe if isinstance(part, PipePart) else part.hose
    length = part.length * part.count
    stretch.length += length
    stretch.volume += length * pi / 4 * size.bore**2
    stretch.narrow(size.bore)
    stretch.pipe_area = min(stretch.pipe_area, pi / 4 * size.bore**2)
    if part.friction_factor is not None:
        stretch.lose(part.friction_factor * length / size.bore, size.bore)
        return
    roughness = size.roughness if part.roughness is None else part.roughness
    key = (size.bore, roughness / size.bore)
    stretch.pieces[key] = stretch.pieces.get(key, 0.0) + length


def _add_fitting(stretch: Stretch, part: FittingPart, viscosity: float) -> None:
    if part.k is not None:
        # A stated coefficient is all that the fitting loses, its own steps in bore among it.
        stretch.lose(part.k * part.count, part.bore)
        return
    stretch.step(part.bore_from, part.bore)
    loss = fittings.fitting(part.fitting, part.bore)
    stretch.lose(loss.k * part.count, part.bore)
    stretch.laminar(loss.k_laminar * part.count, part.bore, viscosity)
    stretch.step(part.bore, part.bore_to)


def _add_valve(stretch: Stretch, part: ValvePart, viscosity: float) -> None:
    law = valve_law(part)
    stretch.valves.append(PlacedValve(part, law, part.count * velocity_head(part.bore)))
    stretch.laminar(law.k_laminar * part.count, part.bore, viscosity)
    stretch.narrow(part.bore)


def _add_check(stretch: Stretch, part: CheckPart, viscosity: float) -> None:
    law = checks.check_valve(part.check, bore=part.bore)
    stretch.lose((law.k if part.k is None else part.k) * part.count, part.bore)
    stretch.laminar(law.k_laminar * part.count, part.bore, viscosity)
    if not part.failed:
        stretch.one_way = True
        opening = law.opening_head if part.opening is None else part.opening
        stretch.opening_head += opening * part.count


def _add_device(stretch: Stretch, part: DevicePart, _: float) -> None:
    # Fouling is loss at equal flow: at 30 % the device loses 1.3 times what it did when clean.
    factor = (1.0 + part.fouled) * part.count
    stretch.volume += (part.volume or 0.0) * part.count
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
    elif part.k is not None:
        stretch.lose(factor * part.k, part.bore)


def _add_inlet(stretch: Stretch, part: InletPart, _: float) -> None:
    _entrance(stretch, outlets.inlet(part.inlet) if part.k is None else part.k, part.bore)


def _add_outlet(stretch: Stretch, part: OutletPart, _: float) -> None:
    law = outlets.outlet(part.outlet)
    # Several outlets side by side share the flow.
    _exit(stretch, (law.k if part.k is None else part.k) / part.count**2, part.bore)
    if part.outlet == "free":
        stretch.one_way = True
        stretch.outlet_height = part.height


def _add_loss(stretch: Stretch, part: LossPart, _: float) -> None:
    stretch.lose(part.k * part.count, part.bore)


def valve_law(part: ValvePart) -> valves.ValveLaw:
    """Loss against opening of a valve as the plan has it."""
    return valves.valve(
        part.valve, bore=part.bore, table=part.measured(bore=part.bore), k_open=part.k
    )


_ADD: dict[type[Part], Callable[[Stretch, Any, float], None]] = {
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
