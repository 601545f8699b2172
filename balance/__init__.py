"""Where each valve handle goes, so that every branch of a pumped manifold gets its flow.

    plan = balance.read("lagoon.toml")
    answer = balance.settings(plan)

The names below are looked up when they are first used: importing the package loads nothing heavy.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from balance.errors import (
        BalanceError,
        Fault,
        NoSolutionError,
        PlanError,
        QuantityError,
        SolveError,
        UnknownNameError,
        UsageError,
    )
    from balance.plan.model import Plan
    from balance.plan.read import read
    from balance.plan.readings import read_readings
    from balance.questions.buy import buy
    from balance.questions.catalogue import catalogue
    from balance.questions.change import change
    from balance.questions.close import close
    from balance.questions.close.isolation import isolate
    from balance.questions.cut import cut
    from balance.questions.drains import drains
    from balance.questions.duty_points import duty_points
    from balance.questions.fit import fit
    from balance.questions.flows import flows
    from balance.questions.outage import outage
    from balance.questions.pumps import pumps
    from balance.questions.settings import settings
    from balance.questions.spread import spread
    from balance.questions.survey import survey
    from balance.questions.travel import travel
    from balance.questions.tune import tune

__all__ = [
    "BalanceError",
    "Fault",
    "NoSolutionError",
    "Plan",
    "PlanError",
    "QuantityError",
    "SolveError",
    "UnknownNameError",
    "UsageError",
    "buy",
    "catalogue",
    "change",
    "close",
    "cut",
    "drains",
    "duty_points",
    "fit",
    "flows",
    "isolate",
    "outage",
    "pumps",
    "read",
    "read_readings",
    "settings",
    "spread",
    "survey",
    "travel",
    "tune",
]

_HOMES = {
    "Plan": "balance.plan.model",
    "read": "balance.plan.read",
    "read_readings": "balance.plan.readings",
    "buy": "balance.questions.buy",
    "catalogue": "balance.questions.catalogue",
    "change": "balance.questions.change",
    "close": "balance.questions.close",
    "cut": "balance.questions.cut",
    "drains": "balance.questions.drains",
    "duty_points": "balance.questions.duty_points",
    "fit": "balance.questions.fit",
    "flows": "balance.questions.flows",
    "isolate": "balance.questions.close.isolation",
    "outage": "balance.questions.outage",
    "pumps": "balance.questions.pumps",
    "settings": "balance.questions.settings",
    "spread": "balance.questions.spread",
    "survey": "balance.questions.survey",
    "travel": "balance.questions.travel",
    "tune": "balance.questions.tune",
}


def __getattr__(name: str) -> object:
    """Fetch a public name from its module on first use."""
    if name not in __all__:
        message = f"module {__name__!r} has no attribute {name!r}"
        raise AttributeError(message)
    value: object = getattr(import_module(_HOMES.get(name, "balance.errors")), name)
    globals()[name] = value  # the next look-up finds it at once
    return value


def __dir__() -> list[str]:
    return sorted([*globals(), *__all__])
