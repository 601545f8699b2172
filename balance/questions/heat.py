"""How the heat of pumps warms the water: of the whole system, and where nothing flows."""

from __future__ import annotations

from dataclasses import dataclass

from balance.network.arrays import Network
from balance.plan.model import Heat, Plan
from balance.questions.record import Record, quantity
from balance.questions.volumes import pressed_volume, system_volume
from balance.water import Water


@dataclass(frozen=True, kw_only=True)
class Warming(Record):
    """What heat does to the water of a system.

    Attributes
    ----------
    heat : that goes into the water [W]
    volume : of the water that takes it up [m³]
    rise : of its temperature, if nothing left it [K/s]
    chiller : heat that the plan's chiller takes out by its rating [W]; None without one
    share : of that rating that the heat takes up [ratio]
    """

    heat: float = quantity("power")
    volume: float = quantity("volume")
    rise: float = quantity("warming")
    chiller: float | None = quantity("power")
    share: float | None = quantity("ratio")


@dataclass(frozen=True, kw_only=True)
class DeadHeadWarming(Record):
    """What pumps do to the water that they press on and do not move.

    Attributes
    ----------
    power : that turns into heat there [W]
    volume : of the water between pumps and valves [m³]
    rise : of its temperature on the whole, at most [K/s]; what stands in the pump warms faster
    """

    power: float = quantity("power")
    volume: float = quantity("volume")
    rise: float = quantity("warming")


def rise(heat: float, *, volume: float, water: Water) -> float:
    """How fast heat warms water that loses none of it [K/s].

    Parameters
    ----------
    heat : [W]
    volume : of the water, above zero [m³]

    Equation: dT/dt = P / (rho V c).

    Source: by definition of the specific heat.
    """
    return heat / (water.density * volume * water.specific_heat)


def warming(plan: Plan, water: Water, *, heat: float) -> Warming | None:
    """What heat [W] does to the water of a system; None where its volume is not known."""
    told = plan.heat or Heat()
    volume = system_volume(plan) if told.volume is None else told.volume
    if not volume:
        return None
    return Warming(
        heat=heat,
        volume=volume,
        rise=rise(heat, volume=volume, water=water),
        chiller=told.chiller,
        share=None if told.chiller is None else heat / told.chiller,
    )


def dead_head_warming(network: Network, *, power: float) -> DeadHeadWarming | None:
    """What pumps do to the water that they press on when every branch is shut.

    Parameters
    ----------
    power : of all pumps that turn, as far as it goes into the water [W]

    Returns
    -------
    DeadHeadWarming or None
        None where nothing tells how much water that is.
    """
    volume = pressed_volume(network)
    if volume == 0.0:
        return None
    return DeadHeadWarming(
        power=power, volume=volume, rise=rise(power, volume=volume, water=network.water)
    )
