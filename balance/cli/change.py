"""`balance change PLAN` says how long a water change takes, and what may go wrong with it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from enum import StrEnum
from typing import Annotated

import typer

from balance.cli.changes import changed, each, openings_of
from balance.cli.flows import Openings, Speeds
from balance.cli.options import AsJson, InUnits, PlanFile, print_json, read_plan
from balance.cli.outcome import ANSWER, NOT_MET
from balance.cli.progress import counting
from balance.errors import QuantityError, UsageError
from balance.units import parse


class Order(StrEnum):
    """Which goes first."""

    DRAIN = "drain first"
    FILL = "fill first"
    BOTH = "together"


Volume = Annotated[
    str | None,
    typer.Option("--volume", metavar="VOLUME", help='Water to change: "30 gal", "100 L".'),
]
SalinityOf = Annotated[
    str | None,
    typer.Option("--salinity", metavar="SALINITY", help='Of the new water: "35 g/kg", "1.026 sg".'),
]
Ordered = Annotated[Order | None, typer.Option("--order", help="Which goes first.")]
Running = Annotated[
    bool | None,
    typer.Option("--running/--stopped", help="The system's own pumps go on, or rest meanwhile."),
]
Stuck = Annotated[
    list[str] | None,
    typer.Option(
        "--stuck",
        metavar="TIME",
        help='What passes in this time if a valve does not shut: "10 min". May be repeated; '
        "without it: 5, 10, 30 and 60 min.",
    ),
]


def change(
    plan: PlanFile,
    volume: Volume = None,
    salinity: SalinityOf = None,
    order: Ordered = None,
    running: Running = None,
    stuck: Stuck = None,
    openings: Openings = None,
    speeds: Speeds = None,
    units: InUnits = None,
    json: AsJson = False,
) -> int:
    """Say how long a water change takes, how far levels move, and what may go wrong with it.

    The file is not changed. Ends with 1 if not all of the volume can be changed, or if something
    overflows or runs dry.
    """
    from balance.questions.change import change as ask
    from balance.questions.change.stuck import TIMES

    read = changed(read_plan(plan, units), openings=(), speeds=speeds or ())
    with counting("simulations") as progress:
        answer = ask(
            read,
            volume=_quantity("--volume", volume, "volume"),
            salinity=_quantity("--salinity", salinity, "salinity"),
            order=None if order is None else order.value,
            running=running,
            openings=dict(openings_of(read, openings or ())),
            stuck=tuple(_times(stuck or ())) or TIMES,
            progress=progress,
        )
    if json:
        print_json(answer.to_dict())
    else:
        from balance.show.change import show

        show(answer)
    return ANSWER if answer.done else NOT_MET


def _quantity(option: str, text: str | None, dimension: str) -> float | None:
    if text is None:
        return None
    try:
        return parse(text, dimension)
    except QuantityError as error:
        raise UsageError(f'{option} "{text}": {error}') from error


def _times(words: Iterable[str]) -> Iterator[float]:
    for word in each(words):
        time = _quantity("--stuck", word, "time")
        if time is None or time <= 0.0:
            raise UsageError(f'--stuck "{word}" is no time to wait; write --stuck "10 min"')
        yield time
