"""Where each handle goes: the page to act on."""

from __future__ import annotations

from collections.abc import Iterator

from rich.text import Text

from balance.plan.openings import opening_words
from balance.questions.settings import Settings
from balance.questions.settings.answer import Bleed, BranchFlow, HandleMark
from balance.show.cautions import before_turning
from balance.show.page import Column, Page
from balance.show.pumps import pump_lines
from balance.show.terminal import page
from balance.show.words import bare, between, percent, seconds
from balance.units import SYSTEMS, UnitSystem

_PLAIN_BUCKET = "bucket"  # a branch that is read the usual way


def show(answer: Settings) -> None:
    """Print what `write` has to say."""
    with page() as to:
        write(to, answer)


def write(to: Page, answer: Settings) -> None:
    """Write handles with the flows they give, pumps, what stands in the way, and cautions."""
    system = SYSTEMS[answer.plan.units]
    to.title(f"{answer.title or 'This plan'}: where each handle goes")
    to.table(_columns(answer, system), _rows(answer, system))
    for line in _below(answer):
        to.print(line, style="dim")
    to.section(
        "Pump" if len(answer.pumps) == 1 else "Pumps",
        pump_lines(answer.pumps, answer.plan, system),
    )
    if not answer.met:
        to.section("What cannot be met", _missed(answer, system))
        to.section("What stands in the way", answer.binding)
        to.section("Single changes, each tried", _changes(answer))
    to.section("Together", _totals(answer, system))
    to.section("Too coarse to set well", _coarse(answer))
    to.section("To bring the pump back into its range", _range(answer, system))
    to.section("How to read them", _reading(answer))
    to.notes(answer.notes)
    to.beware("Before you turn them", before_turning(answer.plan))


def _columns(answer: Settings, system: UnitSystem) -> tuple[Column, ...]:
    flow = system.unit("flow")
    steps = _steps(answer)
    step = f"{next(iter(steps))}\nmoves" if len(steps) == 1 else "a step\nmoves"
    return (
        Column("valve", "words"),
        Column("turn to"),
        Column("open\nby"),
        Column(f"then\n{flow}", "decimal"),
        Column(f"wanted\n{flow}"),
        Column(step),
        Column("bucket"),
        Column("takes"),
        Column("", "words"),
    )


def _steps(answer: Settings) -> dict[str, list[str]]:
    """Branches by what a step of their handles is, the commonest first."""
    steps: dict[str, list[str]] = {}
    for branch in answer.branches:
        if branch.flow_per_step is not None:
            steps.setdefault(branch.step, []).append(branch.branch)
    return dict(sorted(steps.items(), key=lambda item: -len(item[1])))


def _rows(answer: Settings, system: UnitSystem) -> Iterator[tuple[str | Text, ...]]:
    """A row for each branch in use, then for each handle elsewhere; idle spares are left out."""
    handles = {handle.valve: handle for handle in answer.handles}
    for branch in answer.branches:
        handle = handles.pop(branch.valve, None) if branch.valve is not None else None
        if not _is_idle(branch, handle):
            yield _branch_row(branch, handle, system)
    in_branches = {branch.branch for branch in answer.branches}
    for handle in handles.values():
        if handle.stretch not in in_branches:
            yield (
                handle.valve, _turn_to(handle), percent(handle.opening), *[""] * 5,
                handle.role if handle.role != "set" else f"in {handle.stretch}",
            )  # fmt: skip


def _is_idle(branch: BranchFlow, handle: HandleMark | None) -> bool:
    """Whether a branch is asked nothing, carries nothing and stays as it is."""
    stays = handle is None or handle.role != "set"
    return not branch.asked and branch.flow == 0.0 and stays


def _branch_row(
    branch: BranchFlow, handle: HandleMark | None, system: UnitSystem
) -> tuple[str | Text, ...]:
    timed = branch.bucket_time is not None
    return (
        branch.branch,
        "no valve" if handle is None else _turn_to(handle),
        "" if handle is None else percent(handle.opening),
        bare(system, branch.flow, "flow"),
        between(system, branch.low, branch.high),
        "" if branch.flow_per_step is None else percent(branch.flow_per_step, 3),
        branch.bucket if timed else "",
        seconds(branch.bucket_time) if branch.bucket_time is not None else "",
        _remark(branch, handle),
    )


def _turn_to(handle: HandleMark) -> str:
    return opening_words(handle.opening, handle=handle.handle, travel=handle.travel)


def _remark(branch: BranchFlow, handle: HandleMark | None) -> Text:
    said = Text()
    for word, style, holds in (
        (_miss(branch), "bold red", not branch.met),
        ("limit", "bold red", not branch.within_limits),
        ("index", "bold", branch.index),
        ("coarse", "yellow", branch.coarse),
        (handle.role if handle else "", "dim", handle is not None and handle.role != "set"),
    ):
        if holds:
            said.append(", " if said else "")
            said.append(word, style=style)
    return said


def _miss(branch: BranchFlow) -> str:
    """In a word, how a branch misses its target."""
    if branch.flow == 0.0:
        return "dry"
    return "short" if branch.is_short else "over"


def _below(answer: Settings) -> Iterator[str]:
    """What explains the table, where it needs it."""
    handles = {handle.valve: handle for handle in answer.handles}
    idle = [
        branch.branch
        for branch in answer.branches
        if _is_idle(branch, handles.get(branch.valve or ""))
    ]
    steps = _steps(answer)
    if len(steps) > 1:
        first, *others = steps
        said = "; ".join(f"{step} on {', '.join(steps[step])}" for step in others)
        yield f"A step of the handle is {first}; {said}."
    if idle:
        yield f"As they are, without flow: {', '.join(idle)}."
    if any(branch.index for branch in answer.branches):
        yield "index: the branch with the least head to spare; its valve stands wide open."
    if any(branch.coarse for branch in answer.branches):
        yield "coarse: what a hand may be off moves the flow by more than half its tolerance."


def _missed(answer: Settings, system: UnitSystem) -> Iterator[str]:
    yield from answer.out_of_reach
    told = " ".join(answer.out_of_reach)
    for branch in answer.branches:
        bound = branch.low if branch.is_short else branch.high
        if not branch.met and branch.flow == 0.0:
            if f'"{branch.branch}"' not in told:
                yield f"{branch.branch}: no water at all"
        elif not branch.met and bound is not None:
            yield (
                f"{branch.branch}: {_apart(system, branch.flow, bound)}, "
                f"{percent(branch.missing)} of its target"
            )
        if not branch.within_limits:
            limits = between(system, *branch.limits)
            yield (
                f"{branch.branch}: {system.text(branch.flow, 'flow')} breaks its limits "
                f"({limits} {system.unit('flow')})"
            )
    for total in answer.totals:
        bound = total.low if total.low is not None and total.flow < total.low else total.high
        if not total.met and bound is not None:
            yield f"{total.group} together: {_apart(system, total.flow, bound)}"


def _apart(system: UnitSystem, flow: float, bound: float) -> str:
    """How far a flow lies from what would do: "22.5 gph too little"."""
    return f"{system.text(abs(bound - flow), 'flow')} too {'little' if flow < bound else 'much'}"


def _totals(answer: Settings, system: UnitSystem) -> Iterator[str]:
    for total in answer.totals:
        wanted = between(system, total.low, total.high)
        yield (
            f"{total.group} ({', '.join(total.branches)}): {system.text(total.flow, 'flow')}, "
            f"wanted {wanted} {system.unit('flow')}"
        )


_ALL_BUT = 0.995  # of what is missing, which would be printed as 100 % and is not


def _changes(answer: Settings) -> Iterator[str]:
    for place, change in enumerate(answer.changes):
        closed = 1.0 - change.missed / change.missed_before if change.missed_before else 0.0
        said = ["meets all targets"] if change.meets_all else []
        if not change.meets_all and change.meets:
            said.append(f"meets {', '.join(change.meets)}")
        if not change.meets_all and closed > 0.0:
            share = "all but a hair" if closed >= _ALL_BUT else percent(closed)
            said.append(f"closes {share} of what is missing")
        best = " (helps most)" if place == 0 and len(answer.changes) > 1 else ""
        yield f"{change.text}: {' and '.join(said)}{best}"
    if answer.tried:
        yield (
            f"{'of' if answer.changes else 'none helps much: of'} little use (less than a tenth "
            "of what is missing, about what the data are sure of, and no further target): "
            f"{'; '.join(answer.tried)}"
        )


def _coarse(answer: Settings) -> Iterator[str]:
    handles = {handle.valve: handle for handle in answer.handles}
    for branch in answer.branches:
        # While targets are missed, the plumbing changes first and the handles with it.
        if not branch.coarse or not (answer.met or branch.lost_to_rounding):
            continue
        now = f"{branch.step} moves {percent(branch.flow_per_step, 3)}"
        handle = handles.get(branch.valve or "")
        if branch.remedy is None or handle is None:
            spindle = handle is not None and handle.handle == "turns"
            finer = "a smaller valve" if spindle else "a valve that opens in more turns"
            yield f"{branch.branch}: {now}; {finer} would be finer"
        else:
            yield (
                f"{branch.branch}: {now}; {branch.remedy.text}, then the valve stands at about "
                f"{_about(handle, branch.remedy.opening)} and {branch.step} moves "
                f"{percent(branch.remedy.flow_per_step, 3)}"
            )


def _about(handle: HandleMark, opening: float) -> str:
    """An opening as a hand would set it: whole degrees and percents, eighths of a turn."""
    unit = 0.125 if handle.handle == "turns" else 1.0
    nearest = max(round(opening * handle.travel / unit), 1) * unit / handle.travel
    return opening_words(nearest, handle=handle.handle, travel=handle.travel)


def _range(answer: Settings, system: UnitSystem) -> Iterator[str]:
    for pump in answer.pumps:
        if pump.in_useful_range is not False or pump.useful_range is None or pump.speed == 0.0:
            continue
        if answer.bleed is not None and answer.bleed.pump == pump.pump:
            yield _bleed(answer, answer.bleed, system)
        elif pump.flow < pump.useful_range[0]:
            yield (
                f"{pump.pump} is too strong for so little: a smaller pump, a slower one, or a "
                'branch to the sump, with a valve and target = ">= 0 gph", that takes the rest'
            )
        else:
            yield f"{pump.pump} is too weak for so much: a larger pump, or less asked of it"


def _bleed(answer: Settings, bleed: Bleed, system: UnitSystem) -> str:
    handle = next((handle for handle in answer.handles if handle.valve == bleed.valve), None)
    where = (
        percent(bleed.opening)
        if handle is None
        else opening_words(bleed.opening, handle=handle.handle, travel=handle.travel)
    )
    others = (
        "; what was met stays so"
        if bleed.meets
        else f". The others then get up to {percent(bleed.loss)} less: to have them set for it, "
        f'write target = ">= 0 gph" in "{bleed.branch}" and ask again'
    )
    return (
        f"open {bleed.valve} to {where}: it then carries {system.text(bleed.flow, 'flow')} and "
        f"{bleed.pump} runs within its useful range{others}"
    )


def _reading(answer: Settings) -> Iterator[str]:
    """Branches by how they are read, where a bucket under the outlet does not do."""
    by_way: dict[str, list[str]] = {}
    for branch in answer.branches:
        if branch.bucket_time is not None and branch.read_by != _PLAIN_BUCKET:
            by_way.setdefault(branch.read_by, []).append(branch.branch)
    for way, branches in by_way.items():
        yield f"{', '.join(branches)}: {way}"
