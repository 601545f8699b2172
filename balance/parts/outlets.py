"""Where water enters pipework from a vessel and leaves it again."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from balance.parts.tables import look_up, rows


@dataclass(frozen=True)
class OutletLaw:
    """Loss of an outlet on the velocity head in its throat, with the head of the jet in it.

    `bore_ratio` is the bore of the throat over that of the pipe, where no size is given; 1 for
    a plain pipe end.
    """

    k: float
    bore_ratio: float
    source: str

    def throat(self, pipe_bore: float) -> float:
        """Return the usual bore [m] of the throat of such an outlet on a pipe of this bore [m]."""
        return self.bore_ratio * pipe_bore


def inlets() -> tuple[str, ...]:
    """Return the names of all kinds of inlet."""
    return tuple(_inlets())


def outlets() -> tuple[str, ...]:
    """Return the names of all kinds of outlet."""
    return tuple(_outlets())


def inlet(kind: str) -> float:
    """Return K of the entrance from a vessel, on the velocity head in the pipe behind it.

    For turbulent flow and an inlet well under water. Raises UnknownNameError with the nearest
    kinds. Source: each row of the table names its own.
    """
    return look_up("inlet", kind, _inlets())


def outlet(kind: str) -> OutletLaw:
    """Return the law of an outlet into a vessel or the open air.

    Its K includes the velocity head that leaves with the water: under water it is lost in the
    vessel, in the open the jet carries it away; either way the head to reckon with behind the
    outlet is the water surface, or the axis of a free jet.

    For turbulent flow. Nozzles are estimates: measure, or give k and bore of the part at hand.
    Raises UnknownNameError with the nearest kinds. Source: each row of the table names its own.
    """
    return look_up("outlet", kind, _outlets())


@cache
def _inlets() -> dict[str, float]:
    return {row["kind"]: float(row["k"]) for row in rows("inlets")}


@cache
def _outlets() -> dict[str, OutletLaw]:
    return {
        row["kind"]: OutletLaw(float(row["k"]), float(row["bore_ratio"]), row["source"])
        for row in rows("outlets")
    }
