"""`balance close PLAN [NAMES]` says what happens when branches are shut."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from balance.cli.clogs import Clogs, clogs_of_words
from balance.cli.options import (
    AsJson,
    FromSettings,
    InUnits,
    PlanFile,
    print_json,
    read_plan,
)
from balance.cli.outcome import ANSWER, NOT_MET
from balance.cli.settings import Marks
from balance.errors import UsageError

if TYPE_CHECKING:
    from balance.plan.model import Plan

Names = Annotated[
    list[str] | None,
    typer.Argument(
        metavar="NAME",
        help="Branches to shut together; groups, headers, runs and valves too. Without names: "
        "every branch in turn.",
    ),
]
Also = Annotated[
    list[str] | None,
    typer.Option(
        "--also",
        metavar="NAME",
        help='One more case by itself, such as a group: "returns". May be repeated.',
    ),
]
To = Annotated[
    str | None,
    typer.Option(
        "--to", metavar="OPENING", help='Turn valves to this mark, not shut: "30 deg", "25 %".'
    ),
]
Pairs = Annotated[bool, typer.Option("--pairs", help="Every two branches together as well.")]
Hold = Annotated[
    bool,
    typer.Option(
        "--hold",
        help="Which one or two handles to move, and to which marks, to hold the other branches; "
        "told anyway where branches are named.",
    ),
]
Matrix = Annotated[
    bool, typer.Option("--matrix", help="What one mark of each handle does to every branch.")
]
Stuck = Annotated[
    str | None,
    typer.Option(
        "--stuck",
        metavar="VALVE",
        help="In place of all that: what to shut so that no water comes to a valve that is stuck "
        "or must be taken out.",
    ),
]


def close(
    plan: PlanFile,
    names: Names = None,
    also: Also = None,
    to: To = None,
    clog: Clogs = None,
    pairs: Pairs = False,
    hold: Hold = False,
    matrix: Matrix = False,
    marks: Marks = None,
    stuck: Stuck = None,
    from_settings: FromSettings = False,
    units: InUnits = None,
    json: AsJson = False,
) -> int:
    """Say what happens when branches are shut: who gets the water, and what breaks.

    The file is not changed. Ends with 1 if a case harms something that is whole as the plan
    stands.
    """
    from balance.questions.close import close as ask

    read = read_plan(plan, units)
    if stuck is not None:
        if names or also or to or clog or pairs or hold or matrix or from_settings:
            raise UsageError("--stuck is a question of its own: leave out names and other options")
        return _isolate(read, stuck, json)
    answer = ask(
        read,
        names or (),
        also=also or (),
        to=to,
        clogged=dict(clogs_of_words(clog or ())),
        pairs=pairs,
        hold_others=hold or bool(names),
        matrix=matrix,
        marks=marks,
        from_settings=from_settings,
    )
    if json:
        print_json(answer.to_dict())
    else:
        from balance.show.close import show

        show(answer)
    return ANSWER if answer.safe else NOT_MET


def _isolate(plan: Plan, valve: str, json: bool) -> int:
    from balance.questions.close.isolation import isolate as ask

    answer = ask(plan, valve)
    if json:
        print_json(answer.to_dict())
    else:
        from balance.show.isolation import show

        show(answer)
    return ANSWER
