"""What becomes of the water over a time."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

Kind = Literal["uncovered", "air", "dry", "wet", "rim", "primed", "level", "enough"]
"""What may happen.

uncovered : a surface falls below the mouth, or the hole, of a stretch: air breaks its siphon
air : a free outlet runs dry with the pressure behind it below the air's: air can come in there
dry : a surface falls below a pump's intake, or the mouth by which a run draws: it draws air
wet : a surface rises over one that was in the air from the start
rim : a vessel begins to spill
primed : a drain begins to run full
level : the flow of a stretch ends because the surfaces at its ends stand level
enough : what was asked for has passed
"""


@dataclass(frozen=True)
class Event:
    """Something that happens at a moment.

    Attributes
    ----------
    time : [s]
    kind : what
    name : of the stretch, pump or vessel that it happens to
    vessel : whose surface did it
    """

    time: float
    kind: Kind
    name: str
    vessel: str


@dataclass(frozen=True)
class Course:
    """Levels and flows over a time.

    Attributes
    ----------
    time : (T,) [s], rising; what happens at a moment is there twice, before it and after it
    vessels : names, in the order of the rows
    level, volume : (V, T) [m], [m³]; an endless vessel keeps its level, its volume counts from 0
    outside : (T,) what has gone out of the plan, or, negative, come into it [m³]
    floor : (T,) what has gone over rims [m³]
    flow : of each pump, run, branch, drain and weir, (T,) [m³/s]
    spilt : over the rim of each vessel, (T,) [m³/s]
    passed : of each metered stretch until the end [m³]
    events : in their order
    settled : time after which no surface moves any more, else the end [s]
    at_rest : no surface moves any more at the end
    """

    time: Floats
    vessels: tuple[str, ...]
    level: Floats
    volume: Floats
    outside: Floats
    floor: Floats
    flow: Mapping[str, Floats]
    spilt: Mapping[str, Floats]
    passed: Mapping[str, float]
    events: tuple[Event, ...]
    settled: float
    at_rest: bool

    def level_of(self, vessel: str) -> Floats:
        """Its level over the time (T,) [m]."""
        return np.asarray(self.level[self.vessels.index(vessel)])

    def volume_of(self, vessel: str) -> Floats:
        """Its water over the time (T,) [m³]."""
        return np.asarray(self.volume[self.vessels.index(vessel)])

    @property
    def last(self) -> dict[str, float]:
        """Level of every vessel at the end [m]."""
        return {name: float(row[-1]) for name, row in zip(self.vessels, self.level, strict=True)}

    @property
    def lost(self) -> float:
        """Water that vessels, floor and outside have at the end beyond what they began with [m³].

        Nothing but rounding: the plan's joints draw nothing.
        """
        total = self.volume.sum(axis=0) + self.outside + self.floor
        return float(total[-1] - total[0])
