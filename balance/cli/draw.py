"""`balance draw PLAN -o FILE` draws the plumbing."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from balance.cli.options import InUnits, PlanFile, read_plan
from balance.cli.outcome import ANSWER
from balance.errors import UsageError

Out = Annotated[
    Path,
    typer.Option(
        "--out",
        "-o",
        metavar="FILE",
        help="The picture to write, in place of what a file of that name held: plumbing.svg, "
        ".png or .pdf.",
    ),
]
AtSettings = Annotated[
    bool,
    typer.Option("--settings", help="Draw handles where `balance settings` puts them."),
]


def draw(plan: PlanFile, out: Out, at_settings: AtSettings = False, units: InUnits = None) -> int:
    """Draw the plumbing: vessels at their heights, handles, and what flows.

    With handles and pumps as they stand.
    """
    from balance.plan.whole import write_over
    from balance.questions.flows import flows
    from balance.show.pictures.canvas import FORMATS
    from balance.show.pictures.plumbing import plumbing

    kind = out.suffix.removeprefix(".").casefold()
    if kind not in FORMATS:
        raise UsageError(f"{out}: a picture is an .svg, a .png or a .pdf; end its name so")
    drawn = read_plan(plan, units)
    if at_settings:
        from balance.questions.settings import settings

        drawn = settings(drawn).plan
    drained = None
    if any(drain.role != "change" for drain in drawn.drains):
        from balance.questions.drains import drains

        drained = drains(drawn)
    picture = plumbing(flows(drawn), drained)
    write_over(out, picture.as_file(kind))
    where = "where `balance settings` puts them" if at_settings else "as they stand"
    print(f"{out} is written: the plumbing with its handles {where}.")
    return ANSWER
