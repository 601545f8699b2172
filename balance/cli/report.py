"""`balance report PLAN` writes all answers on one page, with pictures, to read and to print."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from balance.cli.options import InUnits, PlanFile, read_plan
from balance.cli.outcome import ANSWER
from balance.errors import UsageError

ReadingsFile = Annotated[
    Path | None,
    typer.Argument(
        metavar="READINGS",
        help="A CSV file of what was measured, to which the plan is fitted first.",
        show_default=False,
    ),
]
KeepGoing = Annotated[
    bool, typer.Option("--keep-going", help="Leave out rows of READINGS with faults.")
]
Out = Annotated[
    Path | None,
    typer.Option(
        "-o",
        "--out",
        metavar="FILE",
        help="The page, a file that ends in .html; an older one of that name is replaced. Without "
        "it: PLAN-report.html in the folder where you are.",
    ),
]
_ENDINGS = (".html", ".htm")


def report(
    plan: PlanFile,
    readings: ReadingsFile = None,
    out: Out = None,
    keep_going: KeepGoing = False,
    units: InUnits = None,
) -> int:
    """Write a page of all answers, with pictures and cards for the valves, to read and to print.

    One file that needs no network. Ends with 0 once it is written, whatever it has to say.
    """
    from balance.plan.fitted import fitted_text
    from balance.plan.read import text_of
    from balance.plan.readings import read_readings
    from balance.plan.whole import write_over
    from balance.questions.survey import survey
    from balance.show.report import wording
    from balance.show.report.page import page

    to = Path(f"{plan.stem}-report.html") if out is None else out
    if to.suffix.lower() not in _ENDINGS:
        raise UsageError(
            f'"{to}" is no name for a page; write a name such as {plan.stem}.html, and print it to '
            "PDF from a browser where you want that"
        )
    read = read_plan(plan, units)
    measured = None if readings is None else read_readings(readings, read, keep_going=keep_going)
    made_from = wording.READ_FROM.format(plan.name)
    if readings is not None:
        made_from = wording.AND_READINGS.format(plan.name, readings.name)
    found, text = survey(read, readings=measured), text_of(plan)
    if found.fit is not None:
        text = fitted_text(text, found.fit.learnt, read)
    write_over(to, page(found, plan_text=text, made_from=made_from))
    print(f"{to} is written. Open it in a browser; print it from there, valve cards and all.")
    return ANSWER
