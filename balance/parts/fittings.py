"""Fittings: loss coefficients by kind and bore, and steps in bore.

Generic data: respectable sources differ by a factor of two on a small elbow. Printed spreads are
40 % for screwed elbows below 2 in, 50 % for unions, couplings and reducers (edb, table 32).
"""

from __future__ import annotations

from functools import cache
from math import atan2, degrees, radians, sin, sqrt

from balance.errors import BalanceError
from balance.parts.loss_rows import LossCoefficients, from_row, refuse_bore
from balance.parts.tables import look_up, rows

BARB_TO_HOSE = 0.7  # bore of a barb over that of its hose; common practice, no source
SUDDEN = 180.0
"""Angle of the cone of a step that has none [deg]."""
REDUCER_ANGLE = 60.0
"""Angle of the cone in a moulded reducer [deg]; common practice, no source."""
STEEP = 45.0  # deg, above which a cone's coefficients follow another form; crane-tp410


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
    LossCoefficients of K = K1/Re + k, k by size; infinite for a cap.

    Raises UnknownNameError with the nearest kinds; BalanceError for a bore not above zero.

    Source: hooper-1981; darby-2001; each row of the table names its own.
    """
    return from_row(look_up("fitting", kind, _table()), bore=bore)


def step(*, bore_from: float, bore_to: float, angle: float = SUDDEN) -> float:
    """Return K of a step in bore, on the velocity head in the SMALLER bore.

    Parameters
    ----------
    bore_from, bore_to : m, before and after the step in the direction of flow.
    angle : deg, above 0 up to 180: of the cone between the two, from wall to wall. 180 is a
        sudden step.

    Equations, beta the smaller bore over the larger, s the sine of half the angle: enlargement
    2.6 s (1 - beta²)² up to 45°, (1 - beta²)² above; contraction 0.8 s (1 - beta²) up to 45°,
    0.5 √s (1 - beta²) above. For turbulent flow, without the friction along the cone, so not for
    cones of a few degrees. Print differs: for contraction in a cone of 60° another textbook
    family has a third of this.

    Source: borda-carnot (enlargement); crane-tp410, sudden and gradual contraction and enlargement.
    Raises BalanceError for a bore or an angle that there is none of.
    """
    refuse_bore(bore_from)
    refuse_bore(bore_to)
    if not 0.0 < angle <= SUDDEN:
        raise BalanceError(f"no cone has an angle of {angle:g} deg; give one above 0 up to 180")
    half = sin(radians(angle) / 2.0)
    if bore_from < bore_to:
        sudden = (1.0 - (bore_from / bore_to) ** 2) ** 2
        return sudden if angle > STEEP else 2.6 * half * sudden
    narrowing = 1.0 - (bore_to / bore_from) ** 2
    return (0.5 * sqrt(half) if angle > STEEP else 0.8 * half) * narrowing


def cone_angle(*, bores: tuple[float, float], length: float) -> float:
    """Return the angle [deg], from wall to wall, of a cone between two bores along a length [m]."""
    return degrees(2.0 * atan2(abs(bores[0] - bores[1]) / 2.0, length))


def barb_bore(hose_bore: float) -> float:
    """Return the bore [m] of a barb for hose of the given bore [m]: an estimate, 0.7 of it."""
    return BARB_TO_HOSE * hose_bore


@cache
def _table() -> dict[str, dict[str, str]]:
    return {row["kind"]: row for row in rows("fittings")}
