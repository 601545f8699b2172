"""What one pump can do, on one screen."""

from __future__ import annotations

from collections.abc import Iterator

from balance.questions.curve import Curve
from balance.questions.curve.answer import AtSpeed, Line, MeasuredCurve
from balance.show import cautions
from balance.show.page import Column, Page, Series
from balance.show.terminal import page
from balance.show.words import bare, percent, speed
from balance.units import SYSTEMS, UnitSystem

_SEEN = 5e-4  # of shut-off head: a point that is off by less counts as on the curve

_BASES = {"measured": "measured", "between": "between two", "affinity": "by the laws"}


def show(answer: Curve) -> None:
    """Prints facts, a plot, what the pump can do over speed and over flow, notes and cautions."""
    system = SYSTEMS[answer.units]
    with page() as to:
        to.title(f"{answer.name}: what this pump can do")
        for fact in _facts(answer, system):
            to.print(fact)
        to.print()
        to.plot(
            [*_lines(answer, system), *_points(answer, system)],
            x_title=f"flow, {system.unit('flow')}",
            y_title=f"head, {system.unit('head')}",
        )
        _speeds(to, answer, system)
        _flows(to, answer, system)
        _measured(to, answer, system)
        to.notes(answer.notes)
        to.section("Other speeds", answer.laws)
        to.beware("Beware", (cautions.TESTED, cautions.DEAD_HEAD))


def _facts(answer: Curve, system: UnitSystem) -> Iterator[str]:
    full = answer.full
    carried = "" if full.basis == "measured" else ", which was not measured"
    yield (
        f"At full speed{carried}: shut-off head {_shut_off(answer, system)}, run-out "
        f"{system.text(full.run_out, 'flow')}."
    )
    yield (
        f"Without flow it presses with {system.text(answer.dead_head_pressure, 'pressure')} in the "
        f"fresh water of a test, {system.text(answer.dead_head_pressure_salt, 'pressure')} in salt "
        "water."
    )
    if full.best_flow is None or full.best_head is None or full.useful_range is None:
        return
    low, high = full.useful_range
    yield (
        f"Best at {system.text(full.best_flow, 'flow')} and {system.text(full.best_head, 'head')}, "
        f"with {percent(full.best_efficiency)} of {bare(system, full.best_power, 'power')} W put "
        f"into the water (wire to water); it runs well from {bare(system, low, 'flow')} to "
        f"{system.text(high, 'flow')}."
    )


def _shut_off(answer: Curve, system: UnitSystem) -> str:
    """Shut-off head, and what was measured of it where the curve as used differs."""
    used = system.text(answer.full.shut_off, "head")
    fastest = answer.measured[0]
    first = fastest.points[0]
    if fastest.peak is not None:
        return f"{used} as used, {system.text(first.head, 'head')} as measured (see Notes)"
    if fastest.dead_head_at_least:
        least = f"{system.text(first.head, 'head')} measured at {system.text(first.flow, 'flow')}"
        return f"about {used}, at least the {least}"
    return used


def _lines(answer: Curve, system: UnitSystem) -> Iterator[Series]:
    """The curves as used at measured speeds; of a single curve two at other speeds besides."""
    at = {measured.speed for measured in answer.measured}
    others = [line for line in answer.lines if line.speed not in at] if len(at) == 1 else []
    for line in answer.lines:
        if line.speed in at:
            yield _line("used", line, system)
    # The middle one and the slowest: more would not be told apart.
    for line in others[(len(others) - 1) // 2 :: max(len(others) // 2, 1)]:
        yield _line(f"at {speed(line.speed)}", line, system)


def _points(answer: Curve, system: UnitSystem) -> Iterator[Series]:
    for measured in answer.measured:
        name = f"measured at {speed(measured.speed)}"
        yield Series(
            "as measured" if len(answer.measured) == 1 else name,
            [system.number(point.flow, "flow") for point in measured.points],
            [system.number(point.head, "head") for point in measured.points],
            "points",
        )


def _line(name: str, line: Line, system: UnitSystem) -> Series:
    return Series(
        name,
        [system.number(value, "flow") for value in line.flow],
        [system.number(value, "head") for value in line.head],
    )


def _speeds(to: Page, answer: Curve, system: UnitSystem) -> None:
    """What it can do at each speed."""
    flow, head = system.unit("flow"), system.unit("head")
    columns = (
        Column("speed"),
        Column(f"shut-off\n{head}", "decimal"),
        Column(f"run-out\n{flow}", "decimal"),
        Column(f"runs well\n{flow}"),
        Column(f"best at\n{flow}", "decimal"),
        Column(f"there\n{head}", "decimal"),
        Column("draws\nW", "decimal"),
        Column("effi-\nciency"),
        Column("", "words"),
    )
    family = len(answer.measured) > 1
    to.print()
    to.table(columns, (_at_speed(row, system, family=family) for row in answer.speeds))


def _at_speed(row: AtSpeed, system: UnitSystem, *, family: bool) -> tuple[str, ...]:
    well = ""
    if row.useful_range is not None:
        well = "..".join(bare(system, value, "flow") for value in row.useful_range)
    return (
        speed(row.speed),
        bare(system, row.shut_off, "head"),
        bare(system, row.run_out, "flow"),
        well,
        *(
            "" if value is None else bare(system, value, dimension)
            for value, dimension in (
                (row.best_flow, "flow"),
                (row.best_head, "head"),
                (row.best_power, "power"),
            )
        ),
        "" if row.best_efficiency is None else percent(row.best_efficiency),
        _BASES[row.basis] if family else "",
    )


def _flows(to: Page, answer: Curve, system: UnitSystem) -> None:
    """What it gives at even steps of flow."""
    columns = (
        Column("full speed,\nof run-out"),
        Column(f"flow\n{system.unit('flow')}", "decimal"),
        Column(f"head\n{system.unit('head')}", "decimal"),
        Column("draws\nW", "decimal"),
        Column("effi-\nciency"),
    )
    to.print()
    to.table(
        columns,
        (
            (
                percent(row.share),
                bare(system, row.flow, "flow"),
                bare(system, row.head, "head"),
                "" if row.power is None else bare(system, row.power, "power"),
                "" if row.efficiency is None else percent(row.efficiency),
            )
            for row in answer.flows
        ),
    )


def _measured(to: Page, answer: Curve, system: UnitSystem) -> None:
    """How far each measured point lies from the curve as used, where any does."""
    off = [measured for measured in answer.measured if measured.furthest_off >= _SEEN]
    if not off:
        to.print()
        to.print("As used it passes through all points as measured.", style="dim")
    for measured in off:
        whose = f" at {speed(measured.speed)}" if len(answer.measured) > 1 else ""
        to.print()
        to.print(f"Points as measured{whose}, and how far off the curve as used they lie:")
        to.print()
        _off(to, measured, system)


def _off(to: Page, measured: MeasuredCurve, system: UnitSystem) -> None:
    head = system.unit("head")
    columns = (
        Column(f"flow\n{system.unit('flow')}", "decimal"),
        Column(f"measured\n{head}", "decimal"),
        Column(f"used\n{head}", "decimal"),
        Column("off, of\nshut-off"),
    )
    rows = (
        (
            bare(system, point.flow, "flow"),
            bare(system, point.head, "head"),
            bare(system, point.used_head, "head"),
            f"{100.0 * point.off:+.1f} %" if abs(point.off) >= _SEEN else "0",
        )
        for point in measured.points
    )
    to.table(columns, rows)
