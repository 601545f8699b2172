"""A fitted plan: the text of a plan as its writer left it, with what readings told at its end."""

from __future__ import annotations

import math
import textwrap
import tomllib
from collections.abc import Iterator
from pathlib import Path

from balance.errors import BalanceError, UsageError
from balance.plan.describe import as_toml
from balance.plan.learnt import Learnt, LearntNumber
from balance.plan.locate import statements
from balance.plan.model import Plan
from balance.plan.openings import QUARTER_TURN
from balance.plan.read import read_text, text_of
from balance.plan.whole import write_anew

TABLE = "learnt"

REMARK = """\
# What readings at the real plumbing told: each value is against what the plan above says, and
# `sure` is its standard deviation. A fit wrote this table, and the next one writes it anew.
"""

SIGNIFICANT = 4
"""Digits with which a number is written ..."""

FINEST = 8
"""... and the most that stand behind its point; correlations have `SIGNIFICANT` there."""

WIDTH = 100
"""Characters on a line."""


def fitted_text(text: str, learnt: Learnt, plan: Plan) -> str:
    """Give the text of a plan with what was learnt in place of what an earlier fit had learnt.

    Parameters
    ----------
    text
        Of the plan's file, with its line ends.
    learnt
        What is to stand in it.
    plan
        Read from that text: it tells how handles are read, and where curve files lie.

    Raises
    ------
    PlanError
        If what was learnt is no more than a plan takes, such as a factor of a hundred.
    """
    fitted = _with_table(text, "\n".join(_table(learnt, plan)))
    if _others(fitted) != _others(text):
        raise BalanceError("the fitted plan would say something else than the plan; please report")
    folder = plan.path.parent if plan.path is not None else None
    read = read_text(fitted, file="fitted plan", folder=folder).learnt
    if read is None or not _alike(read, learnt):
        raise BalanceError("the fitted plan would not say what was learnt; please report")
    return fitted


def write_fitted(plan_file: Path, target: Path, learnt: Learnt, plan: Plan) -> None:
    """Write the fitted plan into a new file beside the plan's, whole or not at all.

    Raises
    ------
    UsageError
        If the file is there already, lies in another folder, or cannot be written.
    """
    if target.parent.resolve() != plan_file.parent.resolve():
        raise UsageError(
            f"{target} is not in the folder of {plan_file}, from which names of curve files count; "
            f"choose {plan_file.parent / target.name}"
        )
    text = fitted_text(text_of(plan_file), learnt, plan)
    try:
        write_anew(target, text)
    except FileExistsError as error:
        raise UsageError(
            f"{target} is there already and stays as it is; choose another name"
        ) from error


def _with_table(text: str, table: str) -> str:
    """Put a table at the end of a document, in place of what the document has of it."""
    line_end = "\r\n" if "\r\n" in text else "\n"
    kept = _without_table(text).rstrip(" \t\r\n")
    above = kept + 2 * line_end if kept else ""
    return above + (REMARK + table + "\n").replace("\n", line_end)


def _without_table(text: str) -> str:
    """Cut out the table, with the remarks in it and its own above it, but with none after it."""
    lines = text.split("\n")
    remark = REMARK.splitlines()
    kept: list[str] = []
    done = 0  # lines seen to
    within = False
    for statement in statements(text):
        if statement.table == TABLE:
            if not within:
                kept += lines[done : statement.first - 1]
                if [line.rstrip("\r") for line in kept[-len(remark) :]] == remark:
                    del kept[-len(remark) :]
            done = statement.last
        within = statement.table == TABLE
    return "\n".join(kept + lines[done:])


def _others(text: str) -> dict[str, object]:
    """Give all of a document but the table."""
    document = tomllib.loads(text)
    document.pop(TABLE, None)
    return document


def _table(learnt: Learnt, plan: Plan) -> Iterator[str]:
    yield f"[{TABLE}]"
    if learnt.readings is not None:
        yield f"readings = {_quoted(learnt.readings)}"
    for number in learnt.numbers:
        yield ""
        yield f"[[{TABLE}.numbers]]"
        yield f"of = {_quoted(number.of)}"
        if number.name is not None:
            yield f"name = {_quoted(number.name)}"
        whole, unit = _unit(number, plan)
        yield f'value = "{_digits(number.value * whole)} {unit}"'
        yield f'sure = "{_digits(number.sure * whole)} {unit}"'
        if number.with_:
            yield _correlations(number.with_)


def _unit(number: LearntNumber, plan: Plan) -> tuple[float, str]:
    """Give the unit in which a number is written, and how many of it are the whole."""
    if number.of == "offset":
        valve = plan.valve(number.name or "").part
        if valve.handle == "degrees":
            return QUARTER_TURN, "deg"
        if valve.handle == "turns" and valve.turns is not None:
            return valve.turns, "turns"
    return 100.0, "%"


def _digits(value: float) -> str:
    """Write a number with four significant digits, and without a power of ten."""
    if value == 0.0:
        return "0"
    before = math.floor(math.log10(abs(value))) + 1
    return _trimmed(f"{value:.{min(max(SIGNIFICANT - before, 0), FINEST)}f}")


def _trimmed(text: str) -> str:
    """Take off what says nothing: zeros behind the point, the sign of a zero."""
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def _correlations(values: tuple[float, ...]) -> str:
    row = ", ".join(_trimmed(f"{value:.{SIGNIFICANT}f}") for value in values)
    line = f"with = [{row}]"
    if len(line) <= WIDTH:
        return line
    return "with = [\n" + textwrap.indent(textwrap.fill(row, WIDTH - 2), "  ") + ",\n]"


def _quoted(text: str) -> str:
    return as_toml(text).replace("\x7f", "\\u007f")  # which TOML, other than JSON, keeps out


def _alike(read: Learnt, meant: Learnt) -> bool:
    """Whether what was read is what was meant, but for the digits that were not written."""
    return (
        read.readings == meant.readings
        and [(number.of, _fold(number.name), len(number.with_)) for number in read.numbers]
        == [(number.of, _fold(number.name), len(number.with_)) for number in meant.numbers]
        and all(
            _near(one.value, other.value)
            and _near(one.sure, other.sure)
            and all(
                abs(a - b) <= 0.6 * 10.0**-SIGNIFICANT
                for a, b in zip(one.with_, other.with_, strict=True)
            )
            for one, other in zip(read.numbers, meant.numbers, strict=True)
        )
    )


def _near(read: float, meant: float) -> bool:
    return math.isclose(read, meant, rel_tol=0.6 * 10.0 ** (1 - SIGNIFICANT), abs_tol=10.0**-FINEST)


def _fold(name: str | None) -> str:
    return " ".join((name or "").split()).casefold()
