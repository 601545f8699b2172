"""Single changes to the plan, each tried by a search of its own, and those that are worth it."""

from __future__ import annotations

from dataclasses import dataclass

from balance.errors import BalanceError
from balance.network.arrays import Network, network_of
from balance.questions.settings.answer import SingleChange
from balance.questions.settings.candidates import candidates
from balance.questions.settings.lowered import lowered_targets
from balance.questions.settings.search import Found, search

LEAST_GAIN = 0.1
"""Of what is missing, that a change must close to be offered, unless it brings another branch
within its tolerance; our own choice.  Generic losses are known to 20 or 30 % of a few feet of head,
that is flows to 10 or 15 %: whether less than that comes true, nobody could tell."""
TOLD = 5
ONE_START = (0.6,)  # of the aims: near enough to rank changes by
MET = 1e-6  # missed in sum that is rounding


@dataclass(frozen=True)
class Trials:
    """What came of single changes.

    Attributes
    ----------
    helpful : those worth making, the best first
    others : those that were tried and do not help enough, in words
    """

    helpful: tuple[SingleChange, ...]
    others: tuple[str, ...]


def single_changes(network: Network, found: Found, *, wanting: tuple[str, ...]) -> Trials:
    """Tries what may be changed, one thing at a time.

    Parameters
    ----------
    found : where the search ended with the plan as it stands
    wanting : branches that are short or over, those that bind most first
    """
    helpful, others = [], []
    dry = tuple(each.branch for each in found.dry)
    for text, plan in candidates(network, wanting, dry=dry):
        try:
            changed = search(network_of(plan), starts=ONE_START)
        except BalanceError:
            continue  # a change that makes no network helps nobody
        meets = tuple(name for name in found.unmet if name not in changed.unmet)
        loses = any(name not in found.unmet for name in changed.unmet)
        gain = found.missed - changed.missed
        if gain >= LEAST_GAIN * found.missed > 0.0 or (meets and not loses and gain >= 0.0):
            helpful.append(
                SingleChange(
                    text=text,
                    missed_before=found.missed,
                    missed=changed.missed,
                    meets=meets,
                    meets_all=not changed.unmet and changed.missed <= MET,
                )
            )
        else:
            others.append(text)
    for text, plan in lowered_targets(network, found):
        changed = search(network_of(plan), starts=ONE_START)
        if not changed.unmet:  # what is not asked for cannot be short: that alone is no help
            helpful.append(
                SingleChange(
                    text=text,
                    missed_before=found.missed,
                    missed=changed.missed,
                    meets=found.unmet,
                    meets_all=True,
                )
            )
    helpful.sort(key=lambda change: (not change.meets_all, round(change.missed, 6)))
    return Trials(tuple(helpful[:TOLD]), tuple(others))
