"""The question: tables of what a plan describes, and its doubts."""

from __future__ import annotations

import numpy as np

from balance.errors import NoSolutionError, SolveError
from balance.network.along import Along
from balance.network.arrays import Machine, Network, network_of
from balance.network.solve import solve
from balance.parts.pipes import PipeSize
from balance.parts.ratings import stands
from balance.plan.model import HosePart, Part, PipePart, Plan
from balance.questions.check.answer import (
    BranchRow,
    Check,
    HeaderRow,
    PipeRow,
    PumpRow,
)
from balance.questions.check.doubts import doubts_of
from balance.questions.check.evaporation import evaporation
from balance.questions.check.low_pressure import low_pressure_doubts
from balance.questions.check.vessels import vessel_rows
from balance.questions.check.wanted import Wanted, wanted
from balance.questions.handles import mark, valve_of
from balance.questions.sources import source_of
from balance.questions.strains import dead_head, top_speed


def check(plan: Plan) -> Check:
    """Look at a plan: what it describes, and what in it may not be meant, or not be wise.

    Velocities and the water that vessels receive are those with every target met, pressures those
    with handles and pumps as they stand, and with everything shut for what parts must stand.
    Drains are reckoned roughly, see `Check.vessels`.

    Raises
    ------
    BalanceError
        The water has no known properties.
    """
    network = network_of(plan)
    flows = wanted(network)
    vessels = vessel_rows(network, flows)
    along = _along(network)
    found = [*doubts_of(network, flows, vessels), *(low_pressure_doubts(along) if along else ())]
    doubts = tuple(sorted(found, key=lambda doubt: doubt.line or 0))
    return Check(
        title=plan.title,
        safe=not any(doubt.unsafe for doubt in doubts),
        vessels=vessels,
        pumps=tuple(_pump(machine) for machine in network.machines),
        headers=tuple(
            HeaderRow(
                header=header.name,
                start=header.from_,
                end=header.to,
                pipe=header.pipe.name,
                length=sum(tap.after for tap in header.taps),
                taps=len(header.taps),
            )
            for header in plan.headers
        ),
        branches=_branches(network, flows),
        pipes=_pipes(network),
        valves=len(plan.valves()),
        drains=len(plan.drains),
        evaporation=tuple(evaporation(network, along.solution if along else None)),
        doubts=doubts,
        notes=_notes(plan, flows, solved=along is not None),
        plan=plan,
    )


def _pump(machine: Machine) -> PumpRow:
    top = top_speed(machine.pump)
    shaft = float(machine.shaft(np.array([top]))[0])
    curve = min(machine.curves, key=lambda points: abs(points.speed - shaft))
    return PumpRow(
        pump=machine.name,
        start=machine.pump.from_,
        end=machine.pump.to,
        speed=machine.pump.speed,
        top_speed=top,
        dead_head=dead_head(machine),
        dead_head_at_least=curve.curve.dead_head_at_least,
        run_out=machine.run_out(top),
    )


def _branches(network: Network, flows: Wanted) -> tuple[BranchRow, ...]:
    plan = network.plan
    rows = []
    for branch in plan.branches:
        run = network.layout.runs[network.row_of[branch.name]]
        source = source_of(network, run.start)
        heads = network.layout.heads
        end = heads.get(run.end)
        ref = valve_of(plan, branch.name)
        aim = flows.aims[branch.name]
        flow = flows.flow.get(branch.name)
        rows.append(
            BranchRow(
                branch=branch.name,
                start=run.start,
                end=branch.to,
                lift=None if end is None or source is None else end - heads[source],
                length=run.stretch.length,
                valve=None if ref is None else ref.name,
                mark="" if ref is None else mark(ref.part),
                locked=ref is not None and ref.part.locked,
                aim=aim.aim,
                low=aim.low,
                high=aim.high,
                velocity=None if flow is None else run.stretch.velocity(flow),
            )
        )
    return tuple(rows)


def _pipes(network: Network) -> tuple[PipeRow, ...]:
    """Pipe, then hose, the widest first."""
    lengths: dict[tuple[str, PipeSize], float] = {}

    def count(parts: tuple[Part, ...]) -> None:
        for part in parts:
            if isinstance(part, PipePart):
                add("pipe", part.pipe, part.length * part.count)
            elif isinstance(part, HosePart):
                add("hose", part.hose, part.length * part.count)

    def add(kind: str, size: PipeSize, length: float) -> None:
        lengths[kind, size] = lengths.get((kind, size), 0.0) + length

    for stretch in network.plan.stretches():
        count(stretch.parts)
    for header in network.plan.headers:
        for tap in header.taps:
            add("pipe", header.pipe, tap.after)
            count(tap.parts)
    listed = sorted(lengths.items(), key=lambda item: (item[0][0] != "pipe", -item[0][1].bore))
    return tuple(
        PipeRow(
            kind=kind,
            size=size.name,
            bore=size.bore,
            length=length,
            stands=stands(size, temperature=network.water.temperature),
        )
        for (kind, size), length in listed
    )


def _along(network: Network) -> Along | None:
    """The plan as it stands; None where it has no solution."""
    try:
        return Along(solve(network))
    except (NoSolutionError, SolveError):
        return None


def _notes(plan: Plan, flows: Wanted, *, solved: bool) -> tuple[str, ...]:
    notes = []
    if not solved:
        notes.append("as it stands the plan could not be solved, so no pressures are judged")
    if not flows.flow:
        notes.append(
            "the flows at the targets could not be reckoned, so no velocities are judged: "
            "is something shut on the way to them?"
        )
    if not plan.drains:
        notes.append("no drains are described, so nothing is said of water over the rim")
    heights = [run.high_point for run in plan.runs]
    heights += [branch.high_point for branch in plan.branches]
    heights += [header.height for header in plan.headers]
    if None in heights:
        notes.append(
            "no gauge pressure is stated where height or high_point is left out, "
            "as on some stretches here"
        )
    return tuple(notes)
