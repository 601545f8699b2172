"""`balance settings PLAN` says where each handle goes."""

from __future__ import annotations

from typing import Annotated

import typer

from balance.cli.options import AsJson, InUnits, PlanFile, print_json, read_plan
from balance.cli.outcome import ANSWER, NOT_MET

Marks = Annotated[
    str | None,
    typer.Option(
        "--marks",
        metavar="STEP",
        help='Round handles to these marks: "5 deg", "1/4 turn", "2 %", joined by commas. '
        "Without it: 1 deg, 1/8 turn, 1 %.",
    ),
]
Volume = Annotated[
    str | None,
    typer.Option(
        "--volume",
        metavar="VOLUME",
        help='Time the flows with this bucket: "1 gal". '
        "Without it: the least usual one that takes 10 s.",
    ),
]


def settings(
    plan: PlanFile,
    marks: Marks = None,
    volume: Volume = None,
    units: InUnits = None,
    json: AsJson = False,
) -> int:
    """Say where each handle goes for the flows wanted.

    Ends with 1 if the targets cannot all be met; says then how short each falls, and what would
    help.
    """
    from balance.questions.settings import settings as ask

    answer = ask(read_plan(plan, units), marks=marks, bucket=volume)
    if json:
        print_json(answer.to_dict())
    else:
        from balance.show.settings import show

        show(answer)
    return ANSWER if answer.met else NOT_MET
