"""What stands on a sheet, each thing at its place in pixels; y counts downwards."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Point = tuple[float, float]
Role = Literal["ink", "soft", "mark"]
State = Literal["wet", "dry", "unknown"]

BARS = 1000  # depth of bars: before all verticals


@dataclass(frozen=True)
class Words:
    """A line of text; x is where it starts, or its end, and y its base line."""

    x: float
    y: float
    text: str
    size: float = 12.0
    bold: bool = False
    role: Role = "ink"
    anchor: Literal["left", "right", "center"] = "left"


@dataclass(frozen=True)
class Pipe:
    """A pipe along some points.

    Attributes
    ----------
    width : of its water
    state : a dry one is hollow; of an unknown one nobody says what flows
    light : in use for water changes only
    depth : one of more depth lies in front of those of less
    beyond : how far its water reaches beyond both ends, to fill the elbows there
    """

    points: tuple[Point, ...]
    width: float
    state: State
    light: bool = False
    depth: int = 0
    beyond: Point = (0.0, 0.0)


@dataclass(frozen=True)
class Break:
    """A piece of a pipe that is taken out where another one passes before it."""

    points: tuple[Point, Point]
    width: float
    depth: int


@dataclass(frozen=True)
class Dial:
    """The handle of a valve on its quarter circle, from shut (across) to open (along the pipe).

    Attributes
    ----------
    x, y : its pivot
    opening : share of its travel
    steps : into which its travel is marked off
    locked : no answer turns it
    flat : the pipe lies level
    """

    x: float
    y: float
    opening: float
    steps: int
    locked: bool
    flat: bool = False


@dataclass(frozen=True)
class Glass:
    """A vessel: its walls and the heights of rim, water, sand and floor."""

    left: float
    right: float
    rim: float
    level: float
    sand: float
    bottom: float
    has_floor: bool
    is_box: bool = False


@dataclass(frozen=True)
class Pump:
    """A pump, by its middle."""

    x: float
    y: float
    light: bool


@dataclass(frozen=True)
class Device:
    """A reactor or the like, by the middle of its upper edge."""

    x: float
    y: float


@dataclass(frozen=True)
class Sign:
    """A small sign on a pipe: a check valve and its way, a cap, an arrow, a leader's dot, a spill.

    Attributes
    ----------
    way : as a unit vector
    """

    kind: Literal["check", "cap", "arrow", "tip", "funnel", "drop", "spill"]
    x: float
    y: float
    way: Point
    size: float = 6.0


@dataclass(frozen=True)
class Rule:
    """A thin line: a leader, the scale of heights."""

    points: tuple[Point, ...]
    dot: bool = False


@dataclass(frozen=True)
class Layout:
    """Everything on a sheet."""

    width: float
    height: float
    glasses: tuple[Glass, ...]
    pipes: tuple[Pipe, ...]
    tees: tuple[tuple[Point, Point, float], ...]
    breaks: tuple[Break, ...]
    dials: tuple[Dial, ...]
    pumps: tuple[Pump, ...]
    devices: tuple[Device, ...]
    signs: tuple[Sign, ...]
    rules: tuple[Rule, ...]
    words: tuple[Words, ...]
