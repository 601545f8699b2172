"""A person who does at a simulated system what each screen of a walk says."""

from __future__ import annotations

from balance.questions.tune import Advice
from balance.show import tune as show
from tests.walks.systems import LEAST_FLOW, System

LINES = show.lines  # as it is before a test puts a person's eyes in its place


class Person:
    """Does at a simulated system what each screen says, and reads it with a bucket."""

    def __init__(self, system: System) -> None:
        self.system = system
        self.step: Advice | None = None
        self.screens: list[tuple[str, ...]] = []

    def sees(self, step: Advice) -> tuple[str, ...]:
        """Remembers what a screen says."""
        self.step = step
        self.screens.append(LINES(step))
        return self.screens[-1]

    def types(self, prompt: str) -> str:
        """Answers a prompt."""
        if prompt.startswith("Enter to begin") or self.step is None:
            return ""
        step, system = self.step, self.system
        if step.kind == "speed":
            names = [machine.name for machine in system.network.machines]
            system.speeds[names.index(step.name)] = step.speed or 0.0
            return ""
        places = {valve.name: place for place, valve in enumerate(system.network.valves)}
        for turned in step.turned:
            turn = system.set if turned.by == "mark" else system.nudge
            turn(places[turned.valve], turned.to)
        if system.flow(step.branch) <= LEAST_FLOW:
            return "0"
        fills = system.fill(step.branch, step.volume or 1e-3, 3)
        return " ".join(f"{time:.1f}" for time in fills)
