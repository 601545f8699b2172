"""Valves too coarse for a hand, and the fixed restriction that would make them fine."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from balance.network.arrays import Network
from balance.network.stretch import velocity_head
from balance.parts.fittings import step as step_loss
from balance.parts.friction import friction, friction_law
from balance.parts.pipes import hose
from balance.parts.valves import Loss
from balance.plan.model import HosePart
from balance.questions.settings.answer import Remedy
from balance.questions.settings.flowspace import Control, opening_for
from balance.units import SYSTEMS

HAND = {"degrees": 2.0, "turns": 0.125, "percent": 2.0}
"""How well a hand sets a mark; common practice, no source."""
HALF = 0.5  # of the tolerance that so much of the handle may move the flow; our own choice
VALVE_SHARE = 0.45  # of the branch's head that is left to the valve; our own choice
LONGEST = 2.5  # [m] of hose that one would put in; our own choice
FINER = 2 / 3  # of what a step moved, that it may still move; our own choice: less is not worth it
_HOSES = {
    "us": ("1 in", "3/4 in", "5/8 in", "1/2 in", "3/8 in", "1/4 in"),
    "metric": ("25 mm", "19 mm", "16 mm", "12 mm", "10 mm", "8 mm", "6 mm"),
}


@dataclass(frozen=True)
class Throttled:
    """A controlled branch at its marks.

    Attributes
    ----------
    control : its valve
    flow : [m³/s]
    valve_head : head that the valve takes [m]
    branch_head : head between the ends of the branch [m]
    slope : share of the flow that a unit of travel moves
    """

    control: Control
    flow: float
    valve_head: float
    branch_head: float
    slope: float


def is_coarse(throttled: Throttled, *, tolerance: float, travel: float) -> bool:
    """Whether what a hand cannot help moves the flow by more than half the tolerance."""
    hand = HAND[throttled.control.valve.part.handle] / travel
    return abs(throttled.slope) * hand > HALF * tolerance


def remedy(network: Network, throttled: Throttled, *, step: float) -> Remedy | None:
    """A length of narrower hose that leaves less than half of the branch's head to the valve.

    Parameters
    ----------
    step : share of travel of one mark
    """
    plan = network.plan
    excess = throttled.valve_head - VALVE_SHARE * throttled.branch_head
    if excess <= 0.0 or throttled.flow <= 0.0:
        return None
    branch = next(b for b in plan.branches if b.name == throttled.control.valve.stretch)
    bores = [part.hose.bore for part in branch.parts if isinstance(part, HosePart)]
    widest = min(bores, default=throttled.control.valve.part.bore)
    system = SYSTEMS[plan.units]
    for name in _HOSES["metric" if plan.units == "metric" else "us"]:
        size = hose(name)
        if size.bore > widest * 1.01:
            continue
        per_metre = _friction_per_metre(network, size.bore, size.roughness, throttled.flow)
        # A narrower piece costs an entrance and an exit besides.
        ends = (
            step_loss(bore_from=widest, bore_to=size.bore)
            + step_loss(bore_from=size.bore, bore_to=widest)
            if size.bore < widest
            else 0.0
        ) * (velocity_head(size.bore) * throttled.flow**2)
        length = (excess - ends) / per_metre
        if length > LONGEST:
            continue
        length = max(length, 0.05)
        taken = ends + length * per_metre
        control = throttled.control
        law = control.valve.law
        wide = float(law.loss_coefficient(np.array([control.most])).k[0])
        scale = sum(scale for _, scale in control.valve.places)
        spare = throttled.valve_head - taken - wide * scale * throttled.flow**2
        if spare <= 0.0:
            continue
        opening = opening_for(control, throttled.flow, spare)
        before = _steepness(law.loss_coefficient(np.array([_present(throttled)])))
        after = _steepness(law.loss_coefficient(np.array([opening])))
        if after > FINER * before:
            continue
        more = "more" if size.bore > widest * 0.99 and bores else "of"
        unit = "ft" if plan.units != "metric" else "m"
        shown = length / 0.3048 if unit == "ft" else length
        text = (
            f"put {shown:.1f} {unit} more of its {name} hose in series"
            if more == "more"
            else f"put {shown:.1f} {unit} of {name} hose in series"
        )
        return Remedy(
            text=f"{text} (takes {system.text(taken, 'head')})",
            head=taken,
            opening=opening,
            flow_per_step=abs(throttled.slope) * step * after / before,
        )
    return None


def _present(throttled: Throttled) -> float:
    control = throttled.control
    wide = float(control.valve.law.loss_coefficient(np.array([control.most])).k[0])
    scale = sum(scale for _, scale in control.valve.places)
    return opening_for(
        control, throttled.flow, throttled.valve_head - wide * scale * throttled.flow**2
    )


def _steepness(loss: Loss) -> float:
    return abs(float(loss.slope[0]))


def _friction_per_metre(network: Network, bore: float, roughness: float, flow: float) -> float:
    nu = network.water.kinematic_viscosity
    reynolds = np.array([4 * flow / (np.pi * bore * nu)])
    term = friction(reynolds, friction_law(np.array([roughness / bore])))
    return float(term.y[0]) / bore * (nu / bore) ** 2 / (2 * 9.80665)
