"""What was measured at the real plumbing, a row at a time, in SI."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

from balance.errors import Fault


@dataclass(frozen=True)
class Turned:
    """A valve that a hand has moved."""

    valve: str
    """Its name."""
    by: Literal["mark", "nudge"]
    """Set to a mark on its handle, or moved a little from where it stood."""
    to: float
    """Where it stands since [ratio of travel, from shut]."""


@dataclass(frozen=True)
class GaugePlace:
    """A pipe or hose, at whose middle a standpipe shows its level."""

    stretch: str
    """Name of its run or branch."""
    part: int
    """Its index among the parts of that stretch, from 0."""


@dataclass(frozen=True)
class Reading:
    """One row of a log: what was moved since the row above, and what was measured then."""

    line: int = field(compare=False)
    """In the file. Rows are alike wherever they stand."""
    branch: str | None
    """Whose flow was measured."""
    volume: float | None
    """Of a fill of the bucket [m3]."""
    seconds: tuple[float, ...]
    """That each fill took [s]."""
    flow: float | None
    """In place of volume and seconds [m3/s]."""
    openings: tuple[float, ...]
    """Of all valves of the plan, in its order, as they stood [ratio of travel, from shut]."""
    turned: tuple[Turned, ...]
    """What was moved since the row before this one, in the order in which it was moved."""
    speeds: tuple[float, ...]
    """Of all pumps that run all the time, in the plan's order [ratio to full speed]."""
    head: float | None
    """Level that a clear standpipe shows, or would show [m above the plan's datum]."""
    at: GaugePlace | None
    """Where that standpipe stands."""
    watts: float | None
    """That a pump draws [W]."""
    pump: str | None
    """Which one."""
    note: str = ""
    """What else was written down."""


@dataclass(frozen=True)
class Readings:
    """A log of readings, from top to bottom."""

    rows: tuple[Reading, ...]
    left_out: tuple[Fault, ...]
    """Why rows of the file are not among these."""
    file: Path
