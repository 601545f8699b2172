"""What a fit learnt, as the table that a plan can hold."""

from __future__ import annotations

import numpy as np

from balance.plan.learnt import LEAST, MOST, LearntNumber
from balance.plan.learnt import Learnt as LearntTable
from balance.questions.learning.learn import Learnt

TOLD = 0.98
"""Of what was in doubt beforehand, that may be left of a number that readings told something of;
our own choice."""


def told(learnt: Learnt) -> tuple[int, ...]:
    """Rows of the unknowns that readings told something of, errors of handles left out."""
    before = np.sqrt(np.diag(learnt.unknowns.covariance))
    after = np.sqrt(np.diag(learnt.covariance))
    return tuple(
        row
        for row, each in enumerate(learnt.unknowns.all)
        if each.of != "handle" and after[row] <= TOLD * before[row]
    )


def table_of(learnt: Learnt, *, readings: str | None) -> LearntTable:
    """The table of what was learnt.

    Factors stand for their logarithms, so a standard deviation is that of the logarithm times the
    factor.
    """
    rows = told(learnt)
    covariance = learnt.covariance
    sd = np.sqrt(np.diag(covariance))
    numbers = []
    for count, row in enumerate(rows):
        each = learnt.unknowns.all[row]
        if each.of == "handle":
            continue
        is_factor = each.of != "offset"
        value = float(learnt.z[row])
        if is_factor:
            # What lies beyond what a plan takes is as far as it goes.
            value = float(np.clip(np.exp(value), LEAST, MOST))
        numbers.append(
            LearntNumber.model_construct(
                of=each.of,
                name=each.name or None,
                value=value,
                sure=float(sd[row]) * (value if is_factor else 1.0),
                with_=tuple(
                    float(np.clip(covariance[row, other] / (sd[row] * sd[other]), -1.0, 1.0))
                    for other in rows[:count]
                ),
            )
        )
    return LearntTable.model_construct(readings=readings, numbers=tuple(numbers))
