"""`balance parts [WORDS]` lists what a plan may use."""

from __future__ import annotations

from typing import Annotated

import typer

from balance.cli.options import AsJson, InUnits, Units, print_json
from balance.cli.outcome import ANSWER

Words = Annotated[
    list[str] | None,
    typer.Argument(
        metavar="[WORDS]...",
        help='Only parts that all these fit, by kind, name or source: "elbow 3/4", "ball valve", '
        '"darby". A size among them is the one that losses are stated for.',
    ),
]


def parts(words: Words = None, units: InUnits = None, json: AsJson = False) -> int:
    """List what a plan may use: how it is written, what it loses, and who says so."""
    from balance.questions.catalogue import catalogue

    answer = catalogue(*(words or ()), units=(units or Units.US).value)
    if json:
        print_json(answer.to_dict())
    else:
        from balance.show.catalogue import show

        show(answer)
    return ANSWER
