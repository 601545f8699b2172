"""What is said of a pump's curve in words."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

import numpy as np

from balance.parts import families, pumps
from balance.parts.families import CurvePoints
from balance.parts.pumps import NOISE, Hump
from balance.questions.curve.answer import AtSpeed
from balance.units import UnitSystem

FLAT = 0.25  # of run-out: a head that has not fallen by then is told as flat; our own choice
_SWAPPED = 1e-9  # by which more head or flow at less speed is no slip of rounding


def notes_of(family: tuple[CurvePoints, ...], system: UnitSystem) -> Iterator[str]:
    """What was changed in the curves as measured, and what their ends mean."""
    for points in family:
        curve, whose = points.curve, _whose(family, points)
        for note in curve.source_notes:
            yield whose + note
        if curve.hump is not None:
            yield whose + _two_flows(points, curve.hump, system)
        if curve.head[-1] > NOISE * curve.head[0]:
            yield (
                f"{whose}the curve ends at {system.text(float(curve.head[-1]), 'head')}: run-out "
                "is the last point that was measured, and the pump may pass more"
            )
        level = _level(points)
        if level >= FLAT and curve.hump is None:
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


def _two_flows(points: CurvePoints, hump: Hump, system: UnitSystem) -> str:
    """An example of the two flows at which a humped curve meets one head."""
    curve, found = points.curve, points.curve.measured
    peak = int(np.searchsorted(found.flow, hump.flow))
    rising = np.maximum.accumulate(found.head[: peak + 1])
    at = 0.5 * (hump.shut_off + hump.peak)
    low = float(np.interp(at, rising, found.flow[: peak + 1]))
    flow = np.linspace(hump.flow, 1.5 * curve.flow[-1], 1501)
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


def doubts_of(family: tuple[CurvePoints, ...], full: AtSpeed) -> Iterator[str]:
    """What no pump can do."""
    if full.best_efficiency is not None and full.best_efficiency >= 1.0:
        yield (
            f"it would put {100 * full.best_efficiency:.0f} % of its power into the water, which "
            "no pump can: check the units of its columns"
        )
    for fast, slow in pairwise(family):
        for what, more in (
            ("head", slow.curve.head[0] > fast.curve.head[0] * (1.0 + _SWAPPED)),
            ("flow", slow.curve.flow[-1] > fast.curve.flow[-1] * (1.0 + _SWAPPED)),
        ):
            if more:
                yield (
                    f"{slow.curve.name} at {_speed(slow.speed)} gives more {what} than "
                    f"{fast.curve.name} at {_speed(fast.speed)}: are their speeds swapped?"
                )


def laws_of(family: tuple[CurvePoints, ...], speeds: tuple[float, ...]) -> Iterator[str]:
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
