"""`balance outage PLAN` says what happens when the power fails, and when it comes back."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Annotated

import typer

from balance.cli.changes import changed, each
from balance.cli.flows import Openings, Speeds
from balance.cli.options import AsJson, InUnits, PlanFile, print_json, read_plan
from balance.cli.outcome import ANSWER, NOT_MET
from balance.cli.progress import counting
from balance.errors import QuantityError, UsageError
from balance.units import parse

Levels = Annotated[
    list[str] | None,
    typer.Option(
        "--level",
        metavar="VESSEL=HEIGHT",
        help='Begin with a vessel at another level: "sump=13 in", counted from the plan\'s datum. '
        "May be repeated.",
    ),
]


def outage(
    plan: PlanFile,
    levels: Levels = None,
    openings: Openings = None,
    speeds: Speeds = None,
    units: InUnits = None,
    json: AsJson = False,
) -> int:
    """Say how high the sump rises when the power fails, and how low it falls afterwards.

    With every combination of check valves that hold or fail; it counts on none. The file is not
    changed. Ends with 1 if water spills, or if a pump draws air when the power comes back.
    """
    from balance.questions.outage import outage as ask

    tried = changed(read_plan(plan, units), openings=openings or (), speeds=speeds or ())
    start = dict(_levels(levels or ()))
    with counting("cases") as told:
        answer = ask(tried, levels=start, told=told)
    if json:
        print_json(answer.to_dict())
    else:
        from balance.show.outage import show

        show(answer)
    return ANSWER if answer.safe else NOT_MET


def _levels(words: Iterable[str]) -> Iterator[tuple[str, float]]:
    for word in each(words):
        name, equals, text = word.partition("=")
        if not equals or not name.strip() or not text.strip():
            raise UsageError(
                f'--level "{word}" is not a vessel and its level; write --level "sump=13 in"'
            )
        try:
            yield name.strip(), parse(text.strip(), "length")
        except QuantityError as error:
            raise UsageError(f'--level "{word}": {error}') from error
