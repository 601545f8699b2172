"""`balance spread PLAN` says how sure all this is."""

from __future__ import annotations

from typing import Annotated

import typer

from balance.cli.clogs import Clogs, clogs_of_words
from balance.cli.options import (
    AsJson,
    FromSettings,
    InUnits,
    PlanFile,
    print_json,
    read_plan,
)
from balance.cli.outcome import ANSWER
from balance.cli.progress import counting
from balance.cli.tune import KeepGoing, ReadingsFile

Systems = Annotated[
    int,
    typer.Option(
        "--systems",
        metavar="N",
        help="How many systems to draw at random: 100 to 1000000.",
    ),
]
Seed = Annotated[
    int,
    typer.Option(
        "--seed", metavar="N", help="Of the random numbers: the same seed, the same answer."
    ),
]


def spread(
    plan: PlanFile,
    readings: ReadingsFile = None,
    from_settings: FromSettings = False,
    clog: Clogs = None,
    systems: Systems = 100_000,
    seed: Seed = 1,
    keep_going: KeepGoing = False,
    units: InUnits = None,
    json: AsJson = False,
) -> int:
    """Say how sure the flows are: bands, chances to meet targets, and what matters most.

    Many systems are drawn as the plan's may really be, each with its own valves, pump, hoses and
    levels, and solved. How large each doubt is stands in [spread] of the plan. With readings, or
    for a plan that was fitted to some, before and after them.
    """
    from balance.questions.spread import spread as ask

    read = read_plan(plan, units)
    log = None
    if readings is not None:
        from balance.plan.readings import read_readings

        log = read_readings(readings, read, keep_going=keep_going)
    with counting("systems") as progress:
        answer = ask(
            read,
            systems=systems,
            seed=seed,
            clogged=dict(clogs_of_words(clog or ())),
            from_settings=from_settings,
            readings=log,
            progress=progress,
        )
    if json:
        print_json(answer.to_dict())
    else:
        from balance.show.spread import show

        show(answer)
    return ANSWER
