"""`balance buy PLAN` says what to buy, in labelled bags."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from balance.cli.options import AsCsv, AsJson, InUnits, PlanFile, printed_as_data, read_plan
from balance.cli.outcome import ANSWER

Prices = Annotated[
    Path | None,
    typer.Option(
        "--prices",
        metavar="FILE",
        help="A CSV file with the columns item and price, such as the list of --csv with its "
        "prices filled in.",
    ),
]


def buy(
    plan: PlanFile,
    prices: Prices = None,
    units: InUnits = None,
    csv: AsCsv = False,
    json: AsJson = False,
) -> int:
    """Say what to buy: every part by size and kind, with spares, and what was forgotten.

    Tees and elbows of headers and joints are in it, and what joining takes: couplings, bushings,
    barbs, caps, pipe in the lengths in which it is sold, cement, tape and clamps.
    """
    from balance.plan.prices import read_prices
    from balance.questions.buy import buy as ask

    read = read_plan(plan, units)
    answer = ask(read, prices=None if prices is None else read_prices(prices))
    if not printed_as_data(answer, csv=csv, json=json):
        from balance.show.buy import show

        show(answer)
    return ANSWER
