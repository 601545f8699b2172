"""Loss coefficients by size, from one row of a table."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from balance.errors import BalanceError

INCH = 0.0254


@dataclass(frozen=True)
class LossCoefficients:
    """K = k_laminar/Re + k of a part, on the velocity head in the bore it was asked for."""

    k_laminar: float
    k: float
    source: str


def from_row(row: Mapping[str, str], *, bore: float) -> LossCoefficients:
    """Return the coefficients that a row of a table gives at a bore.

    Parameters
    ----------
    row : columns ``k1``, ``k``, ``size_factor`` a, ``size_power`` p and ``source``.
    bore : m, above zero.

    Returns
    -------
    LossCoefficients of K = K1/Re + k (1 + a/D^p), D the bore in inches: the 2-K form with
    a = p = 1, the 3-K form with p = 0.3 (there D is the nominal size; the bore in its place
    moves K by less than 3 %, and serves hose and metric pipe too). Constant with a = 0. The 1/Re
    term keeps the loss rising in proportion to flow near rest.

    Source: hooper-1981 (a = p = 1); darby-2001 (p = 0.3).
    Raises BalanceError for a bore not above zero.
    """
    refuse_bore(bore)
    size = 1.0 + float(row["size_factor"]) / (bore / INCH) ** float(row["size_power"])
    return LossCoefficients(float(row["k1"]), float(row["k"]) * size, row["source"])


def refuse_bore(bore: float) -> None:
    """Raise BalanceError for a bore [m] not above zero."""
    if not bore > 0.0:
        raise BalanceError(f"a bore of {bore:g} m passes nothing; give one above zero")
