"""A walk, a step at a time, and the whole of it on paper."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from textwrap import wrap

from balance.questions.tune import Advice, Expected, Sheet
from balance.show import cautions
from balance.show.page import Column
from balance.show.terminal import page
from balance.show.words import bare, between, chance, stopwatch
from balance.units import SYSTEMS, UnitSystem

BLANK = "______"
NO_WATER = (
    "By what is known no water comes there, or it runs back from its tank: watch the levels. "
    "Type 0 if none comes."
)
UNDER_WATER = "Its outlet is under water: lead it by hose into a jug held at the water's level."
ASK = "Seconds of each fill (u undo, s skip, q stop, ? help)"
ASK_DONE = "Enter when it is so (u undo, q stop, ? help)"
HELP = """\
12.1 12.4 11.9    seconds of one or more fills of the bucket that is named
2 gal 24.3 24.5   the same with another bucket
118 gph           a flow read off a meter;  0  no water comes
at 38 deg         the handle stands there, not where it was to go; the seconds come after
u                 undo the last reading          s  leave this branch or handle out
q                 stop; the same command goes on from here another time"""


LIKELY = 0.5  # chance below which a target is named at the end; our own choice
WIDTH = 79  # characters of a line on a screen


def lines(step: Advice) -> tuple[str, ...]:
    """What a screen says of a step, in a few lines."""
    return _wrapped(_lines(step, SYSTEMS[step.plan.units]))


def _wrapped(texts: Iterable[str]) -> tuple[str, ...]:
    return tuple(line for text in texts for line in wrap(text, WIDTH) or [""])


def _lines(step: Advice, system: UnitSystem) -> Iterator[str]:
    yield f"{step.title or 'Walk'}: {progress(step)}"
    yield ""
    yield from _doing(step)
    if step.branch and step.flow is not None and step.flow <= 0.0:
        yield NO_WATER
    elif step.branch and step.seconds is not None:
        yield _reading(step)
        if step.flow is not None:
            flow = f"{bare(system, step.flow, 'flow')} {system.unit('flow')}"
            yield f"That is {flow}." if step.way == "bucket" else f"That is {flow}. {_way(step)}"


def progress(step: Advice) -> str:
    """How far a walk has come."""
    done = sum(handle.set for handle in step.handles)
    return f"{step.readings} read, {done} of {len(step.handles)} handles set"


def _doing(step: Advice) -> Iterator[str]:
    match step.kind:
        case "read":
            if step.chance is not None:
                yield f"All met with a chance of {chance(step.chance)}: not sure enough yet."
            yield f"Read {step.branch}, everything as it stands."
        case "read again":
            yield f"That does not fit what was read before. Read {step.branch} once more."
        case "odd":
            yield (
                f"That is not what this turn should have done. Is the bucket {step.bucket}, and "
                f"was it turned the right way? Read {step.branch} once more."
            )
        case "move":
            yield f"Turn {step.name} from {step.stands} to {step.to}: {step.by}."
        case "nudge":
            yield f"Nudge {step.name} from {step.stands} to {step.to}: {step.by}."
        case "speed":
            yield f"Set {step.name} to {step.to} speed; it is at {step.stands}."


def _reading(step: Advice) -> str:
    if step.seconds is None:
        return ""
    if step.least_seconds is None or step.most_seconds is None:
        return f"Fill {step.bucket}: about {stopwatch(step.seconds)} is expected, more or less."
    near = f"{stopwatch(step.least_seconds)} to {stopwatch(step.most_seconds)}"
    if step.kind in ("move", "nudge"):
        return f"{step.bucket} should then take {stopwatch(step.seconds)}; {near} is near enough."
    return f"Fill {step.bucket}: about {stopwatch(step.seconds)} is expected, from {near}."


def _way(step: Advice) -> str:
    return "No bucket there: a flow meter." if step.way == "a flow meter" else UNDER_WATER


def opening(step: Advice) -> tuple[str, ...]:
    """What to do before the first reading."""
    found = [
        f"{step.title or 'Walk'}: from here to the targets, a handle at a time",
        cautions.ELECTRICITY,
    ]
    if step.open_first:
        found.append(f"Open fully: {', '.join(step.open_first)}.")
    if step.unmet:
        found.append(f"By the plan {_cannot(step)}.")
    pumps = zip(step.view.network.machines, step.view.stand.speeds, strict=True)
    found += [f"Run {machine.name} at {100.0 * speed:.4g} %." for machine, speed in pumps]
    found.append("Wait until all levels stand still. A bucket, a stopwatch, a marker for handles.")
    return _wrapped(found)


def _cannot(step: Advice) -> str:
    return (
        f"{', '.join(step.unmet)} cannot have what is asked; `balance settings` says what binds, "
        "and the walk leads as near as it can"
    )


def end(step: Advice, *, skipped: Sequence[str] = ()) -> None:
    """Prints where a walk has come to.

    Parameters
    ----------
    skipped : branches and handles that were left out
    """
    system = SYSTEMS[step.plan.units]
    with page() as to:
        to.title(f"{step.title or 'Walk'}: {_end_words(step)}")
        columns = (
            Column("branch", "words"),
            Column(f"flow\n{system.unit('flow')}"),
            Column("nine of ten\ncases"),
            Column("wanted"),
            Column("chance\nto meet"),
        )
        to.table(columns, (_expected(each, system) for each in step.expected))
        to.print()
        to.heading("Where the handles stand: mark them")
        to.listing(f"{each.valve}: {each.mark}" for each in step.handles)
        to.section("Left out", _left_out(skipped))
        missed = [each.name for each in step.expected if each.chance < LIKELY]
        to.section("Not likely met", _not_met(step, missed))


def _left_out(skipped: Sequence[str]) -> Iterator[str]:
    if skipped:
        yield f"{', '.join(skipped)}: the same command asks for them again"


def _not_met(step: Advice, missed: Sequence[str]) -> Iterator[str]:
    if missed:
        yield (
            f"{', '.join(missed)}: write what was learnt into a plan, as below; `balance settings` "
            + (
                "then says what binds and which change would help"
                if step.unmet
                else "on it says where each handle goes"
            )
        )


def _end_words(step: Advice) -> str:
    how_likely = chance(step.chance or 0.0)
    if step.kind == "done":
        return f"done, all targets met with a chance of {how_likely}"
    return (
        f"nothing more that a hand could better; all targets are met with a chance of {how_likely}"
    )


def _expected(each: Expected, system: UnitSystem) -> tuple[str, ...]:
    return (
        each.name,
        bare(system, each.flow, "flow"),
        f"{bare(system, each.low, 'flow')}..{bare(system, each.high, 'flow')}",
        between(system, each.wanted_low, each.wanted_high),
        chance(each.chance),
    )


def show_sheet(sheet: Sheet) -> None:
    """Prints a walk with blanks for what is read."""
    with page() as to:
        to.title(f"{sheet.title or 'Walk'}: the walk on paper")
        if sheet.steps:
            to.print("\n".join(opening(sheet.steps[0])[1:]))
            to.print()
        columns = (
            Column("step"),
            Column("branch, valve\nor pump", "words"),
            Column("set to"),
            Column("bucket"),
            Column("should\ntake"),
            Column("between"),
            Column("took"),
        )
        rows = (_sheet_row(number, step) for number, step in enumerate(sheet.steps, 1))
        to.table(columns, rows)
        to.section("How", _how(sheet))


def _sheet_row(number: int, step: Advice) -> tuple[str, ...]:
    what, to = step.name or step.branch, step.to
    if step.kind == "speed":
        return str(number), what, f"{to} speed", "", "", "", ""
    if step.name and step.branch not in ("", step.name):
        what = f"{step.name}; read {step.branch}"
    if step.seconds is None or step.least_seconds is None or step.most_seconds is None:
        return str(number), what, to, "", "", "", BLANK
    near = f"{stopwatch(step.least_seconds)}..{stopwatch(step.most_seconds)}"
    return str(number), what, to, step.bucket, stopwatch(step.seconds), near, BLANK


def _how(sheet: Sheet) -> Iterator[str]:
    yield (
        "First readings show what the plan gets wrong. If they are far from what they should be, "
        "write them into a file and print this sheet anew with it: the marks will be better."
    )
    yield (
        "At each mark trim the handle until the bucket takes what it should at that step, "
        "then go on; later steps change it, and that is reckoned with."
    )
    if sheet.steps and sheet.steps[0].unmet:
        yield f"By the plan {_cannot(sheet.steps[0])}."
    yield (
        "Degrees and turns count from shut. No water at a first reading is a reading too: write 0. "
        "A branch whose outlet is under water is read by a hose into a jug held at its level."
    )
    if sheet.chance is not None:
        yield (
            f"Read as expected throughout, all targets would be met with a chance of "
            f"{chance(sheet.chance)}."
        )
