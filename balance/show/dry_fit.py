"""The dry-fit sheet, on pages to take along."""

from __future__ import annotations

from collections.abc import Iterator

from balance.questions.cut import Cut
from balance.questions.cut.sheet import DRY_SHARES, Step, Walk
from balance.show import cautions
from balance.show.page import Column, Page
from balance.show.terminal import page
from balance.show.words import tape, taped
from balance.units import SYSTEMS, UnitSystem

HOURS = 3600.0  # s


def show(answer: Cut) -> None:
    """Prints in which order each line goes together, what stays open and what to mark."""
    system = SYSTEMS[answer.plan.units]
    with page() as to:
        to.title(f"{answer.title or 'This plan'}: dry fit, then glue")
        to.listing(_rules(answer, system))
        to.section("Glued as one, each on its own", _bodies(answer))
        for walk in (walk for walk in answer.sheet.walks if walk.steps):
            to.print()
            to.heading(_heading(walk))
            _walk(to, walk, system)
        to.beware("Beware", cautions.before_gluing())


def _rules(answer: Cut, system: UnitSystem) -> Iterator[str]:
    deepest = max((depth or 0.0 for piece in answer.pieces for depth in piece.depths), default=0.0)
    yield (
        "Write its label on each piece, and at each end the mark in the table: when the joint is "
        "glued, the mark stands at the rim of the socket."
    )
    yield (
        "Dry, pipe stops a third to two thirds of the way in, since sockets taper: each joint "
        f"then stands out by up to {taped(system, deepest * (1.0 - DRY_SHARES[0]))}. Cut to the "
        "list, not to the dry fit."
    )
    yield (
        'Where it says "aim", draw a line across the joint before you take it apart, and glue to '
        "the line: elbows, tees and handles look the right way then."
    )
    yield (
        "Unions stay open to the last. Glue what lies between them on the bench, let it dry, and "
        "close the unions by hand with their seals in."
    )
    cure = answer.sheet.cure
    if cure is not None:
        yield (
            f"At {system.text(answer.plan.water.temperature, 'temperature')} a joint of "
            f"{answer.sheet.cure_size} is held still for {_time(cure.set)} and left for "
            f"{_time(cure.cure)} before water presses on it; cold and damp take longer. The tin's "
            "own table comes first."
        )


def _time(seconds: float) -> str:
    if seconds < 120.0:
        return f"{seconds:.0f} s"
    if seconds < 2.0 * HOURS:
        return f"{seconds / 60.0:.0f} min"
    return f"{seconds / HOURS:.0f} h"


def _bodies(answer: Cut) -> Iterator[str]:
    """What is glued as one; lines that are alike in one line."""
    alike: dict[tuple[int, bool], list[str]] = {}
    for body in answer.sheet.bodies:
        if len(body.lines) > 1:
            yield f"{', '.join(body.lines)}: {_pieces(body.pieces)}, glued {PLACES[body.in_place]}"
        else:
            alike.setdefault((body.pieces, body.in_place), []).extend(body.lines)
    for (pieces, in_place), lines in alike.items():
        each = "each " if len(lines) > 1 else ""
        yield f"{', '.join(lines)}: {each}{_pieces(pieces)}, glued {PLACES[in_place]}"


PLACES = {True: "at its vessel, for it goes through a wall", False: "on the bench"}


def _pieces(number: int) -> str:
    return "one piece of pipe" if number == 1 else f"{number} pieces of pipe"


def _heading(walk: Walk) -> str:
    said = f"{walk.line}, from {walk.start or 'its free end'}"
    if walk.stop:
        said += f" to {walk.stop}"
    if walk.tied:
        said += ": both ends are fixed and it has no union; fit all of it dry before any glue"
    return said


def _walk(to: Page, walk: Walk, system: UnitSystem) -> None:
    unit = system.unit("length")
    columns = (
        Column("", "number"),
        Column("put on", "words"),
        Column(f"cut at\n{unit}"),
        Column(f"marks at\n{unit}", "words"),
        Column("joint", "words"),
        Column("", "words"),
    )
    rows = [
        (
            str(number),
            step.thing,
            _cut(step, system),
            _marks(step, system),
            _joint(step),
            _remark(step),
        )
        for number, step in enumerate(walk.steps, 1)
    ]
    to.table(columns, rows)


def _cut(step: Step, system: UnitSystem) -> str:
    if step.piece is None:
        return ""
    return "no room" if step.piece.short else tape(system, step.piece.cut)


def _marks(step: Step, system: UnitSystem) -> str:
    """Where the depth marks stand, from each end."""
    if step.piece is None:
        return ""
    if None in step.piece.depths:
        return "measure"
    first, second = (tape(system, depth) for depth in step.piece.depths)
    if first == second:
        return f"{first}, both ends"
    return ", ".join(
        f"{each} {end}" for each, end in ((first, "near"), (second, "far")) if each != "0"
    )


JOINTS = {
    "cement": "glue",
    "thread": "screw, with tape",
    "hose": "clamp",
    "dry": "push in, no glue",
    "special": "as its maker says",
}


def _joint(step: Step) -> str:
    if step.how is None:
        return ""
    return "glue LAST" if step.glued_last else JOINTS[step.how]


def _remark(step: Step) -> str:
    if step.stays_open:
        return "stays open to the last"
    return "aim" if step.aim else ""
