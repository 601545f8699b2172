"""Options that several commands share."""

from __future__ import annotations

import json
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Protocol

import typer

from balance.errors import UsageError

if TYPE_CHECKING:
    import pandas as pd

    from balance.plan.model import Plan


class Units(StrEnum):
    """Systems in which answers are printed."""

    US = "us"
    IMPERIAL = "imperial"
    METRIC = "metric"


PlanFile = Annotated[
    Path, typer.Argument(metavar="PLAN", help="The plan file; `balance new` writes one.")
]
AsJson = Annotated[
    bool, typer.Option("--json", help="Print the answer as JSON, its keys with their units.")
]
AsCsv = Annotated[bool, typer.Option("--csv", help="Print the list as CSV, for a spreadsheet.")]
InUnits = Annotated[
    Units | None,
    typer.Option("--units", help="Print in these units instead of the plan's own."),
]
FromSettings = Annotated[
    bool,
    typer.Option(
        "--settings", help="Begin where `balance settings` puts handles, not where they stand."
    ),
]


def read_plan(file: Path, units: Units | None) -> Plan:
    """The plan of a file, to be answered in some units."""
    from balance.plan.read import read

    plan = read(file)
    return plan if units is None else plan.model_copy(update={"units": units.value})


def print_json(answer: dict[str, Any]) -> None:
    """Prints an answer's plain values."""
    print(json.dumps(answer, indent=2, ensure_ascii=False, allow_nan=False))


class Listed(Protocol):
    """An answer that is a list too."""

    def to_frame(self) -> pd.DataFrame:
        """It as a table."""

    def to_dict(self) -> dict[str, Any]:
        """It as plain values."""


def printed_as_data(answer: Listed, *, csv: bool, json: bool) -> bool:
    """Prints an answer as CSV or as JSON where one of them is asked for; whether it was.

    Raises
    ------
    UsageError
        If both are asked for.
    """
    if csv and json:
        raise UsageError("--csv and --json are two ways to print one answer; keep one of them")
    if csv:
        print(answer.to_frame().to_csv(index=False), end="")
    elif json:
        print_json(answer.to_dict())
    return csv or json
