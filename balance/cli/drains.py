"""`balance drains PLAN` says what the drains carry, and which blockage floods what."""

from __future__ import annotations

from typing import Annotated

import typer

from balance.cli.changes import changed
from balance.cli.flows import Openings, Speeds
from balance.cli.options import AsJson, InUnits, PlanFile, print_json, read_plan
from balance.cli.outcome import ANSWER, NOT_MET

OneVessel = Annotated[
    str | None,
    typer.Option(
        "--vessel", metavar="NAME", help="Look at this vessel; left out: all with drains."
    ),
]


def drains(
    plan: PlanFile,
    vessel: OneVessel = None,
    openings: Openings = None,
    speeds: Speeds = None,
    units: InUnits = None,
    json: AsJson = False,
) -> int:
    """Say where the water stands in each overflow, how its gate is set, and what floods.

    Every drain is blocked in turn, and every two. The file is not changed. Ends with 1 if a single
    blockage floods something, or drains carry less than may come.
    """
    from balance.questions.drains import drains as ask
    from balance.questions.drains import followed

    tried = changed(read_plan(plan, units), openings=openings or (), speeds=speeds or ())
    answer = followed(ask(tried, vessel=vessel))
    if json:
        print_json(answer.to_dict())
    else:
        from balance.show.drains import show

        show(answer)
    return ANSWER if answer.safe else NOT_MET
