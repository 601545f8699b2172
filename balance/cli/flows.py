"""`balance flows PLAN` says what flows with the handles as they stand."""

from __future__ import annotations

from typing import Annotated

import typer

from balance.cli.changes import changed
from balance.cli.options import AsJson, InUnits, PlanFile, print_json, read_plan
from balance.cli.outcome import ANSWER, NOT_MET

Openings = Annotated[
    list[str] | None,
    typer.Option(
        "--set",
        metavar="VALVE=OPENING",
        help='Try a valve at another opening: "carbon reactor=30 deg". May be repeated.',
    ),
]
Speeds = Annotated[
    list[str] | None,
    typer.Option(
        "--speed",
        metavar="[PUMP=]SPEED",
        help='Try a pump at another speed: "70 %" or "main=70 %". May be repeated.',
    ),
]


def flows(
    plan: PlanFile,
    openings: Openings = None,
    speeds: Speeds = None,
    units: InUnits = None,
    json: AsJson = False,
) -> int:
    """Say what flows with the handles as they stand.

    Or with some of them set otherwise, to try it; the file is not changed. Ends with 1 if a water
    column would break, so that these flows are not to be believed.
    """
    from balance.questions.flows import flows as ask

    tried = changed(read_plan(plan, units), openings=openings or (), speeds=speeds or ())
    answer = ask(tried)
    if json:
        print_json(answer.to_dict())
    else:
        from balance.show.flows import show

        show(answer)
    return ANSWER if answer.believable else NOT_MET
