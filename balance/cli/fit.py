"""`balance fit PLAN READINGS` learns from a bucket and a stopwatch what a plan could only guess."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from balance.cli.options import AsJson, InUnits, PlanFile, print_json, read_plan
from balance.cli.outcome import ANSWER

ReadingsFile = Annotated[
    Path,
    typer.Argument(
        metavar="READINGS",
        help="A CSV file of what was measured, a row a reading, from top to bottom.",
    ),
]
KeepGoing = Annotated[
    bool, typer.Option("--keep-going", help="Leave out rows with faults, and say which.")
]
Out = Annotated[
    Path | None,
    typer.Option(
        "--out",
        metavar="FILE",
        help="Name of the fitted plan, in the plan's folder; left out: PLAN-fitted.toml, or the "
        "next name that is free.",
    ),
]
DryRun = Annotated[bool, typer.Option("--dry-run", help="Write no fitted plan.")]


def fit(
    plan: PlanFile,
    readings: ReadingsFile,
    out: Out = None,
    keep_going: KeepGoing = False,
    dry_run: DryRun = False,
    units: InUnits = None,
    json: AsJson = False,
) -> int:
    """Fit the plan to what was measured, and write the fitted plan beside it.

    Neither the plan nor any other file is ever overwritten.
    """
    from balance.plan.fitted import write_fitted
    from balance.plan.readings import read_readings
    from balance.questions.fit import fit as ask

    read = read_plan(plan, units)
    answer = ask(read, read_readings(readings, read, keep_going=keep_going))
    written = None
    if not dry_run:
        written = out if out is not None else free_name(plan)
        write_fitted(plan, written, answer.learnt, answer.plan)
    if json:
        print_json(answer.to_dict() | {"written": None if written is None else written.name})
    else:
        from balance.show.fit import show

        show(answer, written=written)
    return ANSWER


def free_name(plan: Path) -> Path:
    """A name for the fitted plan that no file has: lagoon-fitted.toml, lagoon-fitted-2.toml ..."""
    stem = plan.stem.removesuffix("-fitted")
    found = plan.with_name(f"{stem}-fitted.toml")
    count = 2
    while found.exists() or found.is_symlink():
        found = plan.with_name(f"{stem}-fitted-{count}.toml")
        count += 1
    return found
