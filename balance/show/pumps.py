"""Pumps in words: where each works and what that costs."""

from __future__ import annotations

from collections.abc import Iterator

from balance.plan.model import Plan
from balance.questions.duty import PumpDuty
from balance.show.words import bare, percent
from balance.units import UnitSystem, significant


def pump_lines(duties: tuple[PumpDuty, ...], plan: Plan, system: UnitSystem) -> Iterator[str]:
    """A text of up to three lines for each pump: its duty, its useful range, what it draws."""
    for duty in duties:
        said = [f"{duty.pump}: {_duty(duty, system)}"]
        if duty.speed > 0.0:
            said.append(_range(duty, system))
        if duty.power is not None:
            said.append(_power(duty, duty.power, plan))
        yield "\n".join(said)


def _duty(duty: PumpDuty, system: UnitSystem) -> str:
    if duty.speed == 0.0:
        return "stopped"
    speed = percent(duty.speed) + (" speed" if duty.speed_is_free else " speed (fixed)")
    return f"{speed}, {system.text(duty.flow, 'flow')} at {system.text(duty.head, 'head')}"


def _range(duty: PumpDuty, system: UnitSystem) -> str:
    if duty.useful_range is None or duty.in_useful_range is None:
        return f"run-out {system.text(duty.run_out, 'flow')}, useful range not judged"
    low, high = duty.useful_range
    where = "inside"
    if not duty.in_useful_range:
        where = "BELOW" if duty.flow < low else "ABOVE"
    most = system.text(high, "flow")
    return f"{where} its useful range of {bare(system, low, 'flow')} to {most}"


def _power(duty: PumpDuty, power: float, plan: Plan) -> str:
    watts = f"{significant(power)} W"
    if duty.heat is not None:
        heat = "all" if duty.heat == power else f"{significant(duty.heat)} W"
        watts += f", {heat} of it heat in the water"
    said = [watts]
    if duty.efficiency:
        said.append(f"{percent(duty.efficiency)} efficient")
    if duty.energy is not None:
        cost = ""
        if duty.cost is not None and plan.power is not None:
            cost = f", {significant(duty.cost)} {plan.power.currency}".rstrip()
        said.append(f"{duty.energy:.0f} kWh{cost} a year")
    return "; ".join(said)
