"""`balance tune PLAN` walks from wide-open valves to the targets, a handle at a time."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from balance.cli.options import AsJson, InUnits, PlanFile, print_json, read_plan
from balance.cli.outcome import ANSWER, NOT_MET
from balance.errors import UsageError
from balance.units import parse

if TYPE_CHECKING:
    from balance.plan.model import Plan
    from balance.plan.reading import Reading
    from balance.questions.buckets import Bucket

ReadingsFile = Annotated[
    Path | None,
    typer.Argument(metavar="READINGS", help="What was read before the walk, as for `balance fit`."),
]
Record = Annotated[
    Path | None,
    typer.Option(
        "--record",
        metavar="FILE",
        help="Where the walk is kept, and from where it goes on; left out: PLAN-walk.csv.",
    ),
]
Buckets = Annotated[
    str | None,
    typer.Option("--bucket", metavar="VOLUMES", help='Buckets at hand: "1 gal, 5 gal".'),
]
AsTheyStand = Annotated[
    bool,
    typer.Option(
        "--as-they-stand", help="Begin with the handles as planned, not with all wide open."
    ),
]
Printed = Annotated[
    bool, typer.Option("--print", help="Print the whole walk as a sheet to fill in by hand.")
]
KeepGoing = Annotated[
    bool, typer.Option("--keep-going", help="Leave out rows of READINGS with faults.")
]


def tune(
    plan: PlanFile,
    readings: ReadingsFile = None,
    record: Record = None,
    bucket: Buckets = None,
    as_they_stand: AsTheyStand = False,
    printed: Printed = False,
    keep_going: KeepGoing = False,
    units: InUnits = None,
    json: AsJson = False,
) -> int:
    """Walk to the targets: which handle next, where to, and what the bucket should then say.

    Every reading is kept in a file at once: stop when you like, the same command goes on. Ends
    with 1 if targets are not met with a chance of 90 %. --json prints the next step.
    """
    from balance.plan.readings import read_readings

    read = read_plan(plan, units)
    earlier = () if readings is None else read_readings(readings, read, keep_going=keep_going).rows
    kept = plan.with_name(f"{plan.stem}-walk.csv") if record is None else record
    rows = _rows(read, kept, earlier)
    buckets = _buckets(bucket)
    if printed:
        return _print(read, rows, len(earlier), as_they_stand, buckets, json)
    if json:
        from balance.questions.tune import tune as ask

        step = ask(read, rows, before=len(earlier), as_they_stand=as_they_stand, buckets=buckets)
        print_json(step.to_dict())
        return ANSWER
    from balance.cli.walk import Walk

    walk = Walk(read, plan, kept, list(rows), len(earlier), as_they_stand, buckets)
    return ANSWER if walk.go() else NOT_MET


def _rows(plan: Plan, record: Path, earlier: tuple[Reading, ...]) -> tuple[Reading, ...]:
    """What has been read so far: a walk's record begins with what was read before it."""
    if not record.exists():
        return earlier
    from balance.plan.readings import read_readings

    rows = read_readings(record, plan).rows
    if rows[: len(earlier)] != earlier:
        raise UsageError(
            f"{record} was begun with other readings; name another file with --record, or leave "
            "READINGS out to go on with what it has"
        )
    return rows


def _print(
    plan: Plan,
    rows: tuple[Reading, ...],
    before: int,
    as_they_stand: bool,
    buckets: tuple[Bucket, ...] | None,
    json: bool,
) -> int:
    from balance.questions.tune import sheet

    answer = sheet(plan, rows, before=before, as_they_stand=as_they_stand, buckets=buckets)
    if json:
        print_json(answer.to_dict())
    else:
        from balance.show.tune import show_sheet

        show_sheet(answer)
    return ANSWER


def _buckets(text: str | None) -> tuple[Bucket, ...] | None:
    """Buckets from words such as "1 gal, 5 gal"."""
    if text is None:
        return None
    found = []
    for word in (part.strip() for part in text.split(",")):
        volume = parse(word, "volume")
        if volume <= 0.0:
            raise UsageError(f'"{word}" is no bucket; write volumes such as "1 gal, 5 gal"')
        found.append((word, volume))
    return tuple(sorted(found, key=lambda each: each[1]))
