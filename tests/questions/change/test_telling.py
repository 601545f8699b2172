"""The vessel by whose level a hand knows that it is enough: no mark is passed twice."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest

from balance.network.course import Course
from balance.questions.change import change
from balance.questions.change.lines import lines_of
from balance.questions.change.steps import Passage
from balance.questions.change.telling import READ, telling_vessel
from tests.questions.change.plans import RETURN, plan

LINED = plan(more=RETURN)


def told(**levels: Sequence[float]) -> str | None:
    """Who tells, where vessels take these levels [m] at even moments of a step."""
    rows = {name: levels.get(name, [vessel.level]) for name, vessel in LINED.vessels.items()}
    moments = max(map(len, rows.values()))
    level = np.array([row if len(row) == moments else [row[0]] * moments for row in rows.values()])
    time = np.linspace(0.0, 100.0, moments)
    nothing = np.zeros(moments)
    found = Course(
        time=time,
        vessels=tuple(rows),
        level=level,
        volume=level,
        outside=nothing,
        floor=nothing,
        flow={},
        spilt={},
        passed={},
        events=(),
        settled=100.0,
        at_rest=False,
    )
    step = Passage("drain", found, 0.0, 100.0, "way out", 0.05, 0.05, 0.0)
    return telling_vessel(LINED, lines_of(LINED), step)


@pytest.mark.parametrize(
    ("levels", "expected"),
    [
        ({"tank": [1.5, 1.4], "sump": [0.3, 0.25]}, "tank"),
        ({"tank": [1.5, 1.49], "sump": [0.3, 0.25]}, "sump"),
        # Falls below the mark and comes back to it from under it.
        ({"tank": [1.5, 1.48], "sump": [0.3, 0.2, 0.22, 0.24, 0.25]}, "tank"),
        # Passes the mark on its way up, and comes down to it.
        ({"tank": [1.5, 1.52], "sump": [0.3, 0.4, 0.36]}, "tank"),
        # Has stood at the mark for long.
        ({"tank": [1.5, 1.48], "sump": [0.3, 0.25, 0.25]}, "tank"),
        # Goes the other way first, which passes no mark.
        ({"sump": [0.3, 0.25, 0.4]}, "sump"),
        ({"tank": [1.5, 1.5 - 0.5 * READ]}, None),
        ({"barrel": [0.8, 0.6]}, None),  # the new water
    ],
)
def test_who_tells(levels: dict[str, list[float]], expected: str | None) -> None:
    widened = {
        name: np.interp(np.linspace(0.0, 1.0, 41), np.linspace(0.0, 1.0, len(row)), row).tolist()
        for name, row in levels.items()
    }
    assert told(**widened) == expected


def test_no_mark_is_passed_before_its_step_is_through() -> None:
    answer = change(LINED)
    for step in answer.steps[:2]:
        assert step.tells is not None
        trace = next(each for each in answer.traces if each.vessel == step.tells)
        time, level = np.array(answer.time), np.array(trace.level)
        inside = (time >= step.begins) & (time <= step.begins + step.lasts)
        over = np.sign(level[inside] - step.level(step.tells).level)[:-3]
        assert (over == over[0]).all()
