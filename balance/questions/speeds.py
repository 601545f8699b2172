"""Speeds that an answer may set a pump to."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from balance.network.arrays import Machine, Network

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]

USUAL_STEP = 0.01  # of a speed whose step the plan does not say; common practice, no source


def is_free(machine: Machine) -> bool:
    """Whether an answer may set the speed: it has a range and does not stand still."""
    return machine.pump.speed_range is not None and machine.pump.speed > 0.0


@dataclass(frozen=True)
class Drive:
    """A setting that an answer may choose, and the pumps that turn by it.

    Attributes
    ----------
    pumps : (n,) places of those pumps in the network
    machine : the first of them, whose range and step the setting has
    """

    pumps: Ints
    machine: Machine


def drives_of(network: Network, *, together: Sequence[str] = ()) -> tuple[Drive, ...]:
    """Settings that an answer may choose: one for each free pump.

    Parameters
    ----------
    together : names of like pumps that turn at one speed
    """
    places = [place for place, machine in enumerate(network.machines) if is_free(machine)]
    alike = [place for place in places if network.machines[place].name in together]
    own = [[place] for place in places if place not in alike]
    return tuple(
        Drive(np.array(pumps, dtype=np.intp), network.machines[pumps[0]])
        for pumps in (*([alike] if alike else ()), *own)
    )


def speed_range(machine: Machine) -> tuple[float, float]:
    """Least and highest setting that may be used."""
    if machine.pump.speed_range is not None and is_free(machine):
        return machine.pump.speed_range
    return machine.pump.speed, machine.pump.speed


def top_speeds(network: Network) -> Floats:
    """Highest settings that may be used, (P, 1)."""
    return np.array([[speed_range(machine)[1]] for machine in network.machines]).reshape(-1, 1)


def step_of(machine: Machine) -> float:
    """Step in which the speed is set."""
    return machine.pump.speed_step or USUAL_STEP


def next_step(machine: Machine, speed: float) -> float:
    """First step of speed at or above one, within the range."""
    low, high = speed_range(machine)
    step = step_of(machine)
    return min(high, max(low, float(np.ceil(speed / step - 1e-6)) * step))
