"""What comes into each vessel when targets are met, and what its drains can take away."""

from __future__ import annotations

from balance.network.arrays import Network
from balance.plan.model import Plan
from balance.questions.check.answer import VesselRow
from balance.questions.check.drains import capacity, weir_capacity
from balance.questions.check.wanted import Wanted


def vessel_rows(network: Network, flows: Wanted) -> tuple[VesselRow, ...]:
    """A row for each vessel.

    What comes into a vessel with weirs passes over them into the next, so an overflow box is
    asked to drain all that its tank receives.
    """
    plan = network.plan
    inflow = _inflow(network, flows) if flows.flow else None
    rows = []
    for name, vessel in plan.vessels.items():
        carried, reserve = _drained(network, name)
        rows.append(
            VesselRow(
                vessel=name,
                bottom=vessel.bottom,
                level=vessel.level,
                rim=vessel.rim,
                inflow=None if inflow is None else inflow[name],
                carried=carried,
                reserve=reserve,
            )
        )
    return tuple(rows)


def _inflow(network: Network, flows: Wanted) -> dict[str, float]:
    """Net flow into each vessel by pumps, runs, branches and weirs [m³/s]."""
    plan = network.plan
    came = dict.fromkeys(plan.vessels, 0.0)
    # A cut run has a second half, which flows on without an end of its own.
    ends = [(pump.from_, pump.to, name) for name, pump in plan.pumps.items()]
    ends += [(run.from_, run.to, run.name) for run in plan.runs]
    ends += [(branch.from_ or "", branch.to or "", branch.name) for branch in plan.branches]
    for start, end, name in ends:
        flow = flows.flow.get(name, 0.0)
        if end in came:
            came[end] += flow
        if start in came:
            came[start] -= flow
    for name in _from_above(plan):
        weirs = [weir for weir in plan.weirs if weir.from_ == name]
        total = sum(weir.length for weir in weirs)
        for weir in weirs:
            if weir.to in came:
                came[weir.to] += max(0.0, came[name]) * weir.length / total
    return came


def _from_above(plan: Plan) -> list[str]:
    """Vessels that spill, the highest crest first: water falls from weir to weir."""
    crests: dict[str, float] = {}
    for weir in plan.weirs:
        crests[weir.from_] = max(weir.crest, crests.get(weir.from_, weir.crest))
    return sorted(crests, key=lambda name: -crests[name])


def _drained(network: Network, vessel: str) -> tuple[float | None, float]:
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
