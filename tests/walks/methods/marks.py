"""The plan's marks and speeds, set once, and nothing measured."""

from __future__ import annotations

from tests.walks.methods.keeper import Keeper


def marks(keeper: Keeper) -> None:
    """Sets each handle to the mark that the plan's answer gives."""
    place = {valve.name: number for number, valve in enumerate(keeper.network.valves)}
    for handle in keeper.answer.handles:
        if handle.role == "set" and handle.opening != keeper.system.marks[place[handle.valve]]:
            keeper.set(place[handle.valve], handle.opening)
    for pump, speed in enumerate(keeper.answered_speeds):
        if speed != keeper.system.speeds[pump]:
            keeper.set_speed(pump, speed)
