"""What a person should doubt of a trial: curves that were changed, and laws that are stretched."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from balance.network.arrays import Network
from balance.questions.duty import PumpDuty
from balance.units import SYSTEMS

SLOW = 0.5  # of the speed at which a curve was measured; common practice, no source
"""Slower, the laws of affinity flatter a pump: its friction and its motor's losses fall less."""


def doubts_of(
    network: Network, duties: tuple[PumpDuty, ...], *, own: tuple[str, ...]
) -> Iterator[str]:
    """Doubts about some of a network's pumps where they work, in words.

    Parameters
    ----------
    own : names of the pumps that are on trial
    """
    yield from _curves(network, own)
    yield from _humped(network, duties, own)
    yield from _stretched(network, duties, own)


def _curves(network: Network, own: tuple[str, ...]) -> Iterator[str]:
    """What was changed in its curves as measured, each said once."""
    yield from dict.fromkeys(
        note
        for machine in network.machines
        if machine.name in own
        for points in machine.curves
        for note in points.curve.source_notes
    )


def _humped(network: Network, duties: tuple[PumpDuty, ...], own: tuple[str, ...]) -> Iterator[str]:
    """Where a pump works at a head at which it could settle at a lesser flow too."""
    system = SYSTEMS[network.plan.units]
    machines = {machine.name: machine for machine in network.machines}
    for duty in duties:
        machine = machines[duty.pump]
        (nearest, *_) = sorted(machine.curves, key=lambda each: abs(each.speed - duty.speed))
        hump = nearest.curve.hump
        if duty.pump not in own or hump is None:
            continue
        shaft = float(machine.shaft(np.array([duty.speed]))[0])
        shut_off = hump.shut_off * (shaft / nearest.speed) ** 2
        if duty.head > shut_off:
            yield (
                f"here it works on its hump, at {system.text(duty.head, 'head')}, more than the "
                f"{system.text(shut_off, 'head')} that it gives without flow, so that it may not "
                "come up to this flow from standstill, or hunt"
            )


def _stretched(
    network: Network, duties: tuple[PumpDuty, ...], own: tuple[str, ...]
) -> Iterator[str]:
    """Where a pump runs so slowly that the laws of affinity are stretched."""
    machines = {machine.name: machine for machine in network.machines}
    for duty in duties:
        if duty.pump not in own or duty.speed <= 0.0:
            continue
        machine = machines[duty.pump]
        shaft = float(machine.shaft(np.array([duty.speed]))[0])
        slowest = machine.curves[-1].speed
        if len(machine.curves) > 1 and shaft < slowest:
            yield (
                f"at {shaft:.0%} speed it runs slower than any of its measured curves "
                f"({slowest:.0%}): below that the laws of affinity carry on, and flatter it"
            )
        elif shaft < SLOW * slowest:
            yield (
                f"{shaft:.0%} speed is far from the {slowest:.0%} at which its curve was measured: "
                "the laws of affinity flatter a slow pump, in head and in watts; measure it there"
            )
