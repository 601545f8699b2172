"""What one pump can do: its curve as measured, as it is used, and at other speeds."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from math import isclose
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from balance.errors import UsageError
from balance.parts import families, pumps
from balance.parts.families import CurvePoints
from balance.parts.pumps import GRAVITY, NOISE, TEST_DENSITY
from balance.plan.fields import SPEED
from balance.plan.model import WaterSpec
from balance.questions.record import Record, frame, quantity
from balance.units import SYSTEMS, UnitSystem
from balance.water import density

if TYPE_CHECKING:
    import pandas as pd

Floats = NDArray[np.float64]

SPEEDS = (1.0, 0.9, 0.8, 0.7, 0.6, 0.5, 0.4)  # asked for where none are; our own choice
FLAT = 0.25  # of run-out: a head that has not fallen by then is told as flat; our own choice
SWAPPED = 1e-9  # by which more head or flow at less speed is no slip of rounding
_SAME_SPEED = 9  # decimals to which two speeds are the same
_PARTS = 10  # even steps of flow up to run-out
_POINTS = 61  # along a curve as drawn


@dataclass(frozen=True, kw_only=True)
class MeasuredPoint(Record):
    """A point of a curve as measured, and the curve that is used beside it.

    Attributes
    ----------
    flow, head : as measured [m³/s], [m]
    power : at the wire [W], None where it was not measured
    used_head : of the curve that is used, at that flow [m]
    off : head as measured less head as used, of shut-off head [ratio]
    """

    flow: float = quantity("flow")
    head: float = quantity("head")
    power: float | None = quantity("power")
    used_head: float = quantity("head")
    off: float = quantity("ratio")


@dataclass(frozen=True, kw_only=True)
class MeasuredCurve(Record):
    """One curve as measured.

    Attributes
    ----------
    name : of its file
    speed : at which it was measured [ratio]
    points : as measured
    furthest_off : the greatest of their distances from the curve that is used [ratio]
    peak : flow up to which its head rises by more than noise [m³/s]; None where it has no hump
    dead_head_at_least : it starts above zero flow, so its shut-off head is an extrapolation
    """

    name: str
    speed: float = quantity("ratio")
    points: tuple[MeasuredPoint, ...]
    furthest_off: float = quantity("ratio")
    peak: float | None = quantity("flow")
    dead_head_at_least: bool


@dataclass(frozen=True, kw_only=True)
class AtSpeed(Record):
    """What the pump can do at one speed, its power in fresh water and with standby.

    Attributes
    ----------
    speed : [ratio]
    basis : "measured" at this speed, "between" two measured ones, or carried from one by "affinity"
    shut_off : head without flow, of the curve as used: beyond what was measured if that has a hump
        or starts above zero flow [m]
    run_out : flow at the end of the curve [m³/s]
    useful_range : flows between which it runs well [m³/s]; None where it has no power
    best_flow : of best efficiency [m³/s], None likewise
    best_head : there [m]
    best_power : there, at the wire [W]
    best_efficiency : there, wire to water [ratio]
    """

    speed: float = quantity("ratio")
    basis: str
    shut_off: float = quantity("head")
    run_out: float = quantity("flow")
    useful_range: tuple[float, float] | None = quantity("flow")
    best_flow: float | None = quantity("flow")
    best_head: float | None = quantity("head")
    best_power: float | None = quantity("power")
    best_efficiency: float | None = quantity("ratio")


@dataclass(frozen=True, kw_only=True)
class AtFlow(Record):
    """What the pump gives at one flow at full speed.

    Attributes
    ----------
    share : of run-out [ratio]
    flow, head : [m³/s], [m]
    power : at the wire [W], None where it was not measured
    efficiency : wire to water [ratio], None likewise
    """

    share: float = quantity("ratio")
    flow: float = quantity("flow")
    head: float = quantity("head")
    power: float | None = quantity("power")
    efficiency: float | None = quantity("ratio")


@dataclass(frozen=True, kw_only=True)
class Line(Record):
    """The curve that is used at one speed, from zero flow to run-out.

    Attributes
    ----------
    speed : [ratio]
    flow, head : along it [m³/s], [m]
    """

    speed: float = quantity("ratio")
    flow: tuple[float, ...] = quantity("flow")
    head: tuple[float, ...] = quantity("head")


@dataclass(frozen=True, kw_only=True)
class Curve(Record):
    """What one pump can do.

    Attributes
    ----------
    name : of the file, or of the files with commas between them
    measured : its curves as measured, by falling speed
    full : what it can do at full speed
    dead_head_pressure : gauge, against a shut valve at full speed, in fresh water of 20 degC [Pa]
    dead_head_pressure_salt : the same in salt water, as a plan has it that says nothing of it [Pa]
    speeds : what it can do at the speeds asked for, falling
    flows : what it gives at full speed, at even steps of flow
    lines : the curves that are used, at all measured speeds and those asked for
    notes : what was changed in the curves as measured, and what is doubtful in them, in words
    laws : how other speeds were found, and how far that goes, in words
    units : in which it is to be shown
    """

    name: str
    measured: tuple[MeasuredCurve, ...]
    full: AtSpeed
    dead_head_pressure: float = quantity("pressure")
    dead_head_pressure_salt: float = quantity("pressure")
    speeds: tuple[AtSpeed, ...]
    flows: tuple[AtFlow, ...]
    lines: tuple[Line, ...]
    notes: tuple[str, ...]
    laws: tuple[str, ...]
    units: str = field(metadata={"private": True})

    def to_frame(self) -> pd.DataFrame:
        """Speeds as a pandas table."""
        return frame(self.speeds)

    def flows_frame(self) -> pd.DataFrame:
        """Even steps of flow at full speed as a pandas table."""
        return frame(self.flows)


def curve(
    family: Sequence[CurvePoints], *, speeds: Sequence[float] | None = None, units: str = "us"
) -> Curve:
    """Say what one pump can do.

    Parameters
    ----------
    family : its curve, or its curves at several speeds, in any order
    speeds : at which it is asked for [ratio]; left out: 100, 90, 80 ... 40 %
    units : in which the answer is to be shown: us, imperial or metric

    Raises
    ------
    UsageError
        No curve, two at one speed, a speed that is none, or units that are none.
    """
    by_speed = tuple(sorted(family, key=lambda points: -points.speed))
    asked = _falling(SPEEDS if speeds is None else speeds)
    _refuse(by_speed, asked, units)
    system, usual = SYSTEMS[units], WaterSpec()
    salt = density(usual.temperature, salinity=usual.salinity)
    full = _at_speed(by_speed, 1.0)
    lines = _falling((*asked, *(points.speed for points in by_speed)))
    return Curve(
        name=", ".join(points.curve.name for points in by_speed),
        measured=tuple(_measured(points) for points in by_speed),
        full=full,
        dead_head_pressure=TEST_DENSITY * GRAVITY * full.shut_off,
        dead_head_pressure_salt=salt * GRAVITY * full.shut_off,
        speeds=tuple(_at_speed(by_speed, speed) for speed in asked),
        flows=_flows(by_speed, full),
        lines=tuple(_line(by_speed, speed) for speed in lines),
        notes=(*_notes(by_speed, system), *_doubts(by_speed, full)),
        laws=tuple(_laws(by_speed, asked)),
        units=units,
    )


def _falling(speeds: Sequence[float]) -> tuple[float, ...]:
    """Each speed once, falling."""
    return tuple(sorted({round(speed, _SAME_SPEED) for speed in speeds}, reverse=True))


def _refuse(family: tuple[CurvePoints, ...], speeds: tuple[float, ...], units: str) -> None:
    if units not in SYSTEMS:
        raise UsageError(f'"{units}" are no units; write one of {", ".join(SYSTEMS)}')
    if not family:
        raise UsageError("no curve is given; name a file such as pump.csv")
    if len({points.speed for points in family}) < len(family):
        raise UsageError("two curves are given for one speed; give each its own")
    if not speeds:
        raise UsageError("no speed is asked for; leave speeds out, or give one such as 0.8")
    wrong = [speed for speed in speeds if not 0.0 < speed <= SPEED.most]
    if wrong:
        raise UsageError(
            f"a pump does not turn at {100 * wrong[0]:g} % speed; ask for one above 0 and up to "
            f"{100 * SPEED.most:g} %"
        )


def _measured(points: CurvePoints) -> MeasuredCurve:
    found, shut_off = points.curve.measured, float(points.curve.head[0])
    used = pumps.head(points.curve, found.flow, 1.0).value
    off = (found.head - used) / shut_off
    power = [None] * len(found.flow) if found.power is None else found.power.tolist()
    return MeasuredCurve(
        name=points.curve.name,
        speed=points.speed,
        points=tuple(
            MeasuredPoint(flow=q, head=h, power=p, used_head=u, off=o)
            for q, h, p, u, o in zip(
                found.flow.tolist(),
                found.head.tolist(),
                power,
                used.tolist(),
                off.tolist(),
                strict=True,
            )
        ),
        furthest_off=float(np.abs(off).max()),
        peak=points.curve.peak or None,
        dead_head_at_least=points.curve.dead_head_at_least,
    )


def _at_speed(family: tuple[CurvePoints, ...], speed: float) -> AtSpeed:
    best = families.best_efficiency_flow(family, speed)
    at = np.array([best or 0.0])
    drawn = families.power(family, at, np.array([speed]))
    efficiency = families.efficiency(family, at, speed)
    return AtSpeed(
        speed=speed,
        basis=_basis(family, speed),
        shut_off=float(families.head(family, np.zeros(1), speed)[0]),
        run_out=families.run_out(family, speed),
        useful_range=families.useful_range(family, speed),
        best_flow=best,
        best_head=None if best is None else float(families.head(family, at, speed)[0]),
        best_power=None if drawn is None else float(drawn[0]),
        best_efficiency=None if efficiency is None else float(efficiency[0]),
    )


def _basis(family: tuple[CurvePoints, ...], speed: float) -> str:
    if any(isclose(speed, points.speed) for points in family):
        return "measured"
    return "between" if family[-1].speed < speed < family[0].speed else "affinity"


def _flows(family: tuple[CurvePoints, ...], full: AtSpeed) -> tuple[AtFlow, ...]:
    shares = np.linspace(0.0, 1.0, _PARTS + 1)
    flow = shares * full.run_out
    power = families.power(family, flow, np.ones(len(flow)))
    efficiency = families.efficiency(family, flow, 1.0)
    none = [None] * len(flow)
    columns = (
        shares.tolist(),
        flow.tolist(),
        families.head(family, flow, 1.0).tolist(),
        none if power is None else power.tolist(),
        none if efficiency is None else efficiency.tolist(),
    )
    return tuple(
        AtFlow(share=share, flow=q, head=h, power=p, efficiency=e)
        for share, q, h, p, e in zip(*columns, strict=True)
    )


def _line(family: tuple[CurvePoints, ...], speed: float) -> Line:
    flow = np.linspace(0.0, families.run_out(family, speed), _POINTS)
    head = families.head(family, flow, speed)
    return Line(speed=speed, flow=tuple(flow.tolist()), head=tuple(head.tolist()))


def _notes(family: tuple[CurvePoints, ...], system: UnitSystem) -> Iterator[str]:
    """What was changed in the curves as measured, and what their ends mean."""
    for points in family:
        curve, whose = points.curve, _whose(family, points)
        for note in curve.source_notes:
            yield whose + note
        if curve.peak > 0.0:
            yield whose + _two_flows(points, system)
        if curve.head[-1] > NOISE * curve.head[0]:
            yield (
                f"{whose}the curve ends at {system.text(float(curve.head[-1]), 'head')}: run-out "
                "is the last point that was measured, and the pump may pass more"
            )
        level = _level(points)
        if level >= FLAT and curve.peak == 0.0:
            yield (
                f"{whose}the curve is flat: up to {100 * level:.0f} % of run-out its head falls by "
                f"less than {100 * NOISE:.0f} %, so there a little head decides over much flow"
            )
    silent = [points for points in family if points.curve.power is None]
    if len(silent) == len(family):
        yield (
            "no power was measured, so nothing is said of efficiency and of the useful range; add "
            "a column such as power_w"
        )
    elif silent:
        yield (
            f"{', '.join(points.curve.name for points in silent)} without power: there it is "
            "carried from the other curves by the affinity laws"
        )


def _whose(family: tuple[CurvePoints, ...], points: CurvePoints) -> str:
    return f"{points.curve.name}: " if len(family) > 1 else ""


def _two_flows(points: CurvePoints, system: UnitSystem) -> str:
    """An example of the two flows at which a humped curve meets one head."""
    curve, found = points.curve, points.curve.measured
    peak = int(np.searchsorted(found.flow, curve.peak))
    rising = np.maximum.accumulate(found.head[: peak + 1])
    at = 0.5 * float(found.head[0] + found.head[peak])
    low = float(np.interp(at, rising, found.flow[: peak + 1]))
    flow = np.linspace(curve.peak, 1.5 * curve.flow[-1], 1501)
    high = float(np.interp(-at, -pumps.head(curve, flow, 1.0).value, flow))
    return (
        f"against {system.text(at, 'head')}, for example, it can settle at "
        f"{system.text(low, 'flow')} or at {system.text(high, 'flow')}"
    )


def _level(points: CurvePoints) -> float:
    """Share of run-out up to which head as used falls by no more than noise [ratio]."""
    shares = np.linspace(0.0, 1.0, 401)
    head = pumps.head(points.curve, shares * points.curve.flow[-1], 1.0).value
    return float(shares[head >= (1.0 - NOISE) * head[0]][-1])


def _doubts(family: tuple[CurvePoints, ...], full: AtSpeed) -> Iterator[str]:
    """What no pump can do."""
    if full.best_efficiency is not None and full.best_efficiency >= 1.0:
        yield (
            f"it would put {100 * full.best_efficiency:.0f} % of its power into the water, which "
            "no pump can: check the units of its columns"
        )
    for fast, slow in pairwise(family):
        for what, more in (
            ("head", slow.curve.head[0] > fast.curve.head[0] * (1.0 + SWAPPED)),
            ("flow", slow.curve.flow[-1] > fast.curve.flow[-1] * (1.0 + SWAPPED)),
        ):
            if more:
                yield (
                    f"{slow.curve.name} at {_speed(slow.speed)} gives more {what} than "
                    f"{fast.curve.name} at {_speed(fast.speed)}: are their speeds swapped?"
                )


def _laws(family: tuple[CurvePoints, ...], speeds: tuple[float, ...]) -> Iterator[str]:
    """How other speeds were found, and how far that goes."""
    slowest = family[-1].speed
    powered = families.with_power(family)
    idle = f", all but {pumps.standby(powered[0].curve):.2g} W of standby" if powered else ""
    laws = (
        "the affinity laws: flow in proportion to speed, head to its square, power to its cube"
        f"{idle}"
    )
    if len(family) == 1:
        yield f"measured at {_speed(slowest)} alone; carried to other speeds by {laws}"
    else:
        yield (
            f"measured at {', '.join(_speed(points.speed) for points in family)}; between, the two "
            f"nearest curves are weighed by how near they are, each carried there by {laws}"
        )
        for points in family[1:]:
            yield _against_affinity(family[0], points)
        if speeds[-1] < slowest:
            yield f"below {_speed(slowest)} nothing was measured: that curve is carried on alone"
    yield (
        "pump, motor and controller lose efficiency at low speed, which the laws do not know: "
        "expect less than the lowest rows say"
    )
    yield (
        "below about a third of full speed many pumps can no longer lift at all (common practice, "
        "no source); and what a controller shows as percent is not always speed"
    )


def _against_affinity(fast: CurvePoints, slow: CurvePoints) -> str:
    n = slow.speed / fast.speed
    head = float(slow.curve.head[0] / fast.curve.head[0]) / n**2 - 1.0
    flow = float(slow.curve.flow[-1] / fast.curve.flow[-1]) / n - 1.0
    return (
        f"at {_speed(slow.speed)} it was measured to have {_more(head, 'shut-off head')} and "
        f"{_more(flow, 'run-out flow')} than these laws make of {_speed(fast.speed)}"
    )


def _more(ratio: float, what: str) -> str:
    percent = round(100 * abs(ratio))
    if percent == 0:
        return f"no other {what}"
    return f"{percent} % {'more' if ratio > 0.0 else 'less'} {what}"


def _speed(ratio: float) -> str:
    return f"{100 * ratio:.4g} %"
