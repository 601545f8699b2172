"""Valves of one's own: openings with the loss coefficient or flow coefficient measured there."""

from __future__ import annotations

import re
from itertools import pairwise
from pathlib import Path
from typing import Literal, NamedTuple

from balance.errors import PlanError, QuantityError
from balance.parts.valves import k_from_cv, k_from_kv
from balance.plan.fields import fault, faults_of_a_file, quoted
from balance.plan.openings import Handle, fraction
from balance.plan.sheets import read_sheet

_MEASURE = re.compile(r"(k|cv|kv)\s*=?\s*(\d+\.?\d*|\.\d+)", re.IGNORECASE)
_ANY_BORE = 0.0254  # m; only the order of the coefficients matters


class ValvePoint(NamedTuple):
    """One measured point: opening (fraction of travel) and what the valve lets through there."""

    opening: float
    measure: Literal["k", "cv", "kv"]
    value: float

    def coefficient(self, *, bore: float) -> float:
        """Give the loss coefficient on the velocity in `bore` [m]."""
        match self.measure:
            case "k":
                return self.value
            case "cv":
                return k_from_cv(self.value, bore=bore)
            case "kv":
                return k_from_kv(self.value, bore=bore)


def read_valve_table(path: Path) -> list[list[str]]:
    """Read a CSV of ``open_deg`` (``open_percent``, ``open_turns``) and ``k``, ``cv`` or ``kv``."""
    try:
        sheet = read_sheet(path, columns=r"open_(deg|percent|turns)|k|cv|kv", example="open_deg,cv")
    except PlanError as error:
        raise faults_of_a_file(error.faults) from error
    if len(sheet.header) != 2 or not sheet.header[0].startswith("open_"):
        raise fault(
            f"{path.name}: the header row is {','.join(sheet.header)}",
            "write open_deg,cv or the like",
        )
    unit, measure = sheet.header[0].removeprefix("open_"), sheet.header[1]
    return [[f"{opening:f} {unit}", f"{measure} {value:f}"] for opening, value in sheet.rows]


def valve_points(rows: object, *, turns: float | None) -> tuple[ValvePoint, ...]:
    """Read ``[["20 deg", "k 40"], ["45 deg", "cv 6"]]``, in any order; sorted by opening."""
    if not isinstance(rows, list) or len(rows) < 2:
        raise fault(
            f"{quoted(rows)} is not a list of two openings or more",
            'write table = [["20 deg", "k 40"], ["45 deg", "cv 6"]]',
        )
    points = sorted(_point(row, turns=turns) for row in rows)
    for low, high in pairwise(points):
        if low.opening == high.opening:
            raise fault("one opening stands there twice", "keep one of the two")
        if low.coefficient(bore=_ANY_BORE) <= high.coefficient(bore=_ANY_BORE) and (
            low.measure == high.measure
        ):
            raise fault(
                "the valve lets less water through where it is more open",
                "check the order of openings: they count from shut",
            )
    return tuple(points)


def _point(row: object, *, turns: float | None) -> ValvePoint:
    match row:
        case [str(opening), str(measure)] if found := _MEASURE.fullmatch(measure.strip()):
            kind, value = found[1].lower(), float(found[2])
        case _:
            raise fault(
                f"{quoted(row)} is not an opening with its loss", 'write ["20 deg", "k 40"]'
            )
    try:
        handle: Handle = "degrees" if turns is None else "turns"
        share = fraction(opening, handle=handle, turns=turns)
    except QuantityError as error:
        raise fault(error.problem, error.remedy) from error
    if value <= 0.0 or share <= 0.0:
        raise fault(
            f"{quoted(row)}: opening and coefficient must be more than zero",
            "leave out what lies at shut: a shut valve carries nothing",
        )
    measures: dict[str, Literal["k", "cv", "kv"]] = {"k": "k", "cv": "cv", "kv": "kv"}
    return ValvePoint(share, measures[kind], value)
