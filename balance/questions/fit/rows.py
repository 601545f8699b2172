"""What was measured, beside what the plan makes of it before and after."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

import numpy as np

from balance.plan.openings import words_of
from balance.plan.reading import Reading
from balance.questions.fit.answer import ReadingRow
from balance.questions.learning.experiment import DOUBTFUL, TRICKLE, Observation
from balance.questions.learning.handles import Stand
from balance.questions.learning.learn import Learnt

_Quantity = Literal["flow", "level", "watts"]


def reading_rows(learnt: Learnt, readings: Sequence[Reading]) -> tuple[ReadingRow, ...]:
    """A row for each thing that was measured."""
    experiment = learnt.experiment
    zero = np.zeros(len(learnt.z))
    planned = experiment.values(zero, experiment.look(zero))
    fitted = experiment.values(learnt.z, experiment.look(learnt.z))
    by_line = {each.line: each for each in readings}
    found = []
    for number, each in enumerate(experiment.observations):
        what = _quantity(each)
        values = [each.value, float(planned[number]), float(fitted[number])]
        if each.kind == "dry":
            trickle = TRICKLE * float(learnt.unknowns.network.passive.area[each.run, 0])
            values = [trickle * value for value in values]
        elif what != "level":
            values = [float(np.exp(value)) for value in values]
        residual = float(learnt.regression.residuals[number])
        found.append(
            ReadingRow(
                line=each.line,
                of=_name(learnt, each, by_line[each.line]),
                kind=each.kind,
                handles=_handles(learnt, experiment.stands[each.stand]),
                **{
                    f"{end}{key}": values[place] if key == what else None
                    for key in ("flow", "level", "watts")
                    for place, end in enumerate(("", "planned_", "fitted_"))
                },
                off=residual,
                weight=float(learnt.regression.weights[number]),
                fits=abs(residual) <= DOUBTFUL,
            )
        )
    return tuple(found)


def _quantity(each: Observation) -> _Quantity:
    match each.kind:
        case "level":
            return "level"
        case "watts":
            return "watts"
        case _:
            return "flow"


def _name(learnt: Learnt, each: Observation, row: Reading) -> str:
    if each.kind == "level" and row.at is not None:
        return f"{row.at.stretch}, part {row.at.part + 1}"
    return learnt.unknowns.network.layout.runs[each.run].owner


def _handles(learnt: Learnt, stand: Stand) -> str:
    """Handles and pumps that did not stand as planned, in words."""
    network = learnt.unknowns.network
    words = [
        f"{valve.name} {words_of(opening, valve.part)}"
        for valve, opening in zip(network.valves, stand.openings, strict=True)
        if abs(opening - valve.part.open) > 1e-9
    ]
    words += [
        f"{machine.name} {100.0 * speed:.4g} %"
        for machine, speed in zip(network.machines, stand.speeds, strict=True)
        if abs(speed - machine.pump.speed) > 1e-9
    ]
    return ", ".join(words) or "as planned"
