"""The picture in words, for whoever does not see it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from balance.questions.flows import Flows
from balance.show.words import speed
from balance.units import SYSTEMS


def description_of(answer: Flows, drained: Mapping[str, float]) -> str:
    """Name all pumps, headers, branches, drains, vessels and weirs, each with its figures."""
    return " ".join(f"{said}." for said in _sentences(answer, drained) if said)


def _sentences(answer: Flows, drained: Mapping[str, float]) -> Iterator[str]:
    plan, system = answer.plan, SYSTEMS[answer.plan.units]
    flows = {run.run: run.flow for run in answer.runs}
    duties = {duty.pump: duty for duty in answer.pumps}
    pumps = []
    for name in plan.pumps:
        duty = duties.get(name)
        figures = "for water changes, off"
        if duty is not None:
            figures = f"{system.text(duty.flow, 'flow')} at {speed(duty.speed)} speed"
        pumps.append(f"{name} {figures}")
    yield _listed("Pumps", pumps)
    yield _listed("Headers", [header.name for header in plan.headers])
    branches = []
    for branch in answer.branches:
        mark = f", {branch.valve} at {branch.mark}" if branch.valve else ""
        to = next(each.to for each in plan.branches if each.name == branch.branch)
        where = "capped" if to is None else f"to {to}"
        branches.append(f"{branch.branch} {where} {system.text(branch.flow, 'flow')}{mark}")
    yield _listed("Branches", branches)
    runs = [run for run in plan.runs if run.name in flows]
    yield _listed("Runs", [f"{run.name} {system.text(flows[run.name], 'flow')}" for run in runs])
    yield _listed("Runs for water changes", [r.name for r in plan.runs if r.name not in flows])
    drains = []
    for drain in plan.drains:
        flow = drained.get(drain.name)
        carries = "" if flow is None else f" {system.text(flow, 'flow')}"
        drains.append(f"{drain.name} ({drain.role}) from {drain.from_} to {drain.to}{carries}")
    yield _listed("Drains", drains)
    vessels = [
        f"{name} at {system.text(vessel.level, 'length')}" for name, vessel in plan.vessels.items()
    ]
    yield _listed("Vessels", vessels)
    yield _listed("Weirs", [f"{w.name} from {w.from_} to {w.to}" for w in plan.weirs])


def _listed(heading: str, things: list[str]) -> str:
    return f"{heading}: {'; '.join(things)}" if things else ""
