"""Whose flows are looked at: branches, totals of groups, pumps."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from balance.network.arrays import Network
from balance.questions.aims import ROUNDING, Aim, aims_of
from balance.questions.handles import valve_of

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]


@dataclass(frozen=True)
class Watched:
    """One flow that is looked at.

    Attributes
    ----------
    name : of the branch, group or pump
    kind : which of these
    runs : rows of the runs whose flows add up to it
    aim : what is asked of it; None of a pump
    limits : within which it must stay, as far as they count where its handle stands [m³/s]
    """

    name: str
    kind: Literal["branch", "total", "pump"]
    runs: tuple[int, ...]
    aim: Aim | None
    limits: tuple[float | None, float | None]

    def met(self, flow: Floats) -> Bools | None:
        """Which flows (S,) meet what is asked; None where nothing is."""
        return self.aim.met(flow) if self.aim is not None and self.aim.judges else None

    def beyond(self, flow: Floats) -> Bools | None:
        """Which flows (S,) break a limit; None where there is none."""
        low, high = self.limits
        if low is None and high is None:
            return None
        broken = np.zeros(flow.shape, dtype=np.bool_)
        if low is not None:
            broken |= flow < low * (1.0 - ROUNDING)
        if high is not None:
            broken |= flow > high * (1.0 + ROUNDING)
        return broken


def watched_of(network: Network) -> tuple[Watched, ...]:
    """Every branch, every total that is asked for, every pump."""
    return (*_branches_and_totals(network), *_pumps(network))


def _branches_and_totals(network: Network) -> Iterator[Watched]:
    plan, row_of = network.plan, network.row_of
    for aim in aims_of(plan):
        rows = tuple(row_of[name] for name in aim.branches)
        if aim.group:
            yield Watched(aim.group, "total", rows, aim, (None, None))
            continue
        low, high = aim.limits
        valve = valve_of(plan, aim.name)
        shut = valve is not None and valve.part.open == 0.0
        yield Watched(aim.name, "branch", rows, aim, (None if shut else low, high))


def _pumps(network: Network) -> Iterator[Watched]:
    for machine in network.machines:
        yield Watched(machine.name, "pump", (machine.run,), None, (None, None))


def picked(watched: Sequence[Watched], flow: Floats) -> Floats:
    """The flows that are looked at, (R, S), of those of all runs, (E, S)."""
    return np.array([flow[list(each.runs)].sum(axis=0) for each in watched]).reshape(
        len(watched), flow.shape[1]
    )
