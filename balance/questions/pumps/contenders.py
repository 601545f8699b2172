"""The plan with each candidate in place of its own pump."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from balance.errors import UsageError
from balance.plan.candidates import same_curves
from balance.plan.model import Arrangement, Candidate, Plan
from balance.questions.pumps.arrangements import arranged, replaced_pumps


@dataclass(frozen=True)
class Contender:
    """A candidate as it stands on the plan.

    Attributes
    ----------
    name : of the candidate
    arrangement : how its pumps stand
    plan : with it in place
    pumps : names of its pumps there
    as_planned : it is what the plan has
    """

    name: str
    arrangement: Arrangement
    plan: Plan
    pumps: tuple[str, ...]
    as_planned: bool

    @property
    def price(self) -> float | None:
        """Of purchase, of all its pumps; None where one is not given."""
        prices = [self.plan.pumps[name].price for name in self.pumps]
        known = [price for price in prices if price is not None]
        return sum(known) if known and len(known) == len(prices) else None


def contenders_of(
    plan: Plan, candidates: Sequence[Candidate], *, replaces: str | None
) -> tuple[tuple[Contender, ...], tuple[str, ...]]:
    """The plan's own pumps as they are, then each candidate in their place.

    Parameters
    ----------
    replaces : name of the pump whose place they take; None: of all that run

    Returns
    -------
    The contenders, and in words those for which the plumbing has no place.  Raises UsageError where
    it has one for none of them.
    """
    own = replaced_pumps(plan, replaces)
    together = " and ".join(own)
    found = [Contender(name=together, arrangement="single", plan=plan, pumps=own, as_planned=True)]
    misfits: list[tuple[str, UsageError]] = []
    for candidate in candidates:
        if _is_there(plan, own, candidate):
            continue
        name = _new_name(_name(candidate), {each.name.casefold() for each in found})
        try:
            there = arranged(plan, candidate, replaces=own)
        except UsageError as error:
            misfits.append((name, error))
            continue
        found.append(
            Contender(
                name=name,
                arrangement=candidate.arrangement,
                plan=there.plan,
                pumps=there.pumps,
                as_planned=False,
            )
        )
    if misfits and len(found) == 1:
        raise misfits[0][1]
    return tuple(found), tuple(f"{name} is left out: {error}" for name, error in misfits)


def _is_there(plan: Plan, own: tuple[str, ...], candidate: Candidate) -> bool:
    """Whether the plan has the candidate already."""
    return candidate.arrangement == "single" and all(
        same_curves(pump.curve, candidate.curve) and pump.speed_range == candidate.speed_range
        for pump in (plan.pumps[name] for name in own)
    )


def _name(candidate: Candidate) -> str:
    """What a candidate is called, with how it is arranged."""
    if candidate.arrangement == "single":
        return candidate.label
    how = {"parallel": "parallel", "series": "series", "both ends": "ends"}
    return f"{candidate.label} x2 {how[candidate.arrangement]}"


def _new_name(name: str, taken: set[str]) -> str:
    """The name, or the same with a number that tells it from those taken."""
    found, count = name, 1
    while found.casefold() in taken:
        count += 1
        found = f"{name} ({count})"
    return found
