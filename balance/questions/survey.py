"""Every question that a plan can be asked, in one go, on as many cores as there are.

All but the shopping and the check are asked of the plan with its handles at the marks which
`settings` finds: so stands what a person will have built and set.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from importlib import import_module
from typing import TYPE_CHECKING, Any

from balance.errors import BalanceError
from balance.plan.model import Plan
from balance.plan.reading import Readings
from balance.questions.cores import on_all_cores
from balance.questions.record import Record

if TYPE_CHECKING:
    from balance.questions.buy import Buy
    from balance.questions.check import Check
    from balance.questions.close import Close
    from balance.questions.cut import Cut
    from balance.questions.drains import Drains
    from balance.questions.duty_points import DutyPoints
    from balance.questions.fit import Fit
    from balance.questions.flows import Flows
    from balance.questions.outage import Outage
    from balance.questions.pumps import Pumps
    from balance.questions.settings import Settings
    from balance.questions.spread import Spread
    from balance.questions.travel import Travel

SYSTEMS = 10_000
"""Drawn at random for bands of flow, whose ends it tells to about 2 %; our own choice."""


_LONGEST_LAST = (
    "drains", "spread", "pumps", "close", "cut", "buy", "travel", "duty_points", "check", "flows",
    "outage",
)  # fmt: skip
_AS_WRITTEN = frozenset({"check", "buy", "cut", "pumps"})  # marks make no difference, or mislead
_HOW = {"spread": {"systems": SYSTEMS}}


@dataclass(frozen=True, kw_only=True)
class Unanswered(Record):
    """A question that this plan has no answer to.

    Attributes
    ----------
    question : name of its command
    reason : in words
    """

    question: str
    reason: str


@dataclass(frozen=True, kw_only=True)
class Survey(Record):
    """All answers; None where a plan has none.

    Attributes
    ----------
    title : of the plan
    check : what the plan describes, as it was written
    fit : what readings told; None without readings
    settings : where each handle goes
    flows, duty_points, travel, close, drains, outage, spread : with the handles there
    pumps : the pumps that are compared; None where the plan names no other
    buy, cut : what to buy, and where to cut it
    unanswered : the questions that have no answer, and why
    plan : with its handles at the marks; as written where there are none
    """

    title: str
    check: Check | None
    fit: Fit | None
    settings: Settings | None
    flows: Flows | None
    duty_points: DutyPoints | None
    travel: Travel | None
    close: Close | None
    drains: Drains | None
    outage: Outage | None
    spread: Spread | None
    pumps: Pumps | None
    buy: Buy | None
    cut: Cut | None
    unanswered: tuple[Unanswered, ...]
    plan: Plan = field(metadata={"private": True})

    def to_dict(self) -> dict[str, Any]:
        """Plain values: each answer as its own question gives it."""
        answers = {
            name: None if (answer := getattr(self, name)) is None else answer.to_dict()
            for name in ("fit", "settings", *_LONGEST_LAST)
        }
        return {
            "title": self.title,
            **answers,
            "unanswered": [each.to_dict() for each in self.unanswered],
        }


def survey(plan: Plan, *, readings: Readings | None = None) -> Survey:
    """Ask a plan every question.

    Parameters
    ----------
    plan : as read; it is not changed
    readings : of the real plumbing, to which the plan is fitted first

    A question without an answer stands in `Survey.unanswered` with the reason: the others are
    answered all the same.
    """
    first: dict[str, Any] = {}
    if readings is not None:
        first["fit"] = learnt = _asked("fit", plan, readings)
        if not isinstance(learnt, Unanswered):
            plan = learnt.plan.model_copy(update={"learnt": learnt.learnt})
    first["settings"] = _asked("settings", plan)
    found = first["settings"]
    at_marks = plan if isinstance(found, Unanswered) else found.plan
    plans = {name: plan if name in _AS_WRITTEN else at_marks for name in _LONGEST_LAST}
    if not plan.candidates:
        del plans["pumps"]
    found_at_once = on_all_cores(_asked_of, list(plans.items()))
    answers = first | dict(zip(plans, found_at_once, strict=True))
    return Survey(
        title=plan.title,
        **{
            name: None if isinstance(answer := answers.get(name), Unanswered) else answer
            for name in ("fit", "settings", *_LONGEST_LAST)
        },
        unanswered=tuple(each for each in answers.values() if isinstance(each, Unanswered)),
        plan=at_marks,
    )


def _asked_of(job: tuple[str, Plan]) -> Any:  # noqa: ANN401  # each has its own answer
    return _asked(*job)


def _asked(name: str, plan: Plan, *more: object) -> Any:  # noqa: ANN401  # each has its own answer
    """Ask one question, each of which stands in a module of its name."""
    ask = getattr(import_module(f"balance.questions.{name}"), name)
    try:
        return ask(plan, *more, **_HOW.get(name, {}))
    except BalanceError as error:
        return Unanswered(question=name, reason=str(error))
