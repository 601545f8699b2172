"""The question: what one pump can do."""

from __future__ import annotations

from collections.abc import Sequence
from math import isclose

import numpy as np

from balance.errors import UsageError
from balance.parts import families, pumps
from balance.parts.families import CurvePoints
from balance.parts.pumps import GRAVITY, TEST_DENSITY
from balance.plan.fields import SPEED
from balance.plan.model import WaterSpec
from balance.questions.curve.answer import (
    AtFlow,
    AtSpeed,
    Curve,
    Line,
    MeasuredCurve,
    MeasuredPoint,
)
from balance.questions.curve.remarks import doubts_of, laws_of, notes_of
from balance.units import SYSTEMS
from balance.water import density

SPEEDS = (1.0, 0.9, 0.8, 0.7, 0.6, 0.5, 0.4)  # asked for where none are; our own choice
_SAME_SPEED = 9  # decimals to which two speeds are the same
_PARTS = 10  # even steps of flow up to run-out
_POINTS = 61  # along a curve as drawn


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
        notes=(*notes_of(by_speed, system), *doubts_of(by_speed, full)),
        laws=tuple(laws_of(by_speed, asked)),
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
        speed=round(points.speed, _SAME_SPEED),
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
        peak=None if points.curve.hump is None else points.curve.hump.flow,
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
