"""What `balance fit` answers."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

from balance.plan.learnt import Learnt as LearntTable
from balance.plan.model import Plan
from balance.questions.record import Record, frame, quantity

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True, kw_only=True)
class ReadingRow(Record):
    """One thing that was measured, and what the plan makes of it before and after.

    Attributes
    ----------
    line : of the log
    of : the branch, the pump, or where a level was read
    kind : flow by bucket, flow by meter, dry (no water came), level, watts
    handles : where those stood that are not as planned, in words
    flow, planned_flow, fitted_flow : measured, by the plan as written, and by the fit; None for
        levels and watts.  Of a bucket whose volume was fitted too, what it seems to give
    level, planned_level, fitted_level : of a standpipe, above the datum; else None
    watts, planned_watts, fitted_watts : of a pump; else None
    off : measured less fitted, in standard deviations of the reading
    weight : share with which it counts: 1, less where it does not fit
    fits : it lies within three standard deviations
    """

    line: int
    of: str
    kind: Literal["bucket", "meter", "dry", "level", "watts"]
    handles: str
    flow: float | None = quantity("flow")
    planned_flow: float | None = quantity("flow")
    fitted_flow: float | None = quantity("flow")
    level: float | None = quantity("length")
    planned_level: float | None = quantity("length")
    fitted_level: float | None = quantity("length")
    watts: float | None = quantity("power")
    planned_watts: float | None = quantity("power")
    fitted_watts: float | None = quantity("power")
    off: float
    weight: float = quantity("ratio")
    fits: bool


@dataclass(frozen=True, kw_only=True)
class Number(Record):
    """One number that was to be learnt.

    Attributes
    ----------
    of : pump, mains, loss, throttling, offset or bucket
    name : of the pump, branch or valve; empty for mains and bucket
    value : factor of what the plan says; of an offset, share of travel
    sure : its standard deviation
    before : that before any reading
    told : readings told something of it
    handle : of an offset, what the handle is read in; else empty
    travel : of that handle in its unit; 1 for others
    """

    of: Literal["pump", "mains", "loss", "throttling", "offset", "bucket"]
    name: str
    value: float = quantity("ratio")
    sure: float = quantity("ratio")
    before: float = quantity("ratio")
    told: bool
    handle: str
    travel: float


@dataclass(frozen=True, kw_only=True)
class Forecast(Record):
    """A branch's flow with the handles where they stood at the last reading.

    Attributes
    ----------
    branch : its name
    planned : by the plan as written
    planned_low, planned_high : between which it lay in nine of ten systems, before any reading
    fitted : by the fit
    low, high : between which it now lies in nine cases of ten, by the curvature of the fit
    sampled_low, sampled_high : the same by weighed samples
    """

    branch: str
    planned: float = quantity("flow")
    planned_low: float = quantity("flow")
    planned_high: float = quantity("flow")
    fitted: float = quantity("flow")
    low: float = quantity("flow")
    high: float = quantity("flow")
    sampled_low: float = quantity("flow")
    sampled_high: float = quantity("flow")


@dataclass(frozen=True, kw_only=True)
class NextReading(Record):
    """A reading that could be taken next.

    Attributes
    ----------
    branch : to be read
    how : with the handles where
    mark : of its own valve then, as its handle is read; empty where it is not turned
    flow : that is to be expected
    before, after : how surely the flows asked for are known, root mean square, as a share
    """

    branch: str
    how: Literal["as it stands", "all wide open", "at its mark", "all at their marks"]
    mark: str
    flow: float = quantity("flow")
    before: float = quantity("ratio")
    after: float = quantity("ratio")


@dataclass(frozen=True, kw_only=True)
class Fit(Record):
    """What readings told of a plan.

    Attributes
    ----------
    title : of the plan
    readings : what was measured, in the log's order
    left_out : rows of the log that were not used, and why
    numbers : what was to be learnt
    flows : with the handles where they stood last
    tied : what these readings cannot tell apart, in words
    untold : what they tell nothing of, in words
    next : readings that would teach most, the best first
    effective : how many equally weighed samples checked the bands
    scatter : root mean square of what readings lie off, in their standard deviations
    iterations : evaluations of the network
    learnt : the table for the fitted plan
    plan : as written
    """

    title: str
    readings: tuple[ReadingRow, ...]
    left_out: tuple[str, ...]
    numbers: tuple[Number, ...]
    flows: tuple[Forecast, ...]
    tied: tuple[str, ...]
    untold: tuple[str, ...]
    next: tuple[NextReading, ...]
    effective: float
    scatter: float
    iterations: int
    learnt: LearntTable = field(metadata={"private": True})
    plan: Plan = field(metadata={"private": True})

    @property
    def strays(self) -> tuple[ReadingRow, ...]:
        """Readings that do not fit the rest."""
        return tuple(row for row in self.readings if not row.fits)

    def to_frame(self) -> pd.DataFrame:
        """The readings as a table, one row each."""
        return frame(self.readings)
