"""The answer about holding the others: which handles to move, and what then flows."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from balance.questions.record import Record, frame, quantity

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True, kw_only=True)
class Turn(Record):
    """One handle that is moved, or one pump whose speed is set.

    Attributes
    ----------
    name : of the valve or pump
    stretch : in which the valve stands; the pump itself
    handle : how its mark is read
    travel : of the handle in that unit: 90 degrees, its turns, 100 percent
    stood, to : opening from shut, or speed [ratio]
    mark_before, mark : the same in the handle's unit
    """

    name: str
    stretch: str
    handle: Literal["degrees", "turns", "percent", "speed"]
    travel: float
    stood: float = quantity("ratio")
    to: float = quantity("ratio")
    mark_before: float
    mark: float


@dataclass(frozen=True, kw_only=True)
class Remedy(Record):
    """Handles moved, and what comes of it.

    Attributes
    ----------
    turns : the handles, one or two
    undone : of the disturbance [ratio]
    flows : of the remaining branches, as `Holding.others` has them [m³/s]
    missed : names of those outside their tolerance or limits then
    outside : pumps outside their useful range then
    strayed : from the flows before, in the mean of the remaining branches [ratio]
    """

    turns: tuple[Turn, ...]
    undone: float = quantity("ratio")
    flows: tuple[float, ...] = quantity("flow")
    missed: tuple[str, ...]
    outside: tuple[str, ...]
    strayed: float = quantity("ratio")


@dataclass(frozen=True, kw_only=True)
class Remaining(Record):
    """One branch that is not shut or set on purpose.

    Attributes
    ----------
    branch : name
    asked : what the plan asks, in words of kind; "held" where it asks nothing and the flow before
        counts; "" where nothing counts: a spare, or a branch that all water is cut off from
    low, high : flows between which it counts as met; None where open [m³/s]
    before : flow as the plan stands [m³/s]
    disturbed : flow with nothing done about it [m³/s]
    """

    branch: str
    asked: str
    low: float | None = quantity("flow")
    high: float | None = quantity("flow")
    before: float = quantity("flow")
    disturbed: float = quantity("flow")


@dataclass(frozen=True, kw_only=True)
class Holding(Record):
    """How the others are held when something is shut, turned down or clogged.

    Attributes
    ----------
    leave : nothing needs moving: all others stay within their tolerances and limits, and every
        pump within its useful range that was there before
    single : the one move that undoes most; None where none is needed or none is worth it
    pair : the best two moves; None where they are not clearly better than one
    others : the remaining branches
    missed_before, missed : names outside their tolerance or limits before, and with nothing done
    outside_before, outside : pumps outside their useful range before, and with nothing done
    strayed : from the flows before with nothing done, in the mean of the remaining branches [ratio]
    """

    leave: bool
    single: Remedy | None
    pair: Remedy | None
    others: tuple[Remaining, ...]
    missed_before: tuple[str, ...]
    missed: tuple[str, ...]
    outside_before: tuple[str, ...]
    outside: tuple[str, ...]
    strayed: float = quantity("ratio")

    def to_frame(self) -> pd.DataFrame:
        """The remaining branches as a pandas table, with their flows after each remedy."""
        table = frame(self.others)
        for name, remedy in (("single", self.single), ("pair", self.pair)):
            if remedy is not None:
                table[f"{name}_l_per_h"] = [flow * 3.6e6 for flow in remedy.flows]
        return table
