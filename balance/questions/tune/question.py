"""One step of a walk, put together from the plan and the readings so far."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from balance.network.arrays import Network, network_of
from balance.plan.model import Plan, ValvePart
from balance.plan.openings import opening_words, words_of
from balance.plan.reading import Reading, Turned
from balance.questions.aims import refuse_nothing_asked
from balance.questions.buckets import Bucket, bucket_for, way_to_read
from balance.questions.marks import travel
from balance.questions.settings.search import search
from balance.questions.tune.answer import Advice, Expected, Handle
from balance.questions.tune.chances import SEED, SYSTEMS, met_by
from balance.questions.tune.drift import drifted
from balance.questions.tune.steps import Step, next_step
from balance.questions.tune.view import View, view_of
from balance.units import SYSTEMS as UNITS

Floats = NDArray[np.float64]

TRIMMED_TO = 0.025
"""Of a flow, to either side of what a handle is trimmed to, that is near enough: what a bucket can
tell apart; our own choice."""
BAND = (0.05, 0.95)  # nine of ten


def tune(
    plan: Plan,
    readings: Sequence[Reading] = (),
    *,
    before: int = 0,
    as_they_stand: bool = False,
    speeds: Sequence[float] | None = None,
    buckets: Sequence[Bucket] | None = None,
    skipped: frozenset[str] = frozenset(),
    redo: Reading | None = None,
    near: Advice | None = None,
) -> Advice:
    """What to do next on the way to the targets.

    Parameters
    ----------
    plan
        As read; what an earlier fit has learnt is not counted, since its log may be part of this.
    readings
        All so far, in their order.
    before
        How many of them were taken before the walk.
    as_they_stand
        Begin with the handles as planned, or as the last reading left them; otherwise a walk
        without readings begins with its valves wide open.
    speeds
        Of the pumps now; left out: as at the last reading.
    buckets
        At hand, rising; left out: the usual ones of the plan's units.
    skipped
        Branches that cannot be read and valves that are not to be turned.
    redo
        A row that was taken back, and is to be read once more: what it turned stands as it was
        turned.
    near
        The step before, from which this one is found sooner.

    Raises
    ------
    UsageError
        If the plan asks for nothing.
    NoSolutionError, SolveError
        As from solving.
    """
    bare = plan.model_copy(update={"learnt": None})
    places = [row.at for row in readings if row.at is not None]
    network = near.view.learnt.unknowns.network if near else network_of(bare, gauges=places)
    refuse_nothing_asked(bare)
    then = () if readings or as_they_stand else _wide_open(network)
    if redo is not None:
        then = redo.turned
    view = view_of(
        network,
        readings,
        before=before,
        then=then,
        speeds=speeds,
        skipped=skipped,
        near=None if near is None or not readings else near.view,
    )
    step = next_step(view) if redo is None else Step("read", redo.branch or "")
    return _advice(bare, view, step, then, len(readings), buckets)


def _wide_open(network: Network) -> tuple[Turned, ...]:
    """Valves that a walk turns, opened as far as their stops let them."""
    turned = set(search(network).space.turned)
    return tuple(
        Turned(valve.name, "mark", (valve.part.stops or (0.0, 1.0))[1])
        for valve in network.valves
        if valve.name in turned and valve.part.open != (valve.part.stops or (0.0, 1.0))[1]
    )


def _advice(
    plan: Plan,
    view: View,
    step: Step,
    then: tuple[Turned, ...],
    readings: int,
    buckets: Sequence[Bucket] | None,
) -> Advice:
    network = view.network
    branch, stands, to, by = step.name, "", "", ""
    turned = then
    if step.kind in ("move", "nudge"):
        valve = network.valves[step.place]
        branch = valve.stretch if valve.stretch in network.row_of else ""
        stands = words_of(view.stand.openings[step.place], valve.part)
        to = words_of(step.to, valve.part)
        by = turn_words(step.by, valve.part, travel(valve))
        turned = (Turned(valve.name, "mark" if step.kind == "move" else "nudge", step.to),)
    elif step.kind == "speed":
        branch = ""
        stands, to = (f"{100.0 * speed:.4g} %" for speed in (step.to - step.by, step.to))
        by = f"{100.0 * step.by:+.3g} %"
    elif step.kind in ("done", "stuck"):
        branch = ""
    flow, low, high = _band(view, step, branch)
    label, volume = "", None
    if flow is not None:
        label, volume = bucket_for(flow, buckets or UNITS[plan.units].buckets)
    asked = {name for aim in view.goal.aims for name in aim.branches}
    tellable = step.chances is not None
    return Advice(
        title=plan.title,
        kind=step.kind,
        open_first=tuple(each.valve for each in then),
        name=step.name if step.kind in ("move", "nudge", "speed") else "",
        branch=branch,
        stands=stands,
        to=to,
        by=by,
        speed=step.to if step.kind == "speed" else None,
        way=next((way_to_read(plan, each) for each in plan.branches if each.name == branch), ""),
        bucket=label,
        volume=volume,
        flow=flow,
        low=low,
        high=high,
        seconds=_time(volume, flow),
        least_seconds=_time(volume, high),
        most_seconds=_time(volume, low),
        handles=tuple(
            Handle(
                valve=name,
                mark=words_of(view.stand.openings[place], network.valves[place].part),
                set=name in view.turns.moved,
            )
            for name, place in zip(view.goal.valves, view.turned, strict=True)
        ),
        readings=readings,
        moves=len(view.turns.moved),
        chance=step.chances.met if step.chances is not None else None,
        expected=_expected(view) if tellable else (),
        unmet=tuple(name for name in view.goal.unmet if name in asked or name in plan.groups),
        turned=turned,
        view=view,
        plan=plan,
    )


def _time(volume: float | None, flow: float | None) -> float | None:
    return None if volume is None or flow is None or flow <= 0.0 else volume / flow


def _band(view: View, step: Step, branch: str) -> tuple[float | None, float | None, float | None]:
    """Flow that a branch should carry when it is read, and how near is near enough."""
    if not branch:
        return None, None, None
    if step.flow is not None:
        return step.flow, step.flow * (1 - TRIMMED_TO), step.flow * (1 + TRIMMED_TO)
    learnt = view.learnt
    row = view.network.row_of[branch]
    likeliest = learnt.states(learnt.z[:, None], view.stand).flow[row, 0]
    low, high = np.quantile(_drawn(view)[row], BAND)
    return float(likeliest), float(low), float(high)


def turn_words(by: float, part: ValvePart, whole: float) -> str:
    """How far a handle is turned, and which way: "4 deg towards shut"."""
    way = "open" if by > 0.0 else "shut"
    amount = opening_words(min(abs(by), 1.0 - 1e-6), handle=part.handle, travel=whole)
    return f"{amount} towards {way}"


def _expected(view: View) -> tuple[Expected, ...]:
    """Flows as everything stands, against what is asked."""
    learnt, rows = view.learnt, view.network.row_of
    drawn = _drawn(view)
    likeliest = learnt.states(learnt.z[:, None], view.stand).flow[:, 0]
    found = []
    for aim in view.goal.aims:
        if aim.asked == "bleed":
            continue
        total = drawn[[rows[name] for name in aim.branches]].sum(axis=0)
        low, high = np.quantile(total, BAND)
        found.append(
            Expected(
                name=aim.name,
                flow=float(sum(likeliest[rows[name]] for name in aim.branches)),
                low=float(low),
                high=float(high),
                wanted_low=aim.low,
                wanted_high=aim.high,
                chance=float(met_by(aim, total).mean()),
            )
        )
    return tuple(found)


def _drawn(view: View) -> Floats:
    """Flows (E, S) as everything stands, of systems drawn from what the fit leaves in doubt."""
    rng = np.random.default_rng(SEED)
    z = view.learnt.drawn(rng.standard_normal((len(view.learnt.z), SYSTEMS)))
    return np.asarray(view.learnt.states(z, view.stand).flow * drifted(view, SYSTEMS, rng))
