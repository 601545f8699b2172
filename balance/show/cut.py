"""Where to cut, on a page."""

from __future__ import annotations

from collections.abc import Iterator

from rich.text import Text

from balance.questions.assembly.lengths import Lengths
from balance.questions.assembly.pieces import Piece
from balance.questions.assembly.sticks import stick_words
from balance.questions.cut import Cut
from balance.questions.cut.answer import Tight
from balance.questions.packing import CutStick, Packing
from balance.show import cautions
from balance.show.page import Column, Page
from balance.show.terminal import page
from balance.show.words import NONE, tape, taped
from balance.units import SYSTEMS, UnitSystem

BAD = "bold red"


def show(answer: Cut) -> None:
    """Print what `write` has to say."""
    with page() as to:
        write(to, answer)


def write(to: Page, answer: Cut) -> None:
    """Write each piece under the length that it is cut out of, and what holds it all up."""
    system = SYSTEMS[answer.plan.units]
    to.title(f"{answer.title or 'This plan'}: where to cut")
    for tight in answer.tight:
        to.print(Text(_tight(tight, system), style=BAD))
    if answer.tight:
        to.print()
    if not answer.pieces:
        to.print("There is no pipe to cut.")
    else:
        to.print(_how_near(answer, system))
    for lengths in answer.lengths:
        _lengths(to, lengths, system)
    to.section("Not cut out of these", _others(answer))
    to.section("Hose", _hoses(answer, system))
    if answer.held:
        _held(to, answer, system)
    to.beware("Beware", cautions.before_gluing())


def between(piece: Piece) -> str:
    """What a piece joins, in words."""
    return f"{piece.before or 'open end'} - {piece.after or 'open end'}"


def _depths(piece: Piece, system: UnitSystem) -> str:
    return " + ".join(tape(system, depth) for depth in piece.depths)


def _how_near(answer: Cut, system: UnitSystem) -> str:
    near = taped(system, answer.tolerance)
    said = (
        f"Cut to within {near}, burr off; lengths are to the nearest "
        f"{taped(system, answer.mark)}. Where several pieces follow each other, cut the longest "
        "of them last, to what the others leave."
    )
    if answer.estimates:
        said += (
            " Of some parts an estimate stands for the length from centre to socket, since makers "
            f"differ: {', '.join(answer.estimates)}. Measure yours and write it as `take_out`."
        )
    return said


# No room ----------------------------------------------------------------------------------------


def _tight(tight: Tight, system: UnitSystem) -> str:
    piece = tight.piece
    if not (piece.before and piece.after):
        return (
            f"NO ROOM for {piece.label}, {between(piece)}: it ends {taped(system, tight.short)} "
            "short of the bottom of its socket. Make it longer."
        )
    short, least = taped(system, tight.short), taped(system, tight.least_centres)
    said = (
        f"NO ROOM for {piece.label}, {between(piece)}: the two sockets would have to overlap by "
        f"{short}. Move their centres apart, to {least} or more, where the sockets touch"
    )
    if tight.elbow:
        said += "; or take a street elbow, one end of which goes straight into the other part"
    else:
        said += "; or take one of the two with a spigot end, which goes straight into the other"
    return f"{said}. Never cut the pipe shorter than both sockets are deep: the joint would leak."


# Lengths ----------------------------------------------------------------------------------------


def _lengths(to: Page, lengths: Lengths, system: UnitSystem) -> None:
    """A table of the pieces of one kind of pipe, under the lengths that they come out of."""
    packing = lengths.packing
    if packing is None:
        return
    to.print()
    to.heading(f"{lengths.pipe.name}: {_bought(packing)}")
    to.print(_proof(packing, system))
    unit = system.unit("length")
    by_centres = any(piece.centres is not None for piece in lengths.pieces)
    columns = (
        Column("piece", "words"),
        Column("between", "words"),
        Column(f"centres\n{unit}" if by_centres else ""),
        Column(f"seen\n{unit}"),
        Column(f"goes in\n{unit}"),
        Column(f"cut at\n{unit}"),
    )
    rows: list[tuple[str | Text, ...]] = []
    for number, stick in enumerate(packing.sticks, 1):
        left = f"{taped(system, stick.offcut)} left"
        rows.append((Text(f"{_stick(number, stick, system)}", style="bold"), left, "", "", "", ""))
        for at in stick.pieces:
            piece = lengths.pieces[at]
            rows.append(
                (
                    f"  {piece.label}",
                    between(piece),
                    "" if piece.centres is None else tape(system, piece.centres),
                    tape(system, piece.visible),
                    _depths(piece, system),
                    Text(tape(system, piece.cut), style="bold"),
                )
            )
    to.table(columns, rows)


def _bought(packing: Packing) -> str:
    if not packing.bought:
        return "nothing to buy, what is at hand is enough"
    by_length: dict[float, int] = {}
    for stick in packing.sticks:
        if not stick.on_hand:
            by_length[stick.length] = by_length.get(stick.length, 0) + 1
    return "buy " + " and ".join(
        f"{number} x {stick_words(length)}" for length, number in sorted(by_length.items())
    )


def _proof(packing: Packing, system: UnitSystem) -> str:
    """What is proven of a packing, in words."""
    if packing.by == "heuristic":
        said = (
            "More than fifty pieces: packed by rules of thumb; no way of cutting them takes fewer "
            f"than {packing.fewest}."
        )
        return f"{said} Longest offcut {taped(system, packing.longest_offcut)}."
    fewest = (
        "No way of cutting these takes fewer lengths"
        if packing.bought == packing.fewest
        else f"No way is proven that takes fewer; {packing.fewest} is the proven bound"
    )
    offcut = f"longest offcut {taped(system, packing.longest_offcut)}"
    if packing.exact:
        offcut += ", and none can be longer"
    else:
        offcut += f", and none is longer than {taped(system, packing.offcut_bound)}"
    return f"{fewest}; {offcut}."


def _stick(number: int, stick: CutStick, system: UnitSystem) -> str:
    if stick.on_hand:
        return f"at hand, {taped(system, stick.length)}"
    return f"length {number}, {stick_words(stick.length)}"


def _others(answer: Cut) -> Iterator[str]:
    for lengths in answer.lengths:
        tight = [piece.label for piece in lengths.untold if piece.short]
        sockets = [piece.label for piece in lengths.untold if None in piece.depths]
        centres = [
            piece.label for piece in lengths.untold if not piece.short and None not in piece.depths
        ]
        if tight:
            yield f"{', '.join(tight)} ({lengths.pipe.name}): there is no room for it, see above"
        if sockets:
            yield (
                f"{', '.join(sockets)} ({lengths.pipe.name}): nothing tells how far pipe goes into "
                'what it joins; measure it and write socket = "1 in" on the parts beside it'
            )
        if centres:
            yield (
                f"{', '.join(centres)} ({lengths.pipe.name}): nothing tells how far it is from the "
                "centre of what it joins to the bottom of the socket; measure it and write "
                'take_out = "1 in" on the parts beside it; an adapter or bushing between them that '
                "the plan does not name is to be named in it"
            )
    threaded = [piece.label for piece in answer.pieces if piece.threaded]
    if threaded:
        yield f"bought with threads, not cut: {', '.join(threaded)}"


def _hoses(answer: Cut, system: UnitSystem) -> Iterator[str]:
    for hose in dict.fromkeys(each.hose for each in answer.hoses):
        pieces = (
            f"{each.line} {system.text(each.length, 'length')}"
            for each in answer.hoses
            if each.hose == hose
        )
        yield f"{hose}: {', '.join(pieces)}"


# Supports ---------------------------------------------------------------------------------------


def _held(to: Page, answer: Cut, system: UnitSystem) -> None:
    length, mass, foot = system.unit("length"), system.unit("mass"), system.unit("head")
    columns = (
        Column("pipe", "words"),
        Column(f"seen\n{foot}", "decimal"),
        Column(f"full of water\n{mass}/{foot}", "decimal"),
        Column(f"clamp every\n{length}"),
        Column(f"between two\n{mass}", "decimal"),
        Column("clamps"),
    )
    rows = [
        (
            each.pipe.name,
            system.figure(each.seen, "head"),
            NONE if each.weight is None else _each_foot(each.weight, system),
            NONE if each.spacing is None else f"{system.number(each.spacing.length, 'length'):.0f}",
            NONE if each.span_weight is None else system.figure(each.span_weight, "mass"),
            NONE if each.clamps is None else str(each.clamps),
        )
        for each in answer.held
    ]
    to.print()
    to.heading("What holds it up")
    to.table(columns, rows)
    warm = system.text(answer.plan.water.temperature, "temperature")
    to.print(f"Clamps on level pipe at {warm}; warmer pipe sags more. Upright pipe needs fewer.")


def _each_foot(weight: float, system: UnitSystem) -> str:
    """Weight of a foot or metre of pipe."""
    return f"{system.number(weight * system.units['head'][1], 'mass'):.2f}"
