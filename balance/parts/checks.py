"""Check valves: loss when open, and the head that opens them.

The printed coefficients are of a valve fully open. Below about 15 ft/s many stand partly open and
lose more (edb, table 32, note); the printed spread is 30 %.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from balance.parts.loss_rows import from_row
from balance.parts.tables import look_up, rows


@dataclass(frozen=True)
class CheckLaw:
    """A check valve, open: K = k_laminar/Re + k, beyond an opening head.

    Attributes
    ----------
    k, k_laminar : on the velocity in the bore it was asked for
    opening_head : m, below which it stays shut
    source : of all three
    """

    k: float
    k_laminar: float
    opening_head: float
    source: str


def kinds() -> tuple[str, ...]:
    """Return the names of all kinds of check valve."""
    return tuple(_kinds())


def check_valve(kind: str, *, bore: float) -> CheckLaw:
    """Return the law of a check valve.

    Parameters
    ----------
    kind : one of `kinds`, in any case.
    bore : m, above zero; the sources hold for 1/2 to 4 in.

    Raises UnknownNameError with the nearest kinds; BalanceError for a bore not above zero.

    Source: hooper-1981; darby-2001; each row of the table names its own.
    """
    row = look_up("check valve", kind, _kinds())
    loss = from_row(row, bore=bore)
    return CheckLaw(loss.k, loss.k_laminar, float(row["opening_head"]), loss.source)


@cache
def _kinds() -> dict[str, dict[str, str]]:
    return {row["kind"]: row for row in rows("checks")}
