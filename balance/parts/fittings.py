"""Fittings: loss coefficients by kind and bore, and steps in bore.

Generic data: respectable sources differ by a factor of two on a small elbow. Printed spreads are
40 % for screwed elbows below 2 in, 50 % for unions, couplings and reducers (edb, table 32).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from balance.errors import BalanceError
from balance.parts.tables import look_up, rows

INCH = 0.0254
BARB_TO_HOSE = 0.7  # bore of a barb over that of its hose; common practice, no source


@dataclass(frozen=True)
class LossCoefficients:
    """K = k_laminar/Re + k of a fitting, on the velocity head in the bore it was asked for."""

    k_laminar: float
    k: float
    source: str


@dataclass(frozen=True)
class _Row:
    k1: float
    k: float
    size_factor: float
    size_power: float
    source: str


def kinds() -> tuple[str, ...]:
    """Return the names of all kinds of fitting."""
    return tuple(_table())


def fitting(kind: str, bore: float) -> LossCoefficients:
    """Return the loss coefficients of a fitting.

    Parameters
    ----------
    kind : one of `kinds`, in any case.
    bore : m, above zero; on its velocity the coefficient stands. A barb is asked for by its own
        bore, not the hose's. For 1/2 to 4 in, within which the sources hold.

    Returns
    -------
    LossCoefficients of K = K1/Re + k (1 + a/D^p), D the bore in inches: the 2-K form with
    a = p = 1, the 3-K form with p = 0.3 (there D is the nominal size; the bore in its place
    moves K by less than 3 %, and serves hose and metric pipe too), constant with a = 0. The 1/Re
    term keeps the loss rising in proportion to flow near rest.

    Raises UnknownNameError with the nearest kinds; BalanceError for a bore not above zero.

    Source: hooper-1981; darby-2001; each row of the table names its own.
    """
    row = look_up("fitting", kind, _table())
    _refuse_bore(bore)
    size = 1.0 + row.size_factor / (bore / INCH) ** row.size_power
    return LossCoefficients(row.k1, row.k * size, row.source)


def step(*, bore_from: float, bore_to: float) -> float:
    """Return K of a sudden step in bore, on the velocity head in the SMALLER bore.

    Parameters
    ----------
    bore_from, bore_to : m, before and after the step in the direction of flow.

    Equations, beta the smaller bore over the larger: enlargement (1 - beta²)²,
    contraction 0.5 (1 - beta²). For turbulent flow.

    Source: borda-carnot (enlargement); crane-tp410, sudden contraction.
    Raises BalanceError for a bore not above zero.
    """
    _refuse_bore(bore_from)
    _refuse_bore(bore_to)
    if bore_from < bore_to:
        return (1.0 - (bore_from / bore_to) ** 2) ** 2
    return 0.5 * (1.0 - (bore_to / bore_from) ** 2)


def barb_bore(hose_bore: float) -> float:
    """Return the bore [m] of a barb for hose of the given bore [m]: an estimate, 0.7 of it."""
    return BARB_TO_HOSE * hose_bore


@cache
def _table() -> dict[str, _Row]:
    return {
        row["kind"]: _Row(
            k1=float(row["k1"]),
            k=float(row["k"]),
            size_factor=float(row["size_factor"]),
            size_power=float(row["size_power"]),
            source=row["source"],
        )
        for row in rows("fittings")
    }


def _refuse_bore(bore: float) -> None:
    if not bore > 0.0:
        raise BalanceError(f"a bore of {bore:g} m passes nothing; give one above zero")
