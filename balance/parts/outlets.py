"""Where water enters pipework from a vessel and leaves it again."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache

from balance.parts import ports
from balance.parts.tables import look_up, rows


@dataclass(frozen=True)
class InletLaw:
    """Loss of an entrance, both ways.

    Attributes
    ----------
    k : on the velocity head in the pipe behind it
    backward : the same with the flow turned round, when it is an exit
    """

    k: float
    backward: float
    source: str


@dataclass(frozen=True)
class OutletLaw:
    """Loss of an outlet, both ways.

    Attributes
    ----------
    k : on the velocity head in its throat, with the head of the jet in it; infinite where only its
        own ports tell
    backward : the same with the flow turned round, when it is an entrance; from a throat narrower
        than the pipe the water widens again, which is a step in bore of its own
    bore_ratio : bore of the throat over that of the pipe, where no size is given; 1 for a plain
        end of pipe
    ports : discharge coefficient of its holes, jets or slot, see `balance.parts.ports`; None where
        it has none
    """

    k: float
    backward: float
    bore_ratio: float
    ports: Callable[[float], float] | None
    source: str

    @property
    def narrows(self) -> bool:
        """Whether it has a throat narrower than the pipe, whose narrowing is in its k."""
        return self.bore_ratio < 1.0

    def throat(self, pipe_bore: float) -> float:
        """Return the usual bore [m] of the throat of such an outlet on a pipe of this bore [m]."""
        return self.bore_ratio * pipe_bore


def inlets() -> tuple[str, ...]:
    """Return the names of all kinds of inlet."""
    return tuple(_inlets())


def outlets() -> tuple[str, ...]:
    """Return the names of all kinds of outlet."""
    return tuple(_outlets())


def inlet(kind: str) -> InletLaw:
    """Return the law of the entrance from a vessel.

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
def _inlets() -> dict[str, InletLaw]:
    return {
        row["kind"]: InletLaw(float(row["k"]), float(row["backward"]), row["source"])
        for row in rows("inlets")
    }


@cache
def _outlets() -> dict[str, OutletLaw]:
    return {
        row["kind"]: OutletLaw(
            k=float(row["k"]),
            backward=float(row["backward"]),
            bore_ratio=float(row["bore_ratio"]),
            ports=ports.COEFFICIENTS.get(row["ports"]),
            source=row["source"],
        )
        for row in rows("outlets")
    }
