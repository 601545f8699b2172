"""Loss coefficients by size, from one row of a table."""

from __future__ import annotations

from collections.abc import Mapping

from balance.errors import BalanceError
from balance.parts.fittings import INCH, LossCoefficients


def from_row(row: Mapping[str, str], *, bore: float) -> LossCoefficients:
    """Return the coefficients that a row of a table gives at a bore.

    Parameters
    ----------
    row : columns ``k1``, ``k``, ``size_factor`` a, ``size_power`` p and ``source``.
    bore : m, above zero.

    Returns
    -------
    LossCoefficients of K = K1/Re + k (1 + a/D^p), D the bore in inches.

    Source: hooper-1981 (a = p = 1); darby-2001 (p = 0.3). Constant with a = 0.
    Raises BalanceError for a bore not above zero.
    """
    if not bore > 0.0:
        raise BalanceError(f"a bore of {bore:g} m passes nothing; give one above zero")
    size = 1.0 + float(row["size_factor"]) / (bore / INCH) ** float(row["size_power"])
    return LossCoefficients(float(row["k1"]), float(row["k"]) * size, row["source"])
