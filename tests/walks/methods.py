"""Ways to balance a system, each acting on it as a person would."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from balance.network.arrays import Network
from balance.plan.reading import Reading, Turned
from balance.questions.aims import aims_of
from balance.questions.tune.steps import Step, next_step
from balance.questions.tune.view import View, view_of
from tests.walks.systems import System

Floats = NDArray[np.float64]
FILLS = 3
BUCKETS = (1e-3, 2e-3, 5e-3, 1e-2, 2e-2)


def bucket_for(flow: float) -> float:
    return next((v for v in BUCKETS if v / flow >= 10.0), BUCKETS[-1])


def read(system: System, network: Network, branch: str, turned: tuple[Turned, ...]) -> Reading:
    flow = float(system.flows()[network.row_of[branch]])
    volume = bucket_for(max(flow, 1e-7))
    return Reading(
        line=system.readings + 1,
        branch=branch,
        volume=volume,
        seconds=system.fill(branch, volume, FILLS),
        flow=None,
        openings=tuple(system.marks),
        turned=turned,
        speeds=tuple(system.speeds),
        head=None,
        at=None,
        watts=None,
        pump=None,
    )


def ours(
    system: System,
    network: Network,
    *,
    most_moves: int,
    most_readings: int,
    log: list[tuple[Step, int, int]] | None = None,
) -> tuple[Step, View]:
    """By the product: its steps, taken by a hand that is off."""
    start = tuple(
        Turned(valve.name, "mark", float(mark))
        for valve, mark in zip(network.valves, system.marks, strict=True)
        if valve.part.open != mark
    )
    asked = {name for aim in aims_of(network.plan) if aim.asked for name in aim.branches}
    first = next(branch.name for branch in network.plan.branches if branch.name in asked)
    readings = [read(system, network, first, start)]
    view: View | None = None
    while True:
        view = view_of(network, readings, speeds=system.speeds.tolist(), near=view)
        step = next_step(view)
        if log is not None:
            log.append((step, system.moves, system.readings))
        if step.kind in ("done", "stuck"):
            break
        fresh = step.kind == "speed" or (
            step.kind in ("move", "nudge") and view.turns.last != step.name
        )
        if (fresh and system.moves >= most_moves) or system.readings >= most_readings:
            break
        system.moves += fresh
        turned: tuple[Turned, ...] = ()
        branch = step.name
        if step.kind == "speed":
            system.speeds[step.place] = step.to
            continue
        if step.kind == "move":
            system.set(step.place, step.to)
            turned = (Turned(step.name, "mark", step.to),)
            branch = network.valves[step.place].stretch
        elif step.kind == "nudge":
            system.nudge(step.place, step.to)
            turned = (Turned(step.name, "nudge", step.to),)
            branch = network.valves[step.place].stretch
        readings.append(read(system, network, branch, turned))
    return step, view
