"""Rows of holes along a pipe with a shut end: spray bars, slots and manifolds of jets."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import NamedTuple

from balance.errors import BalanceError

HALVINGS = 60  # of the search for a velocity, to the last digit of a float


class Row(NamedTuple):
    """What a row of ports does to the water that a pipe brings.

    Attributes
    ----------
    k : on the velocity head in the pipe before the row; what leaves with the jets is lost too
    backward : the same of water that comes in by the ports, taken as even among them
    evenness : flow of the first port over that of the last, at the shut end; 1 is even
    """

    k: float
    backward: float
    evenness: float


def sharp(share: float) -> float:
    """Return the discharge coefficient of a sharp-edged hole in the wall of a pipe.

    Parameters
    ----------
    share : of the head in the pipe above that outside, what is velocity head along the pipe.

    Equation: 0.63 - 0.58 V²/(2gE). For holes up to a tenth of the pipe's bore.

    Source: koh-brooks-1975.
    """
    return 0.63 - 0.58 * share


def rounded(share: float) -> float:
    """Return the discharge coefficient of a port with a rounded entrance in the wall of a pipe.

    Parameters
    ----------
    share : as of `sharp`.

    Equation: 0.975 (1 - V²/(2gE))^(3/8). For ports up to a tenth of the pipe's bore.

    Source: koh-brooks-1975.
    """
    return float(0.975 * (1.0 - share) ** 0.375)


COEFFICIENTS: Mapping[str, Callable[[float], float]] = {"sharp": sharp, "rounded": rounded}
"""The discharge coefficients by the edge of the port."""


def row(*, area_ratio: float, ports: int, coefficient: Callable[[float], float]) -> Row:
    """Return the loss of a row of equal ports along a pipe, and how evenly it gives.

    Parameters
    ----------
    area_ratio : area of all ports together over that of the pipe, above zero.
    ports : their number; a slot is many of them side by side.
    coefficient : `sharp` or `rounded`.

    Returns
    -------
    Row. Its K does not hang on the flow, and is above 1.

    The head in the pipe stays the same along the row, for each port takes a share of the water and
    of its head with it; from port to port the water slows down and its pressure rises, so that the
    last port gives most. Reckoned from the shut end up, port by port: q = C(V²/2gE) a √(2gE) with
    V before the port. Friction along the row is left out: short bars only, or a third of the bar's
    length of pipe before it (Christiansen's factor for many ports).

    Source: koh-brooks-1975 (coefficients and march along the ports); that a slot gives as a row of
    sharp-edged holes does is common practice, no source.
    Raises BalanceError where there is no port.
    """
    if not (area_ratio > 0.0 and ports >= 1):
        raise BalanceError(
            'a row of ports needs one or more; write for example holes = 20, hole = "4 mm"'
        )
    # Velocities before each port, from the shut end up, in units of √(2gE).
    velocities = [0.0]
    for _ in range(ports):
        velocities.append(_before_port(velocities[-1], area_ratio / ports, coefficient))
    return Row(
        k=1.0 / velocities[-1] ** 2,
        backward=1.0 / (area_ratio * coefficient(0.0)) ** 2,
        evenness=(velocities[-1] - velocities[-2]) / velocities[1],
    )


def _before_port(behind: float, area_ratio: float, coefficient: Callable[[float], float]) -> float:
    """Velocity V with V = behind + ratio · C(V²), by halving; C falls with V, so there is one."""
    low, high = behind, 1.0
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        if behind + area_ratio * coefficient(middle**2) > middle:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)
