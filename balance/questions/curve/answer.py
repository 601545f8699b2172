"""The answer of `curve`: what one pump can do."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from balance.questions.record import Record, frame, quantity

if TYPE_CHECKING:
    import pandas as pd


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
