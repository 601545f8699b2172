"""Logs of what was measured at the real plumbing, with bucket, stopwatch, standpipe and meter."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TypeVar

from pydantic_core import PydanticCustomError

from balance.errors import Fault, PlanError, QuantityError, UnknownNameError
from balance.plan.fields import FLOW, Quantity, nearest, quoted, unknown_kind
from balance.plan.gauges import gauge, level
from balance.plan.log_sheet import LogRow, LogSheet, read_log_sheet
from balance.plan.model import Plan
from balance.plan.names import fold
from balance.plan.reading import GaugePlace, Reading, Readings, Turned
from balance.plan.sheets import plain_number
from balance.plan.standing import Standing

__all__ = ["GaugePlace", "Reading", "Readings", "Turned", "read_readings"]

T = TypeVar("T")

APART = 3.0
"""Factor between fills of one bucket from which one is a slip of the pen; our own choice."""

_FILL = Quantity("volume", "1 gal", least=0.0, most=1.0e12, above_zero=True)
_POWER = Quantity("power", "38 W", least=0.0, most=1.0e9)
_SECONDS = 'write the seconds of each fill, a space between two: "12.1 12.4 11.9"'


def read_readings(file: Path | str, plan: Plan, *, keep_going: bool = False) -> Readings:
    """Read a log of readings beside a plan.

    The log is followed from top to bottom: handles and pumps begin as planned, and stay as they
    are where a row says nothing of them.

    Parameters
    ----------
    file
        A CSV file; `balance.plan.log_sheet` tells its form.
    plan
        The plan of the plumbing.
    keep_going
        Whether rows with faults are left out, and with them those below whose handles or speeds
        are not known for that reason.

    Raises
    ------
    PlanError
        With every fault of the file; with those of its rows unless they are left out.
    """
    path = Path(file)
    log = _Log(plan, read_log_sheet(path))
    rows = tuple(log.rows())
    if log.faults and not keep_going:
        raise PlanError(tuple(log.faults))
    return Readings(rows, tuple(sorted((*log.faults, *log.adrift), key=_line)), path)


def _line(fault: Fault) -> int:
    return fault.line or 0


class _Log:
    """Follows a log, gathering readings and faults."""

    def __init__(self, plan: Plan, sheet: LogSheet) -> None:
        self.plan = plan
        self.sheet = sheet
        self.standing = Standing(plan)
        self.branches = {fold(branch.name): branch for branch in plan.branches}
        self.faults: list[Fault] = []
        self.adrift: list[Fault] = []
        """Rows without fault of their own that a row above has robbed of handles or speeds."""
        self.lost = {"open": 0, "speed": 0}
        """The line that last did so."""

    def rows(self) -> Iterator[Reading]:
        """Give the readings of rows without faults."""
        for row in self.sheet.rows:
            before = len(self.faults)
            reading = self.row(row)
            if reading is not None and len(self.faults) == before:
                yield reading
                self.standing.turned = []

    def row(self, row: LogRow) -> Reading | None:
        """Read one row; None, or faults noted, where it gives no reading."""
        if row.fault is not None:
            self.faults.append(row.fault)
            self.lose_handles(row.line)
            self.lose_speeds(row.line)
            return None
        self.move(row)
        cells = _Cells(row, self.sheet, self.faults)
        branch = cells.read("branch", self.branch)
        volume = cells.read("volume", _FILL.read)
        seconds = cells.read("seconds", _seconds)
        flow = cells.read("flow", FLOW.read)
        where = cells.read("at", lambda text: gauge(self.plan, text))
        head = None
        if where is not None:
            head = cells.read("head", lambda text: level(self.plan, text, where))
        watts = cells.read("watts", self.watts)
        cells.check()
        if not self.known(row.line):
            return None
        return Reading(
            line=row.line,
            branch=branch,
            volume=volume,
            seconds=seconds or (),
            flow=flow,
            openings=tuple(each for each in self.standing.openings if each is not None),
            turned=tuple(self.standing.turned),
            speeds=tuple(each for each in self.standing.speeds if each is not None),
            head=head,
            at=None if where is None else where.place,
            watts=None if watts is None else watts[0],
            pump=None if watts is None else watts[1],
            note=row.cells.get("note", ""),
        )

    # Handles and speeds

    def move(self, row: LogRow) -> None:
        """Move handles, then speeds, as a row says."""
        cells = _Cells(row, self.sheet, self.faults)
        if not cells.does("open", self.standing.turn):
            self.lose_handles(row.line)
            if "=" not in row.cells["open"]:  # may have been meant to say "as planned"
                self.lose_speeds(row.line)
        if not cells.does("speed", self.standing.run):
            self.lose_speeds(row.line)

    def lose_handles(self, line: int) -> None:
        if "open" in self.sheet.headings:
            self.standing.lose_handles()
            self.lost["open"] = line

    def lose_speeds(self, line: int) -> None:
        if self.sheet.headings.keys() & {"open", "speed"}:
            self.standing.lose_speeds()
            self.lost["speed"] = line

    def known(self, line: int) -> bool:
        """Tell whether all handles and speeds are known; note if one is not."""
        for column, values, what, remedy in (
            (
                "open",
                self.standing.openings,
                "where the handles stand",
                'write "as planned", "all=full", or a mark for each of them',
            ),
            (
                "speed",
                self.standing.speeds,
                "how fast the pumps run",
                "write the speed of each of them",
            ),
        ):
            lost = self.lost[column]
            if None in values:
                if lost != line:
                    self.adrift.append(
                        Fault(
                            self.sheet.file,
                            line,
                            column,
                            f"{what} is not known, since line {lost} is left out",
                            f"mend that line; or {remedy} here",
                        )
                    )
                return False
        return True

    # Cells

    def branch(self, name: str) -> str:
        branch = self.branches.get(fold(name))
        if branch is None:
            known = tuple(one.name for one in self.plan.branches)
            near = nearest(name, known)
            raise UnknownNameError("branch", name, (near,) if near else (), known)
        if branch.to is None:
            raise QuantityError(
                name,
                f'"{branch.name}" is capped: it has no `to` in the plan, so that nothing flows',
                "give it its end there",
            )
        return branch.name

    def watts(self, text: str) -> tuple[float, str]:
        name, watts = self.standing.pump_and(text)
        return _POWER.read(f"{watts} W" if plain_number(watts) is not None else watts), name


def _seconds(text: str) -> tuple[float, ...]:
    found = []
    for word in re.sub(r"(?<=[\d.])\s*s(ec)?(?=\s|$)", "", text, flags=re.IGNORECASE).split():
        seconds = plain_number(word)
        if seconds is None:
            raise QuantityError(text, f"{quoted(word)} is not a number of seconds", _SECONDS)
        if seconds <= 0.0:
            raise QuantityError(text, f"{quoted(word)}: a fill takes more than no time", _SECONDS)
        found.append(seconds)
    if max(found) > APART * min(found):
        raise QuantityError(
            text,
            f"one fill took {max(found):g} s and another {min(found):g} s",
            "fills of one bucket at one setting are nearly alike: look for a slip of the pen, or "
            "give each setting its own row",
        )
    return tuple(found)


class _Cells:
    """Reads the cells of one row and notes their faults."""

    def __init__(self, row: LogRow, sheet: LogSheet, faults: list[Fault]) -> None:
        self.row = row
        self.sheet = sheet
        self.faults = faults

    def read(self, column: str, look: Callable[[str], T]) -> T | None:
        """Read a cell, or note why it cannot be; None where it is empty too."""
        if column not in self.row.cells:
            return None
        try:
            return look(self.row.cells[column])
        except QuantityError as error:
            self.note(column, error.problem, error.remedy)
        except UnknownNameError as error:
            self.note_custom(column, unknown_kind(error))
        except PydanticCustomError as error:
            self.note_custom(column, error)
        return None

    def does(self, column: str, move: Callable[[str], None]) -> bool:
        """Tell whether a cell was followed without a fault."""
        before = len(self.faults)
        self.read(column, move)
        return len(self.faults) == before

    def note_custom(self, column: str, error: PydanticCustomError) -> None:
        context = error.context or {}
        self.note(column, context["problem"], context["remedy"].replace("{key} = ", ""))

    def note(self, column: str, problem: str, remedy: str) -> None:
        heading = self.sheet.headings.get(column, column)
        self.faults.append(Fault(self.sheet.file, self.row.line, heading, problem, remedy))

    def check(self) -> None:
        """Insist on what belongs together, and on something that was measured."""
        has = self.row.cells.keys()
        if "flow" in has and has & {"volume", "seconds"}:
            self.note("flow", "both flow and a fill of the bucket are given", "keep one of the two")
        elif "volume" in has and "seconds" not in has:
            self.note("seconds", "how long did the bucket take to fill?", _SECONDS)
        elif "seconds" in has and "volume" not in has:
            self.note("volume", "how much went into the bucket?", 'write such as "1 gal" or "2 L"')
        flows = has & {"flow", "volume", "seconds"}
        if flows and "branch" not in has:
            self.note("branch", "whose flow is this?", "write the name of a branch")
        if "branch" in has and not flows:
            self.note(
                "branch",
                f"nothing of {quoted(self.row.cells['branch'])} was measured",
                "write volume and seconds, or flow; where a level is read stands in `at`",
            )
        if "head" in has and "at" not in has:
            self.note("at", "where was this level read?", 'write a run or branch: "riser"')
        if "at" in has and "head" not in has:
            self.note("head", "which level was read?", 'write such as "45 in" or "2.1 psi"')
        if not has & {"branch", "volume", "seconds", "flow", "head", "at", "watts"}:
            self.note(
                "",
                "nothing was measured in this row",
                "write branch with volume and seconds or with flow, head with at, or watts; what "
                "was turned may stand in the row of the next reading",
            )
