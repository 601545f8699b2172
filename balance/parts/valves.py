"""Valves: loss coefficient against opening, its slope and its inverse.

K at mid travel is known to about 60 % until it is measured on the valve itself, and to 20 to 30 %
only fully open: printed tables differ by that much, and so do two valves of one make. The tables
are set side by side in `docs/tees_and_valves.md`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from balance.errors import BalanceError
from balance.parts.loss_rows import INCH, from_row
from balance.parts.tables import look_up, rows
from balance.parts.valve_shapes import (
    AreaShape,
    Shape,
    TableShape,
    ball_area,
    disc_area,
    edge_loss,
    gate_area,
    jet_loss,
    squeezed_area,
)

Floats = NDArray[np.float64]
Handle = Literal["degrees", "turns", "percent"]

BACKLASH_TURNS = 0.125
"""Turns a spindle makes before the gate follows, where its sense changes; common practice, no
source."""

OFFSET_SPREAD = 3.0 / 90.0
"""Standard deviation of where a quarter-turn handle stands against its ball, of travel (3°); common
practice, no source."""

MEASURED_SPREAD = 0.2
"""Standard deviation of ln K of a valve with a table of its own; common practice, no source."""

KV_PER_CV = 0.865
"""m³/h at 1 bar for each US gal/min at 1 psi; crane-tp410."""

_GATE = edge_loss(first=1.1, second=3.2)  # fitted to weisbach, see `valve`
_DISC = edge_loss(first=1.86, second=2.47)  # fitted to weisbach, see `valve`
_CLOSED_FORMS: dict[str, Shape] = {
    "ball": AreaShape(ball_area, jet_loss),
    "gate": AreaShape(gate_area, _GATE),
    "disc": AreaShape(disc_area, _DISC),
    "squeezed": AreaShape(squeezed_area, _GATE),
}


class Loss(NamedTuple):
    """A loss coefficient and its slope against opening, arrays of one shape.

    Where nothing passes, k is infinite and slope 0.
    """

    k: Floats
    slope: Floats


@dataclass(frozen=True, eq=False)
class ValveLaw:
    """A valve's loss against its opening, made by `valve`.

    Attributes
    ----------
    kind : as `kinds` has it, or the name that its own table goes by
    handle : what the handle is read in
    travel : of the handle from shut to full, 90 degrees or 100 percent; None for turns, which
        differ from valve to valve
    k_open, k_laminar : K = k_laminar/Re + k_open of the open valve, on the bore's velocity
    scale : of the shape's excess loss, which takes it from the port's velocity to the bore's
    shape : excess loss against opening
    dead_band : opening up to which nothing passes, fraction of travel
    log_spread : standard deviation of ln K at mid travel: about half of what lies between the
        printed families of gates; common practice, no source
    offset_spread : standard deviation of the handle's offset, fraction of travel
    useful_band : openings between which a hand can set it, fractions of travel; common practice,
        no source
    other : kind by another family of print, which disagrees with this one at mid travel; or None
    source : of k_open and k_laminar
    shape_source : of the shape
    log_factor, own_offset : a and offset of this very valve, where they were learnt
    """

    kind: str
    handle: Handle
    travel: float | None
    k_open: float
    k_laminar: float
    scale: float
    shape: Shape
    dead_band: float
    log_spread: float
    offset_spread: float
    useful_band: tuple[float, float]
    other: str | None
    source: str
    shape_source: str
    log_factor: float = 0.0
    own_offset: float = 0.0

    def learnt(
        self, *, open_factor: float = 1.0, log_factor: float = 0.0, offset: float = 0.0
    ) -> ValveLaw:
        """Return the law of this very valve, of which something was learnt.

        Parameters
        ----------
        open_factor : of K_open.
        log_factor, offset : as of `loss_coefficient`.
        """
        return replace(
            self,
            k_open=self.k_open * open_factor,
            log_factor=self.log_factor + log_factor,
            own_offset=self.own_offset + offset,
            dead_band=min(max(self.dead_band + offset, 0.0), 1.0),
        )

    def throttled(
        self, opening: Floats, *, log_factor: Floats | float = 0.0, offset: Floats | float = 0.0
    ) -> Loss:
        """Return what `loss_coefficient` is beyond K_open, and its slope against the opening."""
        handle = np.asarray(opening, dtype=np.float64)
        excess = self.shape.excess(np.clip(handle - self.own_offset - offset, 0.0, 1.0))
        factor = self.scale * np.exp(self.log_factor + log_factor)
        shut = handle <= 0.0
        return Loss(
            np.where(shut, np.inf, factor * excess.value),
            np.where(shut, 0.0, factor * excess.slope),
        )

    def loss_coefficient(
        self, opening: Floats, *, log_factor: Floats | float = 0.0, offset: Floats | float = 0.0
    ) -> Loss:
        """Return K on the velocity in the valve's bore, and dK/dopening.

        Parameters
        ----------
        opening : array, fraction of travel from shut; beyond 0 and 1 it counts as 0 and 1.
        log_factor : a, of K_open + e^a × excess: the first unknown of a valve one has.
        offset : how much less the valve is open than its handle says, fraction of travel: the
            second. 3° of a ball valve's handle are 3/90. Both broadcast against `opening`.

        Returns
        -------
        Loss. K falls as the valve opens, to K_open; it is infinite in the dead band, and at an
        opening of 0 whatever the offset.
        """
        beyond = self.throttled(opening, log_factor=log_factor, offset=offset)
        return Loss(self.k_open + beyond.k, beyond.slope)

    def opening_for(
        self, k: Floats, *, log_factor: Floats | float = 0.0, offset: Floats | float = 0.0
    ) -> Floats:
        """Return the opening at which the loss coefficient is k.

        Parameters
        ----------
        k : array, on the velocity in the valve's bore; below K_open it counts as K_open.
        log_factor, offset : as of `loss_coefficient`.

        Returns
        -------
        Array of openings from 0 to 1, to 1e-9 where k itself tells them apart; 0 for an infinite
        k, and 1 for K_open.
        """
        wanted = np.asarray(k, dtype=np.float64)
        excess = (wanted - self.k_open) / (self.scale * np.exp(self.log_factor + log_factor))
        opening = np.clip(self.shape.opening(excess) + self.own_offset + offset, 0.0, 1.0)
        return np.asarray(np.where(np.isinf(wanted), 0.0, opening))


def kinds() -> tuple[str, ...]:
    """Return the names of all kinds of valve."""
    return tuple(_kinds())


def valve(
    kind: str,
    *,
    bore: float,
    table: Sequence[tuple[float, float]] | None = None,
    k_open: float | None = None,
) -> ValveLaw:
    """Return the loss law of a valve.

    Parameters
    ----------
    kind : one of `kinds`, in any case; any name beside a `table`.
    bore : m, of the pipe it stands in; on its velocity all coefficients stand. The sources hold
        for 1/2 to 4 in.
    table : (opening, K) of a valve of one's own, openings rising in (0, 1] and K falling. Where
        it ends before full travel, K_open is its last point if given, and else conductance 1/√K
        goes on along a straight line.
    k_open : K of the valve fully open, instead of its kind's.

    Returns
    -------
    ValveLaw of K = K1/Re + K_open + s e^a × excess(opening), by kind:

    - ball, plug: 2 [1/(C a) - 1]², C = 0.70 + 0.30 a³, a the open share of a round port
      (`ball_area`). Within 0.07 in ln K of the rows of the cock read in weisbach (10° to 65° from
      open), 0.09 of those from memory. Nothing passes within 9° of shut. A second family in
      print loses a third as much at half travel: "ball low loss".
    - ball standard port: the same on the velocity in a port of 0.8 of the bore, s = 1/0.8⁴.
    - gate: 1.1 x + 3.2 x², x the covered over the open area (`gate_area`); within 0.07 in ln K of
      weisbach, and of idelchik diagram 9-5 from 0.2 to 0.8 open within 0.13. A second family in
      print loses twice as much at half travel: "gate wedge".
    - butterfly: 1.86 x + 2.47 x² (`disc_area`); within 0.12 in ln K of weisbach, 10° to 65° from
      open, and 0.18 below it at 5° and 70°.
    - pinch: the gate's loss behind a squeezed tube (`squeezed_area`); common practice, no source.
    - gate wedge, globe, globe plug disc, diaphragm: conductance 1/√K a monotone cubic through
      the points of perry-losses; ball low loss: through those of miller-1978.
    - needle, linear, equal percentage: the same through the inherent characteristic of
      iec-60534-2-4 (rangeability 50), in shares of the open valve's, s = K_open; below a tenth of
      travel it goes to zero, so that a shut valve carries nothing.

    Raises UnknownNameError with the nearest kinds; BalanceError for a bore or a table that makes
    no valve.

    Source: weisbach; idelchik; perry-losses; miller-1978; iec-60534-2-4; of K_open and K1 each row
    of the table names its own, of the closed forms each row of `valve_forms`.
    """
    name = " ".join(kind.lower().split())
    if table is not None:
        return _own_valve(name, bore=bore, table=table, k_open=k_open)
    row = look_up("valve", name, _kinds())
    open_loss = from_row(row, bore=bore)
    full = open_loss.k if k_open is None else _positive(k_open)
    shape, relative = _shape(row["shape"])
    return ValveLaw(
        kind=name,
        handle=_handle(row["handle"]),
        travel=_TRAVEL[_handle(row["handle"])],
        k_open=full,
        k_laminar=open_loss.k_laminar,
        scale=full if relative else float(row["port_ratio"]) ** -4,
        shape=shape,
        dead_band=shape.dead_band,
        log_spread=float(row["log_spread"]),
        offset_spread=OFFSET_SPREAD if row["handle"] == "degrees" else 0.0,
        useful_band=(float(row["band_low"]), float(row["band_high"])),
        other=row["other"] or None,
        source=open_loss.source,
        shape_source=_shape_source(row["shape"]),
    )


def k_from_cv(cv: float, *, bore: float) -> float:
    """Return K on the velocity in a bore [m] of a flow coefficient Cv, US gal/min at 1 psi.

    Equation: K = 891 d⁴/Cv², d in inches. Source: crane-tp410, flow coefficient.
    Raises BalanceError unless both are above zero.
    """
    return 891.0 * (_positive(bore) / INCH) ** 4 / _positive(cv) ** 2


def k_from_kv(kv: float, *, bore: float) -> float:
    """Return K on the velocity in a bore [m] of a flow coefficient Kv, m³/h at 1 bar.

    Equation: that of `k_from_cv`, Kv = 0.865 Cv. Source: crane-tp410, flow coefficient.
    Raises BalanceError unless both are above zero.
    """
    return k_from_cv(kv / KV_PER_CV, bore=bore)


_TRAVEL: dict[Handle, float | None] = {"degrees": 90.0, "turns": None, "percent": 100.0}


def _own_valve(
    name: str, *, bore: float, table: Sequence[tuple[float, float]], k_open: float | None
) -> ValveLaw:
    """A valve through measured points; what they do not tell is that of its kind, or a ball's."""
    row = _kinds().get(name, _kinds()["ball"])
    handle: Handle = _handle(row["handle"]) if name in _kinds() else "percent"
    points = [(float(opening), float(k)) for opening, k in table]
    if k_open is not None and points and points[-1][0] < 1.0:
        points.append((1.0, k_open))
    x, k = (np.array(column) for column in (zip(*points, strict=True) if points else ((), ())))
    if (
        not len(x)
        or not (np.isfinite(x).all() and np.isfinite(k).all())
        or not (x[0] > 0.0 and x[-1] <= 1.0 and k[-1] > 0.0)
        or (np.diff(x) <= 0.0).any()
        or (np.diff(k) >= 0.0).any()
    ):
        raise BalanceError(
            "a valve's table needs openings that rise from above shut to full at most, with loss "
            'coefficients that fall but stay above zero; write for example [["20 deg", "k 40"], '
            '["45 deg", "k 6"]]'
        )
    shape = TableShape.through(x, k**-0.5)
    return ValveLaw(
        kind=name,
        handle=handle,
        travel=_TRAVEL[handle],
        k_open=shape.open_loss,
        k_laminar=from_row(row, bore=bore).k_laminar,
        scale=1.0,
        shape=shape,
        dead_band=shape.dead_band,
        log_spread=MEASURED_SPREAD,
        offset_spread=OFFSET_SPREAD if handle == "degrees" else 0.0,
        useful_band=(float(row["band_low"]), float(row["band_high"])),
        other=None,
        source="its own table",
        shape_source="its own table",
    )


@cache
def _shape(name: str) -> tuple[Shape, bool]:
    """The shape of that name, and whether it is in shares of the open valve."""
    if name in _CLOSED_FORMS:
        return _CLOSED_FORMS[name], False
    points = [row for row in rows("valve_shapes") if row["shape"] == name]
    x = np.array([float(row["opening"]) for row in points])
    relative = bool(points[0]["flow_share"])
    if relative:
        return TableShape.through(x, np.array([float(row["flow_share"]) for row in points])), True
    return TableShape.through(x, np.array([float(row["k"]) for row in points]) ** -0.5), False


@cache
def _shape_source(name: str) -> str:
    table = "valve_forms" if name in _CLOSED_FORMS else "valve_shapes"
    return next(row["source"] for row in rows(table) if row["shape"] == name)


@cache
def _kinds() -> dict[str, dict[str, str]]:
    return {row["kind"]: row for row in rows("valves")}


def _handle(text: str) -> Handle:
    handles: dict[str, Handle] = {"degrees": "degrees", "turns": "turns", "percent": "percent"}
    return handles[text]


def _positive(number: float) -> float:
    if not 0.0 < number < float("inf"):
        raise BalanceError(f"{number:g} is no size or coefficient of a valve; give one above zero")
    return number
