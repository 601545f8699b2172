"""A walk on paper: every step as it goes if the real thing is as it is thought to be."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from balance.plan.model import Plan
from balance.plan.reading import Reading, Turned
from balance.questions.buckets import Bucket
from balance.questions.record import Record
from balance.questions.tune.answer import Advice
from balance.questions.tune.question import tune

MOST = 200  # steps, however many branches there are


@dataclass(frozen=True, kw_only=True)
class Sheet(Record):
    """The steps of a walk.

    Attributes
    ----------
    title : of the plan
    steps : in their order, until every handle has been set
    chance : that all targets would then be met, were all read as expected
    plan : as read
    """

    title: str
    steps: tuple[Advice, ...]
    chance: float | None
    plan: Plan = field(metadata={"private": True})


def sheet(
    plan: Plan,
    readings: Sequence[Reading] = (),
    *,
    before: int = 0,
    as_they_stand: bool = False,
    buckets: Sequence[Bucket] | None = None,
    skipped: frozenset[str] = frozenset(),
) -> Sheet:
    """Every step from here on, each reading being what is expected.

    Parameters, errors as of `tune`.
    """
    rows = list(readings)
    steps: list[Advice] = []
    speeds: tuple[float, ...] | None = None
    advice: Advice | None = None
    for _ in range(MOST):
        advice = tune(
            plan,
            rows,
            before=before,
            as_they_stand=as_they_stand,
            speeds=speeds,
            buckets=buckets,
            skipped=skipped,
            near=advice,
        )
        if advice.chance is not None:
            break
        steps.append(advice)
        if advice.kind == "speed":
            speeds = speeds_after(advice)
            continue
        rows.append(reading_of(advice, rows, speeds=speeds, flow=max(advice.flow or 0.0, 0.0)))
    return Sheet(
        title=plan.title,
        steps=tuple(steps),
        chance=None if advice is None else advice.chance,
        plan=plan,
    )


def speeds_after(advice: Advice, *, to: float | None = None) -> tuple[float, ...]:
    """Speeds of all pumps once a step that sets one is done.

    Parameters
    ----------
    to : the speed that was set in fact; left out: that of the step
    """
    speeds = list(advice.view.stand.speeds)
    place = [machine.name for machine in advice.view.network.machines].index(advice.name)
    if to is not None or advice.speed is not None:
        speeds[place] = to if to is not None else advice.speed or 0.0
    return tuple(speeds)


def reading_of(
    advice: Advice,
    rows: Sequence[Reading],
    *,
    speeds: Sequence[float] | None = None,
    volume: float | None = None,
    seconds: Sequence[float] = (),
    flow: float | None = None,
    turned: Sequence[Turned] | None = None,
) -> Reading:
    """The row of a log for a step that is done.

    Parameters
    ----------
    rows : of the log so far
    speeds : of the pumps now; left out: as before
    volume, seconds : of the bucket, or
    flow : of a meter
    turned : what was turned in fact; left out: what the step says
    """
    moved = tuple(advice.turned if turned is None else turned)
    refs = advice.plan.valves()
    openings = list(rows[-1].openings) if rows else [ref.part.open for ref in refs]
    places = {ref.name: place for place, ref in enumerate(refs)}
    for each in moved:
        openings[places[each.valve]] = each.to
    return Reading(
        line=len(rows) + 2,
        branch=advice.branch or None,
        volume=volume,
        seconds=tuple(seconds),
        flow=flow,
        openings=tuple(openings),
        turned=moved,
        speeds=tuple(advice.view.stand.speeds if speeds is None else speeds),
        head=None,
        at=None,
        watts=None,
        pump=None,
    )
