"""By the product: its steps, taken by a hand that is off."""

from __future__ import annotations

from dataclasses import dataclass, field

from balance.errors import NoSolutionError
from balance.plan.reading import Turned
from balance.questions.tune.steps import Step, next_step
from balance.questions.tune.view import View, view_of
from tests.walks.methods.keeper import Keeper, SpentError


@dataclass
class Log:
    """What was done, for who wants to see it: steps, with moves and readings before each."""

    steps: list[tuple[Step, int, int]] = field(default_factory=list)


def ours(keeper: Keeper, log: Log | None = None) -> tuple[Step, View]:
    """Follows the steps of the product to its end, or to that of what may be done."""
    start = tuple(
        Turned(valve.name, "mark", float(mark))
        for valve, mark in zip(keeper.network.valves, keeper.system.marks, strict=True)
        if valve.part.open != mark
    )
    # Its first steps are to read every branch once, in the plan's order, whatever is read.
    readings = [
        keeper.read(wish.branch, () if number else start)
        for number, wish in enumerate(keeper.wishes)
    ]
    view: View | None = None
    while True:
        try:
            view = view_of(
                keeper.network, readings, speeds=keeper.system.speeds.tolist(), near=view
            )
        except NoSolutionError:
            if view is None:
                raise
            return Step("stuck"), view  # the readings contradict the plan: the walk ends here
        step = next_step(view)
        if log is not None:
            log.steps.append((step, keeper.moves, keeper.readings))
        try:
            match step.kind:
                case "done" | "stuck":
                    return step, view
                case "read" | "read again" | "odd":
                    readings.append(keeper.read(step.name))
                case "speed":
                    keeper.set_speed(step.place, step.to)
                case "move" | "nudge":
                    if keeper.readings_left == 0:
                        return step, view
                    if step.kind == "move":
                        keeper.set(step.place, step.to)
                        turned = Turned(step.name, "mark", step.to)
                    else:
                        keeper.nudge(step.place, step.to)
                        turned = Turned(step.name, "nudge", step.to)
                    branch = keeper.network.valves[step.place].stretch
                    readings.append(keeper.read(branch, (turned,)))
        except SpentError:
            return step, view
