"""Heat in words: what it does to the water, and what it takes of a chiller."""

from __future__ import annotations

from collections.abc import Iterator

from balance.questions.heat import DeadHeadWarming, Warming
from balance.show.words import percent
from balance.units import UnitSystem


def heat_lines(warming: Warming, system: UnitSystem) -> Iterator[str]:
    """A sentence on the heat that goes into a system's water."""
    said = (
        f"{_heat(warming.heat, system)}: {system.text(warming.rise, 'warming')} in "
        f"{system.text(warming.volume, 'volume')} if nothing left it"
    )
    if warming.chiller is not None:
        said += (
            f"; {percent(warming.share)} of the chiller's {system.text(warming.chiller, 'heat')}"
        )
    yield said


def _heat(heat: float, system: UnitSystem) -> str:
    watts = f"{system.text(heat, 'power')} of heat"
    if system.unit("heat") == system.unit("power"):
        return watts
    return f"{watts} ({system.text(heat, 'heat')})"


def dead_head_lines(warming: DeadHeadWarming, system: UnitSystem) -> Iterator[str]:
    """A sentence on water that pumps press on and do not move."""
    yield (
        f"with every branch shut {system.text(warming.power, 'power')} heat the "
        f"{system.text(warming.volume, 'volume')} between pump and valves by up to "
        f"{system.text(warming.rise, 'warming')}, and what stands in the pump faster"
    )
