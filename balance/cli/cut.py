"""`balance cut PLAN` says where to cut the pipe."""

from __future__ import annotations

from typing import Annotated

import typer

from balance.cli.options import AsCsv, AsJson, InUnits, PlanFile, printed_as_data, read_plan
from balance.cli.outcome import ANSWER, NOT_MET

DryFit = Annotated[
    bool,
    typer.Option(
        "--dry-fit",
        help="Print the sheet for putting it together: the order along each line, what to mark, "
        "which joints stay open to the last.",
    ),
]


def cut(
    plan: PlanFile,
    dry_fit: DryFit = False,
    units: InUnits = None,
    csv: AsCsv = False,
    json: AsJson = False,
) -> int:
    """Say where to cut: each piece of pipe, out of which length, and what holds it up.

    A piece is what is seen of it and what goes into a socket at each end. Ends with 1 if there is
    no room for one of them.
    """
    from balance.questions.cut import cut as ask

    answer = ask(read_plan(plan, units))
    if not printed_as_data(answer, csv=csv, json=json):
        if dry_fit:
            from balance.show.dry_fit import show
        else:
            from balance.show.cut import show
        show(answer)
    return ANSWER if answer.fits else NOT_MET
