"""Pressures along the way, and suctions, as people read them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby

from rich.text import Text

from balance.questions.pressures import Pressure
from balance.questions.suctions import Suction
from balance.show.page import Column, Page
from balance.show.words import NONE, bare
from balance.units import UnitSystem


def show(to: Page, pressures: Sequence[Pressure], system: UnitSystem) -> None:
    """Prints a table of pressures, a header in one row; nothing where there are none."""
    if not pressures:
        return
    to.print()
    to.heading("Head and gauge pressure along the way")
    columns = (
        Column("place", "words"),
        Column("read in", "words"),
        Column(f"height\n{system.unit('length')}"),
        Column(f"head\n{system.unit('head')}"),
        Column(f"pressure\n{system.unit('pressure')}"),
        Column("", "words"),
    )
    to.table(columns, _rows(pressures, system))
    if any(pressure.kind == "high point" for pressure in pressures):
        to.print("A high point is read where its stretch has the least pressure.", style="dim")
    to.print("Head is total head above the datum of the plan's heights.", style="dim")


def _rows(pressures: Sequence[Pressure], system: UnitSystem) -> Iterator[tuple[str | Text, ...]]:
    for (kind, header), group in groupby(pressures, key=_row_of):
        rows = tuple(group)
        first = rows[0]
        if kind == "header":
            place, read_in = header, ""
        elif kind == "high point":
            place, read_in = f"{first.place}, high point", ""
        else:
            place, read_in = first.place, first.stretch or NONE
        yield (
            place,
            read_in,
            bare(system, first.height, "length"),
            _from_to([row.head for row in rows], "head", system),
            _from_to([row.pressure for row in rows], "pressure", system),
            _remark(rows),
        )


def _row_of(pressure: Pressure) -> tuple[str, str]:
    """Joints of one header make one row, everything else one of its own."""
    if pressure.kind == "header":
        return pressure.kind, pressure.stretch or ""
    return pressure.kind, pressure.place


def _from_to(values: Sequence[float | None], kind: str, system: UnitSystem) -> str:
    known = [value for value in values if value is not None]
    if not known:
        return NONE
    low, high = (bare(system, value, kind) for value in (min(known), max(known)))
    return low if low == high else f"{low}..{high}"


def _remark(rows: Sequence[Pressure]) -> Text:
    if any(row.below_vapour for row in rows):
        return Text("THE COLUMN BREAKS", style="bold red")
    if any(row.below_atmosphere for row in rows):
        return Text("may draw in air", style="yellow")
    return Text("")


def suction_lines(suctions: Sequence[Suction], system: UnitSystem) -> Iterator[str]:
    """A text for each pump: suction head that there is, what it needs, and whether that will do."""
    for suction in suctions:
        there = bare(system, suction.available, "head")
        said = f"{suction.pump}: {there} {system.unit('head')} of net positive suction head"
        if suction.needed is None:
            yield f"{said}; its need is not known"
        else:
            verdict = "enough" if suction.enough else "TOO LITTLE"
            yield f"{said}, {system.text(suction.needed, 'head')} needed: {verdict}"
