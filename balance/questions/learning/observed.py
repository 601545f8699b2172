"""From rows of a log to what was measured: logarithms of flows and powers, and levels."""

from __future__ import annotations

from collections.abc import Sequence
from math import hypot, log

from balance.errors import UsageError
from balance.network.arrays import Network
from balance.network.layout import gauge_joint
from balance.parts.families import with_power
from balance.plan.reading import Reading
from balance.questions.learning.experiment import (
    METER,
    MODEL_FLOW,
    NO_WATER,
    STANDPIPE,
    WATTS,
    Observation,
    bucket_observation,
)


def observations_of(network: Network, readings: Sequence[Reading]) -> tuple[Observation, ...]:
    """What rows of a log say, `stand` being the number of the row."""
    found: list[Observation] = []
    spread = network.plan.spread
    for number, reading in enumerate(readings):
        if reading.branch is not None:
            run = network.row_of[reading.branch]
            if reading.flow == 0.0:
                found.append(Observation("dry", number, run, 0.0, NO_WATER, line=reading.line))
            elif reading.flow is not None:
                found.append(
                    Observation(
                        "meter",
                        number,
                        run,
                        log(reading.flow),
                        hypot(METER, MODEL_FLOW),
                        line=reading.line,
                    )
                )
            elif reading.volume is not None and reading.seconds:
                found.append(
                    bucket_observation(
                        spread,
                        stand=number,
                        run=run,
                        volume=reading.volume,
                        seconds=reading.seconds,
                        line=reading.line,
                    )
                )
        if reading.head is not None and reading.at is not None:
            joint = gauge_joint(reading.at)
            run = next(row for row, laid in enumerate(network.layout.runs) if laid.end == joint)
            found.append(
                Observation(
                    "level",
                    number,
                    run,
                    reading.head,
                    hypot(STANDPIPE, spread.level),
                    joint=network.node_of[joint],
                    bore=network.layout.runs[run].stretch.bore_end or 1.0,
                    line=reading.line,
                )
            )
        if reading.watts is not None and reading.pump is not None:
            _refuse_unknown_watts(network, reading)
            found.append(
                Observation(
                    "watts",
                    number,
                    network.row_of[reading.pump],
                    log(reading.watts),
                    WATTS,
                    line=reading.line,
                )
            )
    return tuple(found)


def _refuse_unknown_watts(network: Network, reading: Reading) -> None:
    """Raises UsageError where the plan says nothing of the watts that were read."""
    machine = next(machine for machine in network.machines if machine.name == reading.pump)
    if not with_power(machine.curves):
        raise UsageError(
            f'line {reading.line}: watts of "{machine.name}" were read, but its curve says nothing '
            "of watts; add a column such as power_w to its file, or take these watts out"
        )
