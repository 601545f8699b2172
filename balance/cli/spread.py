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
    from_settings: FromSettings = False,
    clog: Clogs = None,
    systems: Systems = 100_000,
    seed: Seed = 1,
    units: InUnits = None,
    json: AsJson = False,
) -> int:
    """Say how sure the flows are: bands, chances to meet targets, and what matters most.

    Many systems are drawn as the plan's may really be, each with its own valves, pump, hoses and
    levels, and solved. How large each doubt is stands in [spread] of the plan.
    """
    from balance.questions.spread import spread as ask

    read = read_plan(plan, units)
    with counting("systems") as progress:
        answer = ask(
            read,
            systems=systems,
            seed=seed,
            clogged=dict(clogs_of_words(clog or ())),
            from_settings=from_settings,
            progress=progress,
        )
    if json:
        print_json(answer.to_dict())
    else:
        from balance.show.spread import show

        show(answer)
    return ANSWER
