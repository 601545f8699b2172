"""Holding the others: which handle to move when something is shut, and what each branch gets."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rich.text import Text

from balance.plan.openings import opening_words
from balance.questions.close.advice import Holding, Remaining, Remedy, Turn
from balance.show.page import Column, Page
from balance.show.words import bare, between, percent
from balance.units import UnitSystem

LEAVE = "leave the others as they are"
NONE = "no single move helps"
ROUNDING = 1e-6  # of a bound, by which a flow may miss it and still keep it


def show_one(to: Page, holding: Holding, system: UnitSystem) -> None:
    """Prints the moves for one case, and the flows of all remaining branches."""
    if _holds_nothing(holding):
        return
    to.section("Holding the others", _advice(holding))
    if holding.others:
        to.print()
        to.table(_columns(holding, system), _rows(holding, system))


def _holds_nothing(holding: Holding) -> bool:
    """Whether nothing is left to be held."""
    return holding.leave and not any(other.asked for other in holding.others)


def show_each(to: Page, named: Sequence[tuple[str, Holding]]) -> None:
    """Prints the moves for several cases, each on a line of its own or two.

    Parameters
    ----------
    named : what is shut in each case, in words, and how the others are held
    """
    to.print()
    to.heading("Holding the others")
    to.print()
    columns = (
        Column("shut", "words"),
        Column("best move", "words"),
        Column("undoes"),
        Column("then", "words"),
    )
    to.table(columns, (row for name, each in named for row in _lines(name, each)))
    if any(each.missed_before or each.outside_before for _, each in named if not each.leave):
        to.print(Text(_BEFORE, style="dim"))


_BEFORE = (
    "Some flows were outside what is wanted before anything was shut; a move counts what it mends "
    "of that too."
)


_STOOD = 1e-6  # of its flow: what has moved by less, on average, stands where it stood


def _advice(holding: Holding) -> Iterator[str]:
    """What to do, then what comes of doing nothing."""
    alone = f"{_outside(holding.missed, holding.outside)}{_strayed(holding.strayed)}"
    if holding.leave:
        yield f"{LEAVE}: {alone if holding.strayed > _STOOD else 'none has moved'}"
        return
    if holding.single is not None:
        yield _remedy(holding.single)
    else:
        yield f"{NONE}: none undoes a tenth of the disturbance"
    if holding.pair is not None:
        yield f"{'or ' if holding.single else ''}two moves: {_remedy(holding.pair)}"
    yield f"left alone: {alone}"
    before = (*holding.missed_before, *holding.outside_before)
    if before:
        yield (
            f"outside before anything was shut: {', '.join(before)}; a move counts what it mends "
            "of that too"
        )


def _remedy(remedy: Remedy) -> str:
    moves = ", and ".join(move_words(turn) for turn in remedy.turns)
    return (
        f"{moves}: undoes {percent(remedy.undone)} of the disturbance; then "
        f"{_outside(remedy.missed, remedy.outside)}{_strayed(remedy.strayed)}"
    )


def move_words(turn: Turn) -> str:
    """A move as one tells it to somebody at the sump: "close sump stir by 7 deg, to 38 deg"."""
    name = turn.name if turn.name == turn.stretch else f"{turn.name} (in {turn.stretch})"
    stood, to = _mark(turn, turn.stood), _mark(turn, turn.to)
    if turn.handle == "speed":
        return f"{'speed up' if turn.to > turn.stood else 'slow'} {name} from {stood} to {to}"
    if turn.stood <= 0.0:
        return f"open {name} from shut to {to}"
    if turn.to <= 0.0:
        return f"shut {name}, which stands at {stood}"
    by = _mark(turn, abs(turn.to - turn.stood))
    return f"{'open' if turn.to > turn.stood else 'close'} {name} by {by}, from {stood} to {to}"


def _brief(turn: Turn) -> str:
    """The same for a column: "sump stir: 45 deg to 38 deg"."""
    return f"{turn.name}: {_mark(turn, turn.stood)} to {_mark(turn, turn.to)}"


def _mark(turn: Turn, ratio: float) -> str:
    if turn.handle == "speed":
        return f"{100.0 * ratio:.3g} %"
    return opening_words(ratio, handle=turn.handle, travel=turn.travel)


def _outside(missed: tuple[str, ...], pumps: tuple[str, ...]) -> str:
    said = []
    if missed:
        said.append(f"outside what is wanted: {', '.join(missed)}")
    if pumps:
        said.append(f"outside its useful range: {', '.join(pumps)}")
    return "; ".join(said) or "each is within what is wanted"


def _strayed(share: float) -> str:
    return f"; on average {percent(share)} from the flows before"


def _columns(holding: Holding, system: UnitSystem) -> tuple[Column, ...]:
    flow = system.unit("flow")
    return (
        Column("branch", "words"),
        Column(f"wanted\n{flow}"),
        Column(f"before\n{flow}", "decimal"),
        Column(f"left alone\n{flow}", "decimal"),
        *(Column(f"{name}\n{flow}", "decimal") for name, _ in _remedies(holding)),
    )


def _remedies(holding: Holding) -> list[tuple[str, Remedy]]:
    both = (("one move", holding.single), ("two moves", holding.pair))
    return [(name, remedy) for name, remedy in both if remedy is not None]


def _rows(holding: Holding, system: UnitSystem) -> Iterator[tuple[str | Text, ...]]:
    for place, other in enumerate(holding.others):
        flows = [remedy.flows[place] for _, remedy in _remedies(holding)]
        every = (other.before, other.disturbed, *flows)
        if not other.asked and not any(every):
            continue  # a spare that stays shut
        wanted = (None, None) if other.asked == "held" else (other.low, other.high)
        yield (
            other.branch,
            between(system, *wanted),
            *(Text(bare(system, flow, "flow"), style=_style(other, flow)) for flow in every),
        )


def _style(other: Remaining, flow: float) -> str:
    low = other.low is not None and flow < other.low * (1.0 - ROUNDING)
    high = other.high is not None and flow > other.high * (1.0 + ROUNDING)
    return "yellow" if low or high else ""


def _lines(name: str, holding: Holding) -> Iterator[tuple[str | Text, ...]]:
    """A line for the one move, and one for the two where they are told."""
    if _holds_nothing(holding):
        yield name, "nothing else to hold", "", ""
        return
    if holding.leave:
        yield name, Text(LEAVE, style="green"), "", "all within"
        return
    if holding.single is None:
        yield name, NONE, "", _count(holding)
    for _, remedy in _remedies(holding):
        first = remedy is holding.single
        moves = ",\n".join(_brief(turn) for turn in remedy.turns)
        yield (
            name if first else "",
            moves if first else f"or {moves}",
            percent(remedy.undone),
            _count(remedy),
        )


def _count(then: Holding | Remedy) -> str:
    outside = len(then.missed) + len(then.outside)
    return f"{outside} outside" if outside else "all within"
