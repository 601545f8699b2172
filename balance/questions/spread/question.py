"""The question: the systems that a plan may really be, and what flows in them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from balance.errors import UsageError
from balance.network.arrays import network_of
from balance.plan.model import Plan
from balance.plan.reading import Readings
from balance.questions.clogs import clogs_of
from balance.questions.learning.believed import Believed
from balance.questions.learning.doubts import Doubts
from balance.questions.learning.learn import learn
from balance.questions.learning.numbers import table_of
from balance.questions.settings import settings as ask_settings
from balance.questions.spread.answer import Clogged, Outcome, Spread
from balance.questions.spread.outcome import Progress, outcome_of

SYSTEMS = 100_000
"""Systems drawn unless told otherwise, by which a chance is known to 0.2 %; our own choice."""

FEWEST, MOST = 100, 1_000_000


def spread(
    plan: Plan,
    *,
    systems: int = SYSTEMS,
    seed: int = 1,
    clogged: Mapping[str, float] | None = None,
    from_settings: bool = False,
    readings: Readings | None = None,
    progress: Progress | None = None,
) -> Spread:
    """How sure the flows of a plan are, over all that it leaves in doubt.

    Parameters
    ----------
    plan
        As read; it is not changed.  How large its doubts are stands in its `spread`.
    systems
        How many are drawn at random, from 100 to a million.
    seed
        Of the random numbers: the same seed draws the same systems.
    clogged
        From branches, runs, headers or groups to the share by which they lose more at equal flow,
        valves left out.
    from_settings
        Begin with valves and pumps where `settings` puts them, in place of where the plan has them.
    readings
        Of the real plumbing, to which the plan is fitted first: how sure its flows are before and
        after. A plan that was fitted already needs none.
    progress
        Told how many systems are done, of how many.

    Raises
    ------
    UsageError
        Too few or too many systems, a seed below nought, or clogs that make no sense.
    UnknownNameError
        With the nearest name.
    NoSolutionError, SolveError
        As from solving.
    """
    if not FEWEST <= systems <= MOST:
        raise UsageError(
            f"{systems} systems are too {'few' if systems < FEWEST else 'many'}; draw {FEWEST} to "
            f"{MOST}, or leave it out for {SYSTEMS}"
        )
    if seed < 0:
        raise UsageError(f"a seed of {seed} is below nought; write 1")
    if readings is not None:
        plan = _fitted(plan, readings)
    if from_settings:
        plan = ask_settings(plan).plan
    bare = network_of(plan.model_copy(update={"learnt": None}))
    clogs = clogs_of(bare, clogged or {})
    before = outcome_of(
        bare,
        Doubts(bare),
        systems=systems,
        seed=seed,
        clogs=clogs,
        progress=progress,
    )
    after = None
    if plan.learnt is not None:
        fitted = network_of(plan)
        after = outcome_of(
            fitted,
            Believed(fitted, plan.learnt),
            systems=systems,
            seed=seed,
            clogs=clogs,
            progress=progress,
        )
    return Spread(
        title=plan.title,
        begins="at the settings" if from_settings else "as it stands",
        clogged=tuple(Clogged(name=name, more=more) for name, more in clogs),
        seed=seed,
        before=before,
        after=after,
        notes=tuple(_notes(before if after is None else after)),
        plan=plan,
    )


def _fitted(plan: Plan, readings: Readings) -> Plan:
    """The plan with what readings told of it, in place of what it had learnt before."""
    bare = plan.model_copy(update={"learnt": None})
    places = [row.at for row in readings.rows if row.at is not None]
    learnt = learn(network_of(bare, gauges=places), readings.rows)
    return bare.model_copy(update={"learnt": table_of(learnt, readings=readings.file.name)})


def _notes(outcome: Outcome) -> Iterator[str]:
    if outcome.unsettled:
        yield (
            f"{outcome.unsettled} of {outcome.systems} systems could not be solved and are left "
            "out: the chances are those of the others"
        )
    for band in (*outcome.branches, *outcome.pumps):
        if band.backwards > 0.0:
            yield f"water runs backwards through {band.name} in {_part(band.backwards)}"
        if band.has_water and band.dry > 0.0:
            yield f"no water flows through {band.name} in {_part(band.dry)}"


def _part(chance: float) -> str:
    return f"{100.0 * chance:.2g} % of the systems"
