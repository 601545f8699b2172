"""How far apart in print the losses of one kind of part lie."""

from __future__ import annotations

from dataclasses import dataclass

from balance.parts.tables import rows


@dataclass(frozen=True)
class Spread:
    """A printed spread of a loss coefficient, to either side of it, as a share of it."""

    share: float
    source: str


def printed_spread(kind: str, name: str) -> Spread | None:
    """Return the spread that print gives for a part; None where it gives none.

    Parameters
    ----------
    kind : the part's key in a plan, such as "fitting".
    name : of the part, such as "street elbow 90"; one word of it decides.

    Source: each row of the table names its own.
    """
    words = name.split()
    for row in rows("spreads"):
        if row["kind"] == kind and (not row["word"] or row["word"] in words):
            return Spread(float(row["spread"]), row["source"])
    return None
