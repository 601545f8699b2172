"""Which pump: the question put together."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from balance.errors import UsageError
from balance.network.arrays import network_of, plan_water
from balance.plan.candidates import same_curves
from balance.plan.model import Candidate, Plan, Power
from balance.questions.aims import refuse_nothing_asked
from balance.questions.head_lines import POINTS, HeadLine, system_curves
from balance.questions.heat import warming
from balance.questions.pumps.answer import Pumps, PumpTrial, RankBy
from balance.questions.pumps.contenders import contenders_of
from balance.questions.pumps.contest import Progress, Tried, try_all
from balance.questions.pumps.ranking import ranked
from balance.questions.replaced import replaced

FOULING = 0.3  # rise of losses at equal flow that a margin is told against; our own choice
BEYOND = 1.2  # of the largest crossing, up to which the system's curve is given


def pumps(
    plan: Plan,
    candidates: Sequence[Candidate] | None = None,
    *,
    rank: RankBy = "watts",
    fouling: float = FOULING,
    replaces: str | None = None,
    remarks: Sequence[str] = (),
    progress: Progress | None = None,
) -> Pumps:
    """Compare pumps on a plan, each at its own best valve settings and speed.

    Parameters
    ----------
    plan
        As read; it is not changed.  Its own pump is compared too; without candidates it is judged
        alone.
    candidates
        Pumps to compare, see `balance.plan.candidates.read_candidates`; left out: the plan's.
    rank
        What decides between pumps that do: "watts", "margin" (most to spare) or "cost" (of purchase
        and the years' electricity).
    fouling
        Rise of the loss at equal flow of all but valves and tees, against which the margin is told
        [ratio].
    replaces
        Name of the pump that candidates take the place of; left out: of all that run.
    remarks
        What the notes shall say besides, of files that were passed over.
    progress
        Told how many are done, of how many.

    Raises
    ------
    UsageError
        If the plan has no pump to take the place of, or asks for no flow.
    SolveError, NoSolutionError
        If none of them can be solved.
    """
    refuse_nothing_asked(plan)
    compared = plan.candidates if candidates is None else tuple(candidates)
    if fouling < 0.0:
        raise UsageError(f"fouling of {fouling:.0%} is none; write 30 %")
    contenders, misfits = contenders_of(plan, compared, replaces=replaces)
    tried = try_all(contenders, fouling=fouling, progress=progress)
    found = [each.trial for each in tried if each.trial is not None]
    if not found:
        raise next(each.failure for each in tried if each.failure is not None)
    trials = ranked(found, by=rank, plan=plan)
    spent = plan.power or Power()
    first = trials[0]
    return Pumps(
        title=plan.title,
        rank_by=rank,
        trials=trials,
        any_meets=any(trial.meets for trial in trials),
        fouling=fouling,
        years=spent.years,
        currency=spent.currency,
        warming=None if first.heat is None else warming(plan, plan_water(plan), heat=first.heat),
        replaced=replaced(plan),
        system=_system(plan, most=BEYOND * _largest(trials)),
        notes=(*misfits, *remarks, *_notes(plan, rank, compared, trials, tried)),
        plan=plan,
    )


def _system(plan: Plan, *, most: float) -> HeadLine | None:
    """Head that the plumbing asks of the plan's only pump, up to a flow [m³/s]."""
    network = network_of(plan)
    if len(network.machines) != 1 or most <= 0.0:
        return None
    (curve,) = system_curves(network, np.linspace(most / POINTS, most, POINTS)[None])
    return curve.line


def _largest(trials: Sequence[PumpTrial]) -> float:
    """Largest flow at which a pump crosses the plumbing's curve [m³/s]."""
    return max((trial.crossing.flow for trial in trials if trial.crossing is not None), default=0.0)


def _notes(
    plan: Plan,
    rank: RankBy,
    candidates: Sequence[Candidate],
    trials: Sequence[PumpTrial],
    tried: Sequence[Tried],
) -> Iterator[str]:
    for each in tried:
        if each.failure is not None:
            yield f"{each.name} is left out: {each.failure}"
    if not candidates:
        yield (
            "there is no other pump to compare with: name curve files or a folder of them, or "
            'write [[candidates]] with curve = "pump.csv" in the plan'
        )
    labels = (each.label for each in candidates if _speeds_assumed(plan, each))
    assumed = tuple(dict.fromkeys(labels))
    if assumed:
        own = next(iter(plan.running))
        yield (
            f'of {_listed(assumed)} nobody told the speeds: taken as those of "{own}"; '
            "name them by --speeds, or in [[candidates]] of the plan"
        )
    if rank == "cost":
        unpriced = [trial.name for trial in trials if trial.price is None]
        if unpriced and len(unpriced) < len(trials):
            yield f"no price is given for {_listed(unpriced)}: their cost is not known"
        elif unpriced:
            yield "no pump has a price: costs are electricity alone"
        if plan.power is None or not plan.power.price:
            yield "electricity has no price: write [power] with price and currency in the plan"


def _speeds_assumed(plan: Plan, candidate: Candidate) -> bool:
    """Whether its speeds are those of the plan's pump for want of any word about them."""
    own = next(iter(plan.running.values()))
    told = any(same_curves(each.curve, candidate.curve) for each in (own, *plan.candidates))
    return (
        not told
        and len(candidate.curve) == 1
        and own.speed_range is not None
        and candidate.speed_range == own.speed_range
    )


def _listed(names: Sequence[str]) -> str:
    """Names in a row, the first few of many."""
    few = 4
    if len(names) <= few:
        return ", ".join(names)
    return f"{', '.join(names[: few - 1])} and {len(names) - few + 1} others"
