"""What one mark of each handle does, as a table, and what it means, in words."""

from __future__ import annotations

from collections.abc import Iterator

from rich.text import Text

from balance.questions.close.interaction import Handle, Interaction, Trimming
from balance.show.page import Column, Page
from balance.show.words import percent

_HEADING = "percent of flow"
_CELL = 6  # columns that a figure takes with its gap
_OFF = 0.1  # by which branches are told to be off, as an example
_HARDLY_SETTLES = 0.9  # of the misses, that is left by each round
_WORTH_TURNING_FURTHER = 0.9  # of a move, that is left once the others are back


def show(to: Page, answer: Interaction) -> None:
    """Prints the matrix, its legend, and what it means."""
    to.title(f"{answer.title or 'This plan'}: what one mark of each handle does")
    _matrix(to, answer)
    for line in _legend(answer):
        to.print(line, style="dim")
    to.section("What it means", _meaning(answer))


def _matrix(to: Page, answer: Interaction) -> None:
    """The table, in pieces of as many handles as fit beside the branches' names."""
    names = [f"{number} {branch}" for number, branch in enumerate(answer.branches, start=1)]
    room = to.width - max(map(len, (*names, _HEADING))) - 1
    most = max(1, room // _CELL)
    numbers = _numbers(answer)
    for first in range(0, len(answer.handles), most):
        places = range(first, min(first + most, len(answer.handles)))
        if first:
            to.print()
        to.table(
            (
                Column(_HEADING, "words"),
                *(Column(str(numbers[answer.handles[place].handle])) for place in places),
            ),
            (
                (name, *(_cell(answer, row, place) for place in places))
                for row, name in enumerate(names)
            ),
        )


def _numbers(answer: Interaction) -> dict[str, int]:
    """Numbers of handles: that of their branch, and others after all branches."""
    row = {branch: number for number, branch in enumerate(answer.branches, start=1)}
    following = iter(range(len(row) + 1, len(row) + len(answer.handles) + 1))
    return {
        handle.handle: row[handle.branch] if handle.branch in row else next(following)
        for handle in answer.handles
    }


def _cell(answer: Interaction, row: int, place: int) -> Text:
    value = 100.0 * answer.change[row][place]
    if answer.handles[place].branch == answer.branches[row]:
        return Text(f"[{_figure(value)}]", style="bold")
    return Text(f"{'+' if value >= 0.005 else ''}{_figure(value)}")


def _figure(value: float) -> str:
    """Two digits: "0.23", "-1.7", "13"; hundredths at the finest."""
    size = abs(value)
    if size < 0.005:
        return "0"
    return f"{value:.{2 if size < 0.995 else 1 if size < 9.95 else 0}f}"


def _legend(answer: Interaction) -> Iterator[str]:
    if not answer.handles:
        yield "As they stand, no handle moves any flow."
        yield from _left_out(answer)
        return
    yield (
        "By how much one mark of opening changes each branch (row), in percent of its flow; "
        "in brackets a branch's own handle."
    )
    numbers = _numbers(answer)
    marks: dict[str, list[str]] = {}
    for handle in answer.handles:
        if handle.kind == "valve":
            marks.setdefault(handle.mark, []).append(handle.handle)
    if marks:
        usual = max(marks, key=lambda mark: len(marks[mark]))
        others = "".join(
            f"; {mark} on {', '.join(names)}" for mark, names in marks.items() if mark != usual
        )
        yield f"A mark is {usual} of the handle{others}."
    named = [h for h in answer.handles if h.branch not in (h.handle, None) or h.branch is None]
    if named:
        yield "; ".join(f"{numbers[h.handle]}: {_named(h)}" for h in named) + "."
    back = [handle.handle for handle in answer.handles if handle.at_its_end]
    if back:
        yield f"At its end, so that it can only be turned back: {', '.join(back)}."
    yield from _left_out(answer)


def _named(handle: Handle) -> str:
    if handle.kind == "pump":
        return f"{handle.handle}, {handle.mark} more"
    return f"valve {handle.handle}"


def _left_out(answer: Interaction) -> Iterator[str]:
    """Each name once: that of a branch's handle tells of the branch too."""
    by_why: dict[str, list[str]] = {}
    told: set[str] = set()
    for each in sorted(answer.left_out, key=lambda each: each.kind, reverse=True):
        if each.name not in told:
            told.add(each.name)
            by_why.setdefault(each.why, []).append(each.name)
    for why, names in by_why.items():
        yield f"Left out, {why}: {', '.join(names)}."


def _meaning(answer: Interaction) -> Iterator[str]:
    trimming = answer.trimming
    if not answer.handles:
        return
    if trimming is None:
        yield "there are no two branches with flow and a handle of their own to trim"
    elif trimming.hardly:
        yield (
            f"the branches hardly disturb one another: trimming all others by {percent(_OFF)} "
            f"moves none by more than {percent(_OFF * trimming.disturbed)}"
        )
        yield "trim each once, in any order"
    else:
        yield f"trim in this order, each to its flow, then begin again: {', '.join(trimming.order)}"
        yield from _from_here(trimming)
        yield from _rounds(trimming)
        yield from _disturbed(answer, trimming)
        yield from _turn_further(answer)
    for handle in answer.handles:
        if handle.branch is None:
            yield from _common(answer, handle)
    yield "all of it holds for small moves from where the handles stand; after large ones ask again"


def _from_here(trimming: Trimming) -> Iterator[str]:
    if trimming.rounds == 0:
        yield "as they stand, all that are asked for a flow are within tolerance"
    elif trimming.rounds is not None:
        rounds = "one round brings" if trimming.rounds == 1 else f"{trimming.rounds} rounds bring"
        yield f"from where they stand, {rounds} all that are asked for a flow within tolerance"


def _rounds(trimming: Trimming) -> Iterator[str]:
    one, two, three = (percent(_OFF * share) for share in trimming.left)
    first, second, third = (percent(_OFF * share) for share in trimming.left_reversed)
    yield (
        f"where none is off by more than {percent(_OFF)}, none is by more than {one} after one "
        f"round, {two} after two, {three} after three; in the reverse order {first}, {second} and "
        f"{third}"
    )
    yield (
        f"each further round leaves {percent(trimming.each_round)} of what they were off; "
        f"turning all at once after one reading of all, {percent(trimming.all_at_once)}"
    )
    if trimming.each_round > _HARDLY_SETTLES:
        yield (
            "so rounds hardly come to rest: what one branch gains, the others lose; leave one of "
            "them as it comes"
        )


def _disturbed(answer: Interaction, trimming: Trimming) -> Iterator[str]:
    yield (
        f"{trimming.most_disturbed} is disturbed most: trimming all others by {percent(_OFF)} can "
        f"move it by {percent(_OFF * trimming.disturbed)}"
    )
    shares = [
        (handle.strongest_share, handle)
        for handle in answer.handles
        if handle.branch in trimming.order and handle.strongest_share is not None
    ]
    share, handle = max(shares, key=lambda pair: abs(pair[0]))
    takes, source = ("takes", "from") if share < 0.0 else ("gives", "to")
    yield (
        f"{handle.branch} disturbs most: for each {percent(_OFF)} that it gains it {takes} "
        f"{percent(abs(_OFF * share))} {source} {handle.strongest}"
    )


def _turn_further(answer: Interaction) -> Iterator[str]:
    known = [(handle.kept, handle) for handle in answer.handles if handle.kept is not None]
    if not known:
        return
    kept, handle = min(known, key=lambda pair: pair[0])
    if 0.0 < kept < _WORTH_TURNING_FURTHER:
        yield (
            f"once all others are back at their flows, {handle.branch} keeps only {percent(kept)} "
            f"of what it gained: turn {handle.handle} {1.0 / kept:.1f} times as far"
        )


def _common(answer: Interaction, handle: Handle) -> Iterator[str]:
    place = answer.handles.index(handle)
    column = [100.0 * row[place] for row in answer.change]
    low, high = min(column), max(column)
    if column and low > 0.0:
        yield f"{handle.handle} moves all of them one way, by {_figure(low)} to {_figure(high)} %"
