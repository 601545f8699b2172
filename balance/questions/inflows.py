"""What comes into each vessel, and what its drains and weirs can take away."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from balance.network.arrays import Network
from balance.plan.model import Plan
from balance.questions.capacity import capacity, weir_capacity

Floats = NDArray[np.float64]


def inflows(plan: Plan, flow: Mapping[str, Floats]) -> dict[str, Floats]:
    """Net flow into each vessel by pumps, runs, branches, weirs and drains, (S,) [m³/s].

    What comes into a vessel goes on: over its weirs, so that an overflow box is asked to drain all
    that its tank receives, else by its drains, to the vessels that they end in.

    Parameters
    ----------
    flow : of pumps, runs and branches by their names, (S,) [m³/s]; what is left out has none
    """
    came = by_pipes(plan, flow)
    for name in sorted(plan.vessels, key=lambda name: -plan.vessels[name].level):
        for there, share in _goes_on(plan, name):
            if there in came:
                came[there] = came[there] + share * came[name].clip(min=0.0)
    return came


def _goes_on(plan: Plan, name: str) -> list[tuple[str, float]]:
    """Where the water of a vessel goes, and which share of it: by length of weir, else by drain."""
    weirs = [weir for weir in plan.weirs if weir.from_ == name]
    if weirs:
        total = sum(weir.length for weir in weirs)
        return [(weir.to, weir.length / total) for weir in weirs]
    onto = [drain.to for drain in plan.drains if drain.from_ == name and drain.role != "change"]
    return [(to, 1.0 / len(onto)) for to in onto]


def by_pipes(plan: Plan, flow: Mapping[str, Floats]) -> dict[str, Floats]:
    """Net flow into each vessel by pumps, runs and branches, (S,) [m³/s]; arguments as above."""
    came: dict[str, Floats] = {name: np.zeros(1) for name in plan.vessels}
    # A cut run has a second half, which flows on without an end of its own.
    ends = [(pump.from_, pump.to, name) for name, pump in plan.pumps.items()]
    ends += [(run.from_, run.to, run.name) for run in plan.runs]
    ends += [(branch.from_ or "", branch.to or "", branch.name) for branch in plan.branches]
    for start, end, name in ends:
        if name not in flow:
            continue
        if end in came:
            came[end] = came[end] + flow[name]
        if start in came:
            came[start] = came[start] - flow[name]
    return came


def drained(network: Network, vessel: str) -> tuple[float | None, float]:
    """What its drains and weirs carry, None where unknown, and emergency drains of it [m³/s]."""
    plan = network.plan
    flows: list[float | None] = [
        weir_capacity(weir, plan.vessels[vessel]) for weir in plan.weirs if weir.from_ == vessel
    ]
    reserve = 0.0
    for drain in plan.drains:
        if drain.from_ != vessel or drain.role == "change":
            continue
        flow = capacity(plan, drain, water=network.water)
        flows.append(flow)
        if drain.role == "emergency":
            reserve += flow or 0.0
    known = [flow for flow in flows if flow is not None]
    return (sum(known) if known and len(known) == len(flows) else None), reserve
