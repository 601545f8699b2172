"""The steps of a change, each a simulation that begins where the last has ended."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from balance.network.course import Course, Stop, course
from balance.plan.model import Plan
from balance.questions.change.answer import StepKind
from balance.questions.change.lines import Lines, full_drains

Floats = NDArray[np.float64]
Order = Literal["drain first", "fill first", "together"]

DAY = 86400.0  # [s], and nobody waits longer for a change; our own choice
SETTLED = 4 * 3600.0  # [s], given to levels to become steady; our own choice
HAIR = 1e-6  # of a volume, by which none is missing


@dataclass(frozen=True)
class Passage:
    """One step: what happened in it, from when on and for how long [s].

    Attributes
    ----------
    stretch : drain or pump whose volume ends it; empty where it only waits
    asked, taken, brought : of that volume, and what moved [m³]
    """

    kind: StepKind
    course: Course
    begins: float
    lasts: float
    stretch: str
    asked: float
    taken: float
    brought: float

    @property
    def ended(self) -> bool:
        """It did what it was to do."""
        return not self.stretch or any(event.kind == "enough" for event in self.course.events)


@dataclass
class Changing:
    """A change under way.

    Attributes
    ----------
    plan : with its lines ready, as its pumps run
    at_rest : the same with the system's own pumps stopped; None where they go on
    levels : as they stand now [m]
    now : [s]
    passages : what has been done
    """

    plan: Plan
    at_rest: Plan | None
    lines: Lines
    levels: Mapping[str, float]
    now: float = 0.0
    passages: list[Passage] = field(default_factory=list)

    def carry_out(self, volume: float, order: Order) -> None:
        """All steps, for a volume to be taken and brought."""
        if self.at_rest is not None:
            self._wait("pumps off", self.at_rest)
        drain, pump = self.lines.drain, self.lines.pump
        if drain is None or pump is None:
            self._move("fill" if drain is None else "drain", volume)
        elif order == "together":
            self._both(volume)
        else:
            first: StepKind = "drain" if order == "drain first" else "fill"
            moved = self._move(first, volume)
            # What could not be moved by the one is not to be moved by the other.
            self._move("fill" if first == "drain" else "drain", moved)
        self._wait("rest" if self.at_rest is None else "pumps on", self.plan)

    def _wait(self, kind: StepKind, plan: Plan) -> None:
        """Until all levels are steady."""
        if flows_by_itself(plan):
            self._note(kind, course(plan, start=self.levels, until=SETTLED))

    def _move(self, kind: StepKind, volume: float) -> float:
        """Takes or brings a volume; gives what of it could be [m³]."""
        if volume <= 0.0:
            return 0.0
        drains = kind == "drain"
        name = str(self.lines.drain if drains else self.lines.pump)
        opened = self.lines.out if drains else self.lines.new
        found = self._run(opened, Stop(name, volume))
        self._note(kind, found, Stop(name, volume))
        return found.passed[name]

    def _both(self, volume: float) -> None:
        """Takes and brings a volume at once, until one of them is through; then the other."""
        drain, pump = str(self.lines.drain), str(self.lines.pump)
        opened = (*self.lines.out, *self.lines.new)
        stop = Stop(drain, volume)
        found = self._run(opened, stop)
        if found.passed[pump] > volume * (1.0 + HAIR):
            stop = Stop(pump, volume)
            found = self._run(opened, stop)
        self._note("together", found, stop)
        for kind, name in (("drain", drain), ("fill", pump)):
            left = volume - found.passed[name]
            if left > HAIR * volume:
                self._move("drain" if kind == "drain" else "fill", left)

    def _run(self, opened: Collection[str], stop: Stop) -> Course:
        names = (self.lines.drain, self.lines.pump)
        return course(
            self.plan if self.at_rest is None else self.at_rest,
            start=self.levels,
            until=DAY,
            opened=opened,
            primed=full_drains(self.plan, opened),
            metered=[name for name in names if name is not None and name in opened],
            stop=stop,
        )

    def _note(self, kind: StepKind, found: Course, stop: Stop | None = None) -> None:
        through = any(event.kind == "enough" for event in found.events)
        passage = Passage(
            kind,
            found,
            self.now,
            lasts=float(found.time[-1]) if through else found.settled,
            stretch="" if stop is None else stop.stretch,
            asked=0.0 if stop is None else stop.volume,
            taken=found.passed.get(self.lines.drain or "", 0.0),
            brought=found.passed.get(self.lines.pump or "", 0.0),
        )
        self.passages.append(passage)
        self.levels = found.last
        self.now += passage.lasts


def flows_by_itself(plan: Plan) -> bool:
    """Whether anything is open but for changes."""
    uses = [each.use for each in plan.pumps.values()] + [run.use for run in plan.runs]
    return (
        "always" in uses
        or any(drain.role != "change" for drain in plan.drains)
        or bool(plan.branches)
    )


def pumps_stopped(plan: Plan) -> Plan:
    """The plan with the system's own pumps at rest."""
    own = {name: 0.0 for name, pump in plan.pumps.items() if pump.use != "change"}
    return plan.with_speed(own)
