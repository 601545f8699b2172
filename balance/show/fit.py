"""What readings told, on one screen."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from rich.text import Text

from balance.questions.fit import Fit, Forecast, Number, ReadingRow
from balance.show import cautions
from balance.show.page import Column, Page
from balance.show.terminal import page
from balance.show.words import bare, percent
from balance.units import SYSTEMS, UnitSystem, significant

CHECKED = 20.0  # weighed samples, below which they check nothing; our own choice
APART = 0.25  # of a band's width, by which the two ways may differ; our own choice
WHAT = {
    "pump": "strength of {name}",
    "mains": "loss of riser and headers",
    "loss": "loss of {name}",
    "throttling": "throttling of {name}",
    "offset": "handle of {name} shows too much by",
    "bucket": "volume of the bucket",
}


def show(answer: Fit, *, written: Path | None) -> None:
    """Print what `write` has to say."""
    with page() as to:
        write(to, answer, written=written)


def write(to: Page, answer: Fit, *, written: Path | None) -> None:
    """Write readings, numbers, flows and what to read next.

    Parameters
    ----------
    written : the fitted plan, if it was written
    """
    system = SYSTEMS[answer.plan.units]
    to.title(f"{answer.title or 'This plan'}: what {_count(answer)} told")
    to.table(_reading_columns(answer, system), _readings(answer, system))
    to.section("Rows left out", answer.left_out)
    to.section("Does not fit the rest", (_stray(row) for row in answer.strays))
    to.print()
    to.heading("What was learnt, against the plan")
    to.table(_NUMBERS, (_number(each) for each in answer.numbers if each.told))
    to.print()
    to.heading("Flows with the handles where they stood last")
    to.table(_flow_columns(system), (_flow(each, system) for each in answer.flows))
    to.section("Nothing was told of", answer.untold)
    to.section("Known together only", answer.tied)
    to.section("What to read next", _next(answer, system))
    to.notes(_notes(answer))
    if written is not None:
        to.print()
        to.print(
            f"Written: {written.name}, the plan with what was learnt as a table at its end; "
            "ask it what you asked the plan."
        )


_NUMBERS = (
    Column("number", "words"),
    Column("value"),
    Column("give or take"),
    Column("before any\nreading"),
)


def _flow_columns(system: UnitSystem) -> tuple[Column, ...]:
    flow = system.unit("flow")
    return (
        Column("branch", "words"),
        Column(f"by the plan\n{flow}"),
        Column("nine of ten\nsystems"),
        Column(f"by the fit\n{flow}"),
        Column("nine of ten\ncases"),
    )


def _count(answer: Fit) -> str:
    count = len(answer.readings)
    return f"{count} readings" if count != 1 else "one reading"


def _reading_columns(answer: Fit, system: UnitSystem) -> tuple[Column, ...]:
    unit = f" {system.unit('flow')}" if _flows_only(answer) else ""
    return (
        Column("line"),
        Column("read", "words"),
        Column(f"measured\n{unit}".rstrip(), "decimal"),
        Column(f"by the\nplan{unit}", "decimal"),
        Column(f"by the\nfit{unit}", "decimal"),
        Column("off, times\nits doubt", "decimal"),
        Column("", "words"),
    )


def _flows_only(answer: Fit) -> bool:
    return all(row.flow is not None for row in answer.readings)


def _readings(answer: Fit, system: UnitSystem) -> Iterator[tuple[str | Text, ...]]:
    plain = _flows_only(answer)
    for row in answer.readings:
        remark = Text("" if row.fits else "does not fit", style="bold red")
        yield (
            str(row.line),
            row.of,
            *_figures(row, system, plain=plain),
            f"{round(row.off, 1) + 0.0:+.1f}",
            remark,
        )


def _figures(row: ReadingRow, system: UnitSystem, *, plain: bool) -> Iterator[str]:
    """What was measured, by the plan and by the fit, with its unit unless its heading has it."""
    for flow, level, watts in (
        (row.flow, row.level, row.watts),
        (row.planned_flow, row.planned_level, row.planned_watts),
        (row.fitted_flow, row.fitted_level, row.fitted_watts),
    ):
        if flow is not None:
            unit = "" if plain else f" {system.unit('flow')}"
            yield f"{bare(system, flow, 'flow')}{unit}"
        elif level is not None:
            yield f"{bare(system, level, 'length')} {system.unit('length')}"
        else:
            yield f"{bare(system, watts, 'power')} W"


def _stray(row: ReadingRow) -> str:
    return (
        f"line {row.line}, {row.of} ({row.handles}): off by {abs(row.off):.1f} times its doubt; "
        f"it counts {percent(row.weight)}. Read it again, or look what was written: volume, "
        "seconds, where the handles stood"
    )


def _number(each: Number) -> tuple[str, ...]:
    what = WHAT[each.of].format(name=each.name)
    if each.of == "offset":
        unit = {"degrees": "deg", "turns": "turns"}.get(each.handle, "%")
        figures = (each.value, each.sure, each.before)
        value, sure, before = (f"{significant(f * each.travel, 2)} {unit}" for f in figures)
        return what, value, sure, before
    return what, percent(each.value, 3), percent(each.sure), percent(each.before)


def _flow(each: Forecast, system: UnitSystem) -> tuple[str, ...]:
    def band(low: float, high: float) -> str:
        return f"{bare(system, low, 'flow')}..{bare(system, high, 'flow')}"

    return (
        each.branch,
        bare(system, each.planned, "flow"),
        band(each.planned_low, each.planned_high),
        bare(system, each.fitted, "flow"),
        band(each.low, each.high),
    )


def _next(answer: Fit, system: UnitSystem) -> Iterator[str]:
    for each in answer.next:
        if each.after > 0.99 * each.before:
            continue
        at = {
            "as it stands": "as everything stands",
            "all wide open": "with all valves wide open",
            "at its mark": f"with its handle at {each.mark}, the others as they stand",
            "all at their marks": f"with its handle at {each.mark} and all others where "
            "`balance settings` puts them on the fitted plan",
        }[each.how]
        yield (
            f"{each.branch}, {at}: about {bare(system, each.flow, 'flow')} {system.unit('flow')}. "
            f"The flows asked for are then known to {percent(each.after)} instead of "
            f"{percent(each.before)}"
        )


def _notes(answer: Fit) -> Iterator[str]:
    yield (
        "Give or take, and known to: two cases of three lie within so much, nineteen of twenty "
        "within twice as much. The doubt of a reading is counted alike: off by more than three "
        "times that, it does not fit."
    )
    if answer.effective < CHECKED:
        yield (
            "The bands of nine in ten take the fit for straight near its best; samples that should "
            f"check that are worth only {significant(answer.effective, 2)}, too few to say: "
            "take them as rough, and read more."
        )
    else:
        apart = [
            each.branch
            for each in answer.flows
            if max(abs(each.sampled_low - each.low), abs(each.sampled_high - each.high))
            > APART * (each.high - each.low)
        ]
        yield (
            "The bands of nine in ten take the fit for straight near its best. Samples that check "
            f"that, worth {significant(answer.effective, 2)}, "
            + (
                f"differ for {', '.join(apart)}: take those as rough."
                if apart
                else "agree with them."
            )
        )
    yield (
        "A bucket that is not what it says makes all flows wrong alike: weigh one fill, or fill it "
        "with a measuring jug."
    )
    yield cautions.ELECTRICITY
