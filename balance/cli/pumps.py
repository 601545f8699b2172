"""`balance pumps PLAN CURVE...` compares pumps on a plan."""

from __future__ import annotations

from collections.abc import Sequence
from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from balance.cli.changes import changed
from balance.cli.options import AsJson, InUnits, PlanFile, print_json, read_plan
from balance.cli.outcome import ANSWER, NOT_MET
from balance.cli.progress import counting
from balance.errors import QuantityError, UsageError
from balance.units import parse


class Rank(StrEnum):
    """What decides between pumps that do."""

    WATTS = "watts"
    MARGIN = "margin"
    COST = "cost"


class Arrange(StrEnum):
    """How pumps of a kind stand."""

    SINGLE = "single"
    PARALLEL = "parallel"
    SERIES = "series"
    BOTH_ENDS = "both ends"


Curves = Annotated[
    list[str] | None,
    typer.Argument(
        metavar="[CURVE]...",
        help="Pump curves: files, folders, patterns, and families measured at several speeds as "
        '"slow.csv@60%+fast.csv". Without any: the [[candidates]] of the plan.',
    ),
]
RankBy = Annotated[
    Rank,
    typer.Option(
        "--rank",
        help="What decides between pumps that do: watts, margin (most to spare) or cost (of "
        "purchase and the years' electricity).",
    ),
]
Speeds = Annotated[
    str | None,
    typer.Option(
        "--speeds",
        metavar="RANGE",
        help='Speeds that the pumps named here can be set to: "40 %..100 %", or "fixed". Without '
        "it: as the plan's own pump, or as [[candidates]] say.",
    ),
]
Fouling = Annotated[
    str,
    typer.Option(
        "--fouling",
        metavar="PERCENT",
        help="Rise of all losses at equal flow: what it takes of each pump's flow is told, and "
        "whether targets can still be met.",
    ),
]
Arrangements = Annotated[
    list[Arrange] | None,
    typer.Option(
        "--arrange",
        help="Try each pump like this: single, two in parallel, two in series, or one at each of "
        "both ends of the header. May be repeated to compare.",
    ),
]
Openings = Annotated[
    list[str] | None,
    typer.Option(
        "--set",
        metavar="VALVE=OPENING",
        help="A valve at another opening for the plumbing's curve, as --plot and --json have it: "
        '"carbon reactor=30 deg". May be repeated.',
    ),
]
Plot = Annotated[
    bool,
    typer.Option("--plot", help="Also draw the first few curves across that of the plumbing."),
]
Replaces = Annotated[
    str | None,
    typer.Option(
        "--replace",
        metavar="PUMP",
        help="The pump of the plan whose place they take. Without it: of all that run.",
    ),
]


def pumps(
    plan: PlanFile,
    curves: Curves = None,
    rank: RankBy = Rank.WATTS,
    speeds: Speeds = None,
    fouling: Fouling = "30 %",
    arrange: Arrangements = None,
    replace: Replaces = None,
    openings: Openings = None,
    plot: Plot = False,
    units: InUnits = None,
    json: AsJson = False,
) -> int:
    """Compare pumps, each at its own best valve settings and speed.

    Ends with 1 if none of them meets all targets.
    """
    from balance.plan.candidates import CandidatesRead, arranged_as, read_candidates
    from balance.questions.pumps import pumps as ask

    _refuse_ways_for_files(curves or ())
    asked = changed(read_plan(plan, units), openings=openings or (), speeds=())
    if curves:
        read = read_candidates(curves, plan=asked, speeds=speeds)
    else:
        read = CandidatesRead(asked.candidates)
    candidates = read.candidates
    if arrange:
        candidates = arranged_as(candidates, [way.value for way in arrange])
    with counting("pumps") as progress:
        answer = ask(
            asked,
            candidates,
            rank=rank.value,
            fouling=_fouling(fouling),
            replaces=replace,
            remarks=read.skipped,
            progress=progress,
        )
    if json:
        print_json(answer.to_dict())
    else:
        from balance.show.which_pump import show

        show(answer, with_plot=plot)
    return ANSWER if answer.any_meets else NOT_MET


def _refuse_ways_for_files(curves: Sequence[str]) -> None:
    for word in curves:
        if word in list(Arrange) and not Path(word).exists():
            raise UsageError(f'"{word}" is no file; write --arrange "{word}" to try that as well')


def _fouling(text: str) -> float:
    try:
        return parse(text, "percent")
    except QuantityError as error:
        raise UsageError(f'--fouling "{text}": {error}') from error
