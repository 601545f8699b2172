"""The vessel by whose level a hand knows when a step is through."""

from __future__ import annotations

import numpy as np

from balance.plan.model import Plan
from balance.questions.change.levels import finite
from balance.questions.change.lines import Lines, stretch_of
from balance.questions.change.steps import Passage

READ = 1e-3
"""Height [m] that a tape at a glass still tells; our own choice."""
LATE = 0.9
"""Share of a step before which a level may not be at its mark; our own choice."""


def telling_vessel(plan: Plan, lines: Lines, passage: Passage) -> str | None:
    """The one that moves most, of those that come to their mark only when it is enough.

    None where no level tells: all of them have passed their mark before, or stand still at it.
    The new water's own vessel, and one that takes the old, tell nothing of the system.
    """
    apart = {lines.source, *(stretch_of(plan, name).to for name in lines.out)}
    moves = {
        name: _moved(passage, name)
        for name in finite(plan)
        if name not in apart and _comes_late(passage, name)
    }
    return max(moves, key=moves.__getitem__, default=None)


def _moved(passage: Passage, vessel: str) -> float:
    level = passage.course.level_of(vessel)
    return abs(_mark(passage, vessel) - float(level[0]))


def _mark(passage: Passage, vessel: str) -> float:
    """Level at the end of a step [m]."""
    found = passage.course
    return float(np.interp(passage.lasts, found.time, found.level_of(vessel)))


def _comes_late(passage: Passage, vessel: str) -> bool:
    """Whether a level stays clear of its mark, on the side it began on, until late in the step."""
    found = passage.course
    level, mark = found.level_of(vessel), _mark(passage, vessel)
    late = LATE * passage.lasts
    before = np.append(level[found.time < late], np.interp(late, found.time, level))
    way = np.sign(mark - level[0])
    return bool((way * (mark - before) > READ).all())
