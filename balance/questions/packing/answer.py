"""What the packing of pieces into sticks says."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

By = Literal["integer programming", "bound", "heuristic"]


@dataclass(frozen=True)
class CutStick:
    """One stick and what is cut from it.

    Attributes
    ----------
    length : of the stick [m]
    on_hand : it is an offcut that is there already
    pieces : indices into the lengths given, the longest first
    offcut : what is left after the last cut [m]
    """

    length: float
    on_hand: bool
    pieces: tuple[int, ...]
    offcut: float


@dataclass(frozen=True)
class Packing:
    """Which piece is cut from which stick, and how good that is proven to be.

    Attributes
    ----------
    sticks : that are cut, those on hand first, then those bought
    bought, fewest : lengths bought, and what no way to cut can go below
    bought_length, least_length : of those bought together, and what no way to cut can go below
        with as many lengths [m]
    longest_offcut, offcut_bound : of the sticks that are cut, and what no way to cut can go beyond
        with as many lengths and as much bought [m]
    exact : each of the three meets its bound, the last to within a millimetre
    by : how the count was found: "bound" by a quick way that stands beside what is proven,
        "integer programming" where it took that, "heuristic" beyond fifty pieces
    """

    sticks: tuple[CutStick, ...]
    bought: int
    fewest: int
    bought_length: float
    least_length: float
    longest_offcut: float
    offcut_bound: float
    exact: bool
    by: By
