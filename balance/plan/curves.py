"""Pump curves as measured: from a CSV file or from points in the plan."""

from __future__ import annotations

import re
from pathlib import Path

from balance.errors import BalanceError, Fault, PlanError, QuantityError
from balance.parts.pumps import PumpCurve, pump_curve
from balance.plan.fields import FLOW, HEAD, Quantity, fault, quoted
from balance.plan.sheets import Sheet, heading_and_unit, one_fault, read_sheet
from balance.units import parse

EXAMPLE = "flow_gph,head_ft,power_w"
LEAST_POINTS = 3

_COLUMNS = r"(flow|head|power|npsh)_\w+"
_DIMENSIONS = {"flow": "flow", "head": "head", "power": "power", "npsh": "head"}
_POWER = Quantity("power", "35 W", least=0.0, most=1.0e9)
_POINT = re.compile(r"(?P<flow>.+?)\s+at\s+(?P<head>[^,]+?)(?:\s*,\s*(?P<power>.+))?")


def read_curve(path: Path) -> PumpCurve:
    """Read a pump curve from a CSV file.

    Parameters
    ----------
    path
        A table with columns ``flow_…``, ``head_…`` and, if known, ``power_…`` and ``npsh_…`` (net
        positive suction head needed), each with its unit (``flow_gph,head_ft,power_w``), flow
        rising, at full speed, power as tested in fresh water.

    Raises
    ------
    PlanError
        With every fault of the file, each with line and column.
    """
    sheet = read_sheet(path, columns=_COLUMNS, example=EXAMPLE)
    columns = _columns(sheet)
    _check(sheet, columns)
    try:
        return pump_curve(
            columns["flow"],
            columns["head"],
            columns.get("power"),
            npsh=columns.get("npsh"),
            name=path.stem,
        )
    except BalanceError as error:
        raise one_fault(path.name, None, "", str(error), "") from error


def is_curve(path: Path) -> bool:
    """Tell whether a CSV file is meant as a pump curve, by its first row."""
    try:
        lines = path.read_text(encoding="utf-8-sig").splitlines()
    except (OSError, UnicodeDecodeError):
        return False
    first = next((line for line in lines if line.strip() and not line.lstrip().startswith("#")), "")
    titles = [title.strip().partition("_")[0] for title in first.split(",")]
    return "flow" in titles or "head" in titles


def curve_of_points(rows: object, *, name: str) -> PumpCurve:
    """Make a pump curve from points written in the plan.

    Parameters
    ----------
    rows
        Texts such as ``"0 gph at 13 ft, 35 W"``, flow rising; power in all or in none.
    name
        What the pump is called.
    """
    example = 'write points = ["0 gph at 13 ft, 35 W", "300 gph at 9 ft, 42 W", ...]'
    if not isinstance(rows, list) or len(rows) < LEAST_POINTS:
        raise fault(f"{quoted(rows)} is not a list of three points or more", example)
    flow, head, power = [], [], []
    for row in rows:
        match = _POINT.fullmatch(row.strip()) if isinstance(row, str) else None
        if not match:
            raise fault(f"{quoted(row)} is not a flow at a head", example)
        try:
            flow.append(FLOW.read(match["flow"]))
            head.append(HEAD.read(match["head"]))
            if match["power"]:
                power.append(_POWER.read(match["power"]))
        except QuantityError as error:
            raise fault(error.problem, error.remedy) from error
        if len(flow) > 1 and flow[-1] <= flow[-2]:
            raise fault(
                f"{quoted(row)}: the flow does not rise from point to point", "sort by flow"
            )
    if power and len(power) != len(flow):
        raise fault("some points have power and some have not", "give it in all or in none")
    try:
        return pump_curve(flow, head, power or None, name=name)
    except BalanceError as error:
        raise fault(str(error)) from error


def _columns(sheet: Sheet) -> dict[str, list[float]]:
    """Give flow, head, power and suction head in SI, by their column headings."""
    found: dict[str, list[float]] = {}
    faults = []
    for at, title in enumerate(sheet.header, start=1):
        what, unit = heading_and_unit(title)
        place = f"column {at} ({title})"
        if what in found:
            faults.append(
                Fault(sheet.file, sheet.header_line, place, f"a second {what}", "keep one")
            )
            continue
        try:
            zero, one = (parse(f"{number} {unit}", _DIMENSIONS[what]) for number in (0, 1))
        except QuantityError as error:
            faults.append(
                Fault(
                    sheet.file,
                    sheet.header_line,
                    place,
                    f'"{unit}" is no unit of {_DIMENSIONS[what]}: {error.problem}',
                    f"name the columns like {EXAMPLE}, or flow_lph,head_m,power_w",
                )
            )
            continue
        found[what] = [zero + number * (one - zero) for number in sheet.column(title)]
    faults += [
        Fault(
            sheet.file,
            sheet.header_line,
            "",
            f"there is no column of {what}",
            f"the first row names each column with its unit, for example {EXAMPLE}",
        )
        for what in ("flow", "head")
        if not any(title.startswith(f"{what}_") for title in sheet.header)
    ]
    if faults:
        raise PlanError(tuple(faults))
    return found


def _check(sheet: Sheet, columns: dict[str, list[float]]) -> None:
    """Refuse points that no pump has, each with its line."""
    faults = []
    if len(sheet.rows) < LEAST_POINTS:
        faults.append(
            Fault(
                sheet.file,
                sheet.lines[-1] if sheet.lines else sheet.header_line,
                "",
                f"a curve needs at least three points, and here {_are(len(sheet.rows))}",
                "add points: shut-off, one about the middle, and the largest flow",
            )
        )
    for what, numbers in columns.items():
        at, title = next(
            (at, title)
            for at, title in enumerate(sheet.header, start=1)
            if title.startswith(f"{what}_")
        )
        most = {"flow": FLOW, "head": HEAD, "power": _POWER}[_DIMENSIONS[what]].most
        for line, number in zip(sheet.lines, numbers, strict=True):
            if not 0.0 <= number <= most:
                problem = "is negative" if number < 0.0 else "is more than any pump has"
                faults.append(
                    Fault(sheet.file, line, f"column {at} ({title})", f"the {what} {problem}", "")
                )
        if what != "flow":
            continue
        for before, after, line in zip(numbers, numbers[1:], sheet.lines[1:], strict=False):
            if after <= before:
                faults.append(
                    Fault(
                        sheet.file,
                        line,
                        f"column {at} ({title})",
                        "the flow does not rise from the row before",
                        "sort the rows by flow, and give each flow once",
                    )
                )
    if faults:
        raise PlanError(tuple(sorted(faults, key=lambda fault: fault.line or 0)))


def _are(count: int) -> str:
    return {0: "there are none", 1: "there is one"}.get(count, f"there are {count}")
