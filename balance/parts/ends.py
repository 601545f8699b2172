"""How the ends of parts are made, so that one sees what goes into what."""

from __future__ import annotations

from functools import cache
from typing import Literal, cast, get_args

from balance.parts.tables import rows

Form = Literal[
    "socket",  # pipe or a spigot is cemented into it
    "spigot",  # as thick as pipe: goes into a socket
    "female thread",
    "male thread",
    "barb",  # a hose is pushed over it
    "hose",
    "fits",  # made to suit what stands beside it
    "own",  # of a pump: nothing tells how it is made
    "slips in",  # pushed into a socket without cement
    "wall",  # goes through the wall of a vessel
    "open",  # in the water or in the air: nothing joins it
    "shut",
]

FORMS: tuple[Form, ...] = get_args(Form)


def ends_of(part: str, kind: str) -> tuple[Form, Form]:
    """Return how the two ends of a fitting, inlet or outlet are made.

    Parameters
    ----------
    part : "fitting", "inlet" or "outlet".
    kind : as in the table of its losses. A bushing is told with its large side first, a barb with
        its plumbing side first.

    Source: each row of the table names its own.
    """
    return _table()[part, kind]


@cache
def _table() -> dict[tuple[str, str], tuple[Form, Form]]:
    return {
        (row["part"], row["kind"]): (cast("Form", row["first"]), cast("Form", row["second"]))
        for row in rows("ends")
    }
