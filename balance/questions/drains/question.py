"""The question: what comes into each vessel with drains, and where its water then stands."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from balance.errors import UnknownNameError, UsageError
from balance.network.arrays import network_of
from balance.network.gravity import gravity_drains
from balance.parts.gravity import FULL_FROM, self_venting
from balance.parts.weirs import LIP_UP_TO, lip
from balance.plan.fields import nearest
from balance.plan.model import Plan
from balance.questions.drains.answer import (
    SUPPLIED,
    Case,
    DrainFacts,
    Drains,
    Inflow,
    Remedy,
    VesselDrains,
)
from balance.questions.drains.gate import at_aims, gates_of
from balance.questions.drains.levels import Overflow, overflow_of
from balance.questions.drains.lines import lines_of
from balance.questions.drains.notes import notes_of, vessel_notes
from balance.questions.drains.quiet import quiet_speed
from balance.questions.drains.siphons import siphons_of
from balance.questions.drains.states import Loads, capacities_of, cases_of, fills, lasts, masks
from balance.questions.drains.supply import AS_IT_STANDS, FULL_SPEED, GREATEST, Supply, supply
from balance.water import Water

Floats = NDArray[np.float64]


class _Came(NamedTuple):
    """What comes into a vessel in all cases of supply: own (S,), over the weirs of feeds (F, S)."""

    own: Floats
    fed: Floats


def drains(plan: Plan, *, vessel: str | None = None) -> Drains:
    """Where the water stands in each vessel with drains, what floods, and how gates are set.

    Parameters
    ----------
    plan : see `Plan.with_openings` and `Plan.with_speed` to try another setting
    vessel : name of the one to look at; left out: all

    Raises
    ------
    UsageError
        No vessel has a drain, or not this one.
    UnknownNameError
        With the nearest name.
    NoSolutionError, SolveError
        As from solving.
    """
    names = _drained(plan)
    asked = names if vessel is None else _named(plan, vessel, names)
    if not (plan.pumps or plan.runs or plan.branches):
        raise UsageError("nothing brings water: this plan has no pump, no run and no branch")
    network = network_of(plan)
    found = gravity_drains(plan, network.water)
    overflows = {name: overflow_of(plan, name, found) for name in names}
    supplied = supply(network, names)
    came = _passed_down(plan, overflows, supplied)
    answers, off = [], 0.0
    for place, name in enumerate(names):
        if name in asked:
            columns = [AS_IT_STANDS, FULL_SPEED, GREATEST + place]
            answer, worst = _vessel(
                plan, overflows[name], came[name], columns, supplied, water=network.water
            )
            if answer.remedy is not None:
                answer = replace(answer, quiet=quiet_speed(network, answer))
            answers.append(answer)
            off = max(off, worst)
    return Drains(
        title=plan.title,
        safe=all(answer.safe for answer in answers),
        vessels=tuple(answers),
        notes=tuple(notes_of(plan, tuple(overflows[name] for name in asked))),
        worst_unclosed=off,
        worst_imbalance=supplied.worst_imbalance,
        worst_mismatch=supplied.worst_mismatch,
        plan=plan,
    )


def _drained(plan: Plan) -> tuple[str, ...]:
    """Vessels with drains that run all the time, the highest first: so water goes down."""
    found = {drain.from_ for drain in plan.drains if drain.role != "change"}
    if not found:
        raise UsageError(
            "this plan has no drains; describe them under [[drains]], see docs/plan_file.md"
        )
    return tuple(name for name in _downwards(plan) if name in found)


def _downwards(plan: Plan) -> tuple[str, ...]:
    return tuple(sorted(plan.vessels, key=lambda name: -plan.vessels[name].level))


def _named(plan: Plan, vessel: str, drained: tuple[str, ...]) -> tuple[str, ...]:
    """The vessel of a name, or where it has no drains the boxes that it spills into."""
    by_name = {name.casefold(): name for name in plan.vessels}
    name = by_name.get(vessel.casefold())
    if name is None:
        near = nearest(vessel, drained)
        raise UnknownNameError("vessel", vessel, (near,) if near else (), drained)
    if name in drained:
        return (name,)
    boxes = {weir.to for weir in plan.weirs if weir.from_ == name}
    if not boxes & set(drained):
        raise UsageError(f'"{name}" has no drains; those with drains: {", ".join(drained)}')
    return tuple(box for box in drained if box in boxes)


def _passed_down(
    plan: Plan, overflows: Mapping[str, Overflow], supplied: Supply
) -> dict[str, _Came]:
    """What comes into each vessel with drains, by pipes and from above, in all cases of supply."""
    piped = {name: flow.copy() for name, flow in supplied.came.items()}
    over: dict[tuple[str, str], Floats] = {}  # by tank and the vessel that it spills into
    found: dict[str, _Came] = {}
    for name in _downwards(plan):
        total = piped[name].clip(min=0.0)
        weirs = [weir for weir in plan.weirs if weir.from_ == name]
        onto = dict.fromkeys(weir.to for weir in weirs)
        if name not in overflows:
            length = sum(weir.length * (1.0 - weir.teeth) for weir in weirs)
            for there in onto:
                edges = [w.length * (1.0 - w.teeth) for w in weirs if w.to == there]
                over[name, there] = total * (sum(edges) / length)
                if there in piped:
                    piped[there] = piped[there] + over[name, there]
            continue
        overflow = overflows[name]
        fed = np.array(
            [
                total if feed.tank == name else over.get((feed.tank, name), np.zeros(len(total)))
                for feed in overflow.feeds
            ]
        ).reshape(-1, len(total))
        own = (total - fed.sum(axis=0)).clip(min=0.0)
        found[name] = _Came(own, fed)
        for there, flow in _onward(overflow, own, fed):
            if there in piped:
                piped[there] = piped[there] + flow
            over[name, there] = over.get((name, there), np.zeros(len(total))) + flow
    return found


def _onward(overflow: Overflow, own: Floats, fed: Floats) -> Iterator[tuple[str, Floats]]:
    """What a vessel passes on as it runs, siphons full where they keep so."""
    every = range(len(own))
    blocked, primed = masks(overflow, [((), True)] * len(own))
    level = overflow.standing(own, fed, blocked, primed).level
    keep = np.array([lasts(overflow, float(level[k]), blocked[:, k], primed[:, k]) for k in every])
    found = overflow.standing(own, fed, blocked, primed & keep)
    for drain, flow in zip(overflow.drains, found.flow, strict=True):
        yield drain.to, flow
    for there, flow in zip(overflow.onto, found.edges, strict=True):
        yield there, flow.clip(min=0.0)


def _vessel(
    plan: Plan,
    overflow: Overflow,
    came: _Came,
    columns: list[int],
    supplied: Supply,
    *,
    water: Water,
) -> tuple[VesselDrains, float]:
    loads = Loads(SUPPLIED, came.own[columns], came.fed[:, columns])
    cases, off = cases_of(overflow, loads)
    capacities = capacities_of(overflow)
    gates = gates_of(plan, overflow, loads, water=water)
    aimed: tuple[Case, ...] = ()
    if gates and all(gate.covered for gate in gates):
        trimmed = at_aims(plan, overflow, gates, water=water)
        aimed, worst = cases_of(trimmed, loads, most_blocked=1)
        off = max(off, worst)
    rims = [feed.rim for feed in overflow.feeds if feed.tank == overflow.vessel]
    answer = VesselDrains(
        vessel=overflow.vessel,
        behind=overflow.behind,
        safe=True,
        rim=rims[0] if rims else overflow.rim,
        drains=tuple(_facts(overflow)),
        inflows=tuple(
            Inflow(when=when, flow=float(loads.total[k]), shut=supplied.shut[column])
            for k, (when, column) in enumerate(zip(SUPPLIED, columns, strict=True))
        ),
        capacities=capacities,
        cases=cases,
        gates=gates,
        aimed=aimed,
        siphons=tuple(siphons_of(overflow, loads)) if loads.total[0] > 0.0 else (),
        remedy=None,
        quiet=None,
        lines=tuple(lines_of(overflow, loads, capacities)),
        filling=None,
        notes=(),
    )
    floods = answer.floods
    singles = [case.overflow for case in floods if case.blocked]
    return answer.with_verdict(
        safe=not (floods or answer.floods_at_aim)
        and capacities[0].safe >= max(each.flow for each in answer.inflows),
        remedy=_remedy(max(singles)) if singles else None,
        notes=tuple(vessel_notes(plan, overflow, answer)),
    ), off


def _facts(overflow: Overflow) -> Iterator[DrainFacts]:
    none = np.zeros((len(overflow.drains), 1), dtype=np.bool_)
    at_rim = overflow.level_at_rim(none, none)
    for place, drain in enumerate(overflow.drains):
        runs = overflow.able[place] and fills(overflow, place, float(at_rim[0])) >= FULL_FROM
        carried = np.minimum(drain.lip_flow(at_rim), overflow.full(place, at_rim))
        yield DrainFacts(
            drain=drain.name,
            role=drain.role,
            inlet=drain.inlet,
            inlet_told=drain.inlet_told,
            bore=drain.narrowest,
            open_capacity=drain.safe,
            limit=drain.limit,
            full_at=float(at_rim[0]),
            full=float(carried[0]) if runs else None,
            full_froude=float(drain.froude(carried[0])) if runs else None,
            shut=drain.shut,
        )


def _remedy(flow: float) -> Remedy:
    """The bore of one more open drain that carries a flow: both its limits grow as bore^2.5."""
    of_a_metre = min(float(lip(LIP_UP_TO, bore=1.0).flow), float(self_venting(1.0)))
    return Remedy(flow=flow, bore=(flow / of_a_metre) ** 0.4)
