"""Candidates made of numbers, and plumbing whose flow is known in closed form."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import pi, sqrt

import numpy as np
from numpy.typing import NDArray

from balance.parts.families import CurvePoints
from balance.parts.pumps import pump_curve
from balance.plan.model import Arrangement, Candidate, Plan
from balance.plan.read import read_text
from balance.questions.pumps import Pumps, pumps
from balance.questions.pumps.answer import PumpTrial

Floats = NDArray[np.float64]

LPH = 1.0 / 3.6e6  # [m³/s], by definition
G = 9.80665
DENSITY = 1000.0
VISCOSITY = 1e-8  # [m²/s], a hundredth of water's: next to nothing goes with viscosity
BORE = 0.02  # [m]
AREA = pi / 4.0 * BORE**2
LIFT = 0.8  # [m], from sump to tank
POINTS = 201
"""Of a parabola: the cubic through them errs by less than 1e-5 of its head."""


def candidate(
    flow: Sequence[float] | Floats,
    head: Sequence[float] | Floats,
    power: Sequence[float] | Floats | None = None,
    *,
    name: str = "candidate",
    speeds: tuple[float, float] | None = None,
    arrangement: Arrangement = "single",
    price: float | None = None,
) -> Candidate:
    """A candidate of flows [L/h], heads [m] and watts."""
    curve = pump_curve(np.asarray(flow) * LPH, head, power, name=name)
    return Candidate.model_construct(
        name=name,
        curve=(CurvePoints(curve, 1.0),),
        speed_range=speeds,
        speed_step=None if speeds is None else 0.01,
        arrangement=arrangement,
        price=price,
    )


@dataclass(frozen=True)
class Parabola:
    """A pump of head H (1 - (q/Q)²) at full speed, and of constant power."""

    shut_off: float
    most: float
    watts: float | None = 40.0

    def head(self, flow: float, *, speed: float = 1.0) -> float:
        """By the laws of affinity [m]."""
        return self.shut_off * (speed**2 - (flow / self.most) ** 2)

    @property
    def bend(self) -> float:
        """What head loses over the square of flow [m/(m³/s)²]."""
        return self.shut_off / self.most**2

    def candidate(
        self,
        name: str = "parabola",
        *,
        speeds: tuple[float, float] | None = None,
        arrangement: Arrangement = "single",
    ) -> Candidate:
        """It, sampled densely."""
        flow = np.linspace(0.0, self.most, POINTS)
        return candidate(
            flow / LPH,
            self.shut_off * (1.0 - (flow / self.most) ** 2),
            None if self.watts is None else np.full(POINTS, self.watts),
            name=name,
            speeds=speeds,
            arrangement=arrangement,
        )


def loss(k: float, *, bore: float = BORE) -> float:
    """Head lost over the square of flow by a loss coefficient [m/(m³/s)²]."""
    return k / (2.0 * G * (pi / 4.0 * bore**2) ** 2)


def crossing(pump: Parabola, k: float, *, speed: float = 1.0, lift: float = LIFT) -> float:
    """Flow at which a parabola meets a parabola [m³/s]."""
    return sqrt((speed**2 * pump.shut_off - lift) / (pump.bend + loss(k)))


TOP = f"""
units = "metric"

[water]
density = "{DENSITY} kg/m3"
kinematic_viscosity = "{VISCOSITY} m2/s"

[vessels.sump]
level = "0.2 m"

[vessels.tank]
level = "{0.2 + LIFT} m"
"""

AS_IT_STANDS = """
[pumps.main]
points = ["0 L/h at 4 m", "2000 L/h at 3 m", "4000 L/h at 0 m"]
from = "sump"
to = "foot"
"""


def bare(
    *,
    target: str,
    k: float = 12.0,
    valve_k: float = 0.5,
    open_: str = "full",
    before: str = "",
    rest: str = "",
) -> Plan:
    """A pump, a valve and bare losses: the coefficients are all that the plumbing is."""
    return read_text(
        f"""{TOP}{before}{AS_IT_STANDS}
[[branches]]
name = "a"
from = "foot"
to = "tank"
target = "{target}"
parts = [
  {{ valve = "ball", bore = "20 mm", k = {valve_k}, open = "{open_}" }},
  {{ k = {k}, bore = "20 mm" }},
  {{ outlet = "ideal", bore = "20 mm" }},
]
{rest}"""
    )


def trial_of(answer: Pumps, name: str) -> PumpTrial:
    """The trial of a candidate, by its name."""
    (found,) = [trial for trial in answer.trials if trial.name == name]
    return found


def tried(plan: Plan, asked: Candidate, **options: float) -> PumpTrial:
    """What a candidate does on a plan."""
    answer = pumps(plan, [asked], **options)  # type: ignore[arg-type]
    (found,) = [trial for trial in answer.trials if not trial.as_planned]
    return found
