"""What happens when branches are shut, on a page."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rich.text import Text

from balance.questions.close import Close
from balance.questions.close.answer import BranchChange, Case, Harm, HeadMove, PumpMove
from balance.show import dead_head, holding, interaction
from balance.show.page import Column, Page
from balance.show.terminal import page
from balance.show.words import NONE, bare, percent, signed, tiny
from balance.units import SYSTEMS, UnitSystem

WORST = 6  # pairs that the page shows

_LESSER_KINDS = {
    "too little": "too little",
    "too much": "too much",
    "air": "may draw in air",
}
_GRAVE, _LESSER = "bold red", "yellow"


def show(answer: Close) -> None:
    """Print what `write` has to say."""
    with page() as to:
        write(to, answer)


def write(to: Page, answer: Close) -> None:
    """Write what each case does to branches, pumps and headers, and what it breaks."""
    if answer.cases:
        _show_cases(to, answer, SYSTEMS[answer.plan.units])
    if answer.interaction is not None:
        if answer.cases:
            to.print()
        interaction.show(to, answer.interaction)


def _show_cases(to: Page, answer: Close, system: UnitSystem) -> None:
    to.title(f"{answer.title or 'This plan'}: {_heading(answer)}")
    if answer.each:
        for line in _as_it_stands(answer, system):
            to.print(line)
            to.print()
        _summary(to, answer, answer.cases, system)
        _harms(to, answer.cases, system)
        mends = (*_moving_again(answer), *_back_in_range(answer, answer.cases, system))
        to.section("What mends", mends)
        _percents(to, answer.cases)
        named = [(case.label, case.holding) for case in answer.cases if case.holding]
        if named:
            holding.show_each(to, named)
    else:
        for place, case in enumerate(answer.cases):
            if place:
                to.print()
                to.title(_done(case))
            _in_full(to, case, system)
    if answer.pairs:
        _pairs(to, answer, system)
    if answer.each or any(_stops(case) for case in answer.cases):
        dead_head.show(to, answer, system)
    to.section("As it stands already", _already(answer.already))
    to.notes(answer.notes)
    to.print()
    to.print(
        "Flows balance within "
        f"{tiny(system, answer.worst_imbalance, 'flow')} {system.unit('flow')}, heads close "
        f"within {tiny(system, answer.worst_mismatch, 'head')} {system.unit('head')}, in every "
        "case.",
        style="dim",
    )


def _heading(answer: Close) -> str:
    if not answer.each:
        return _done(answer.cases[0])
    turned = {done.mark for case in answer.cases for done in case.done if done.what == "turned"}
    if turned:
        return f"what happens when a branch is turned to {' or '.join(sorted(turned))}"
    return "what happens when a branch is shut"


def _done(case: Case) -> str:
    """What a case does, as a heading says it."""
    said = []
    shut = [done.name for done in case.done if done.what == "shut"]
    if shut:
        said.append(f"{_and(shut)} shut")
    marks = dict.fromkeys(done.mark for done in case.done if done.what == "turned")
    for mark in marks:
        names = [done.name for done in case.done if done.what == "turned" and done.mark == mark]
        said.append(f"{_and(names)} turned to {mark}")
    said += [
        f"{done.name} clogged, losing {percent(done.more)} more"
        for done in case.done
        if done.what == "clogged"
    ]
    return ", ".join(said)


def _and(names: Sequence[str]) -> str:
    *first, last = names
    return f"{', '.join(first)} and {last}" if first else last


def _as_it_stands(answer: Close, system: UnitSystem) -> Iterator[str]:
    said = [
        f"{pump.pump} moves {system.text(pump.flow, 'flow')} at {system.text(pump.head, 'head')}"
        for pump in answer.pumps
    ]
    said += [
        f"there are {system.text(head.head, 'head')} of head at {head.joint}"
        for head in answer.heads[:1]
        if head.head is not None
    ]
    if said:
        yield f"As it stands {', and '.join(said)}."


# Every branch in turn ---------------------------------------------------------------------------


def _summary(to: Page, answer: Close, cases: Sequence[Case], system: UnitSystem) -> None:
    """One row a case: who rises most, where the pump goes, whether something breaks."""
    flow, head = system.unit("flow"), system.unit("head")
    pump = answer.pumps[0].pump if len(answer.pumps) == 1 else ""
    joint = answer.heads[0].joint if answer.heads else ""
    columns = (
        Column(_first(cases), "words"),
        Column("who rises\nmost", "words"),
        Column(f"by\n{flow}"),
        Column("by\nshare"),
        Column(f"{pump or 'in all'}\n{flow}"),
        Column(f"at\n{head}"),
        Column("its\nrange"),
        Column(f"{joint}\n{head}"),
        Column("", "words"),
    )
    to.table(columns, (_row(case, system, one_pump=bool(pump)) for case in cases))
    if joint:
        to.print(f"{joint}: how much more head there is where the header begins.", style="dim")
    if len(answer.pumps) > 1:
        _pump_table(to, cases, system)


def _pump_table(to: Page, cases: Sequence[Case], system: UnitSystem) -> None:
    """Where each of several pumps goes, one row a case."""
    columns = [Column(_first(cases), "words")]
    for pump in cases[0].pumps:
        columns.append(Column(f"{pump.pump}\n{system.unit('flow')}"))
        columns.append(Column(f"at\n{system.unit('head')}"))
    to.print()
    to.heading("Pumps")
    to.table(
        columns,
        (
            (
                case.label,
                *(
                    figure
                    for pump in case.pumps
                    for figure in (bare(system, pump.flow, "flow"), bare(system, pump.head, "head"))
                ),
            )
            for case in cases
        ),
    )


def _first(cases: Sequence[Case]) -> str:
    """Heading of the column that names cases."""
    turned = any(done.what == "turned" for case in cases for done in case.done)
    return "turned" if turned else "shut"


def _row(case: Case, system: UnitSystem, *, one_pump: bool) -> tuple[str | Text, ...]:
    most = case.most
    return (
        case.label,
        most.branch if most else "none",
        signed(bare(system, most.change, "flow")) if most else NONE,
        _by(most) if most else NONE,
        bare(system, case.pumps[0].flow if one_pump else case.pumped, "flow"),
        bare(system, case.pumps[0].head, "head") if one_pump else "",
        case.pumps[0].place or "" if one_pump else "",
        _rise(case.heads[:1], system),
        _verdict(case),
    )


def _by(change: BranchChange) -> str:
    if change.by is not None:
        return signed(percent(change.by))
    return "turns" if change.before else "from 0"


def _rise(heads: Sequence[HeadMove], system: UnitSystem) -> str:
    return "".join(signed(bare(system, head.rise, "head")) for head in heads)


def _verdict(case: Case) -> Text:
    if case.harmed:
        return Text("BREAKS", style=_GRAVE)
    if not case.harms:
        return Text("no harm", style="green")
    return Text("misses" if any(_misses(harm) for harm in case.harms) else "air", style=_LESSER)


def _misses(harm: Harm) -> bool:
    return harm.kind in ("too little", "too much")


def _harms(to: Page, cases: Sequence[Case], system: UnitSystem) -> None:
    """What breaks, case by case; then what is only missed, branch by branch."""
    grave = [
        Text.assemble(
            (f"{_done(case)}: ", "bold"),
            "\n".join(harm.text for harm in case.harms if harm.severe),
        )
        for case in cases
        if case.harmed
    ]
    to.section("What breaks", grave or ["nothing that is whole as it stands"])
    lesser: dict[tuple[str, str], list[Case]] = {}
    for case in cases:
        for harm in case.harms:
            if not harm.severe:
                lesser.setdefault((harm.name, harm.kind), []).append(case)
    told = (_lesser(*what, among, system) for what, among in lesser.items())
    to.section("What misses its target, or may draw in air", told)


def _lesser(name: str, kind: str, cases: Sequence[Case], system: UnitSystem) -> str:
    """One thing that is missed, and in which cases."""
    when = _any_of(cases)
    if kind == "air":
        return f"{name} may draw in air {when}"
    flows = [change.flow for case in cases for change in case.branches if change.branch == name]
    if not flows:  # it is a group
        return f"{name} together get {kind} {when}"
    worst = max(flows) if kind == "too much" else min(flows)
    side = "up to" if kind == "too much" else "down to"
    return f"{name} gets {kind}, {side} {system.text(worst, 'flow')}, {when}"


def _any_of(cases: Sequence[Case]) -> str:
    """Cases as a sentence ends with them: "with a, b or c shut"."""
    *first, last = [case.label for case in cases]
    names = f"{', '.join(first)} or {last}" if first else last
    ends = {_end(case) for case in cases}
    return f"with {names} {ends.pop() if len(ends) == 1 else ''}".rstrip()


def _end(case: Case) -> str:
    """What is done to all that a case names, where that is one thing."""
    ends = {done.what if done.what == "shut" else f"turned to {done.mark}" for done in case.done}
    return ends.pop() if len(ends) == 1 and all(d.what != "clogged" for d in case.done) else ""


def _moving_again(answer: Close) -> Iterator[str]:
    """Pumps that water runs back through, and that move it again."""
    for duty in answer.pumps:
        moves = [
            case
            for case in answer.cases
            for pump in case.pumps
            if pump.pump == duty.pump and pump.flow_before < 0.0 < pump.flow
        ]
        if moves:
            yield f"{duty.pump} moves water again {_any_of(moves)}"


def _back_in_range(answer: Close, cases: Sequence[Case], system: UnitSystem) -> Iterator[str]:
    """Pumps that stand outside their useful range and come back into it."""
    for duty in answer.pumps:
        if duty.useful_range is None or duty.in_useful_range:
            continue
        back = [
            case
            for case in cases
            for pump in case.pumps
            if pump.pump == duty.pump and pump.place == "inside"
        ]
        if back:
            low, high = duty.useful_range
            yield (
                f"{duty.pump} comes back into its useful range of {bare(system, low, 'flow')} to "
                f"{system.text(high, 'flow')} {_any_of(back)}"
            )


def _percents(to: Page, cases: Sequence[Case]) -> None:
    """Every branch with water, of every case, in percent; where that fits the page."""
    numbers = {change.branch: str(n) for n, change in enumerate(_watered(cases), start=1)}
    rows = [
        (
            f"{numbers.get(case.label, '')} {case.label}".lstrip(),
            *(_share(change) for change in case.branches if change.branch in numbers),
        )
        for case in cases
    ]
    columns = (Column(_first(cases), "words"), *(Column(number) for number in numbers.values()))
    widths = [max(len(row[place]) for row in rows) for place in range(len(columns))]
    if sum(widths) + 2 * (len(widths) - 1) > to.width:
        return
    to.print()
    to.heading("How each branch changes, in percent")
    to.table(columns, rows)
    others = [f"{number} {name}" for name, number in numbers.items() if name not in _labels(cases)]
    if others:
        to.print(", ".join(others), style="dim")


def _watered(cases: Sequence[Case]) -> Iterator[BranchChange]:
    """The branches that have water before or after any of some cases."""
    for change, *more in zip(*(case.branches for case in cases), strict=True):
        if any(each.before or each.flow for each in (change, *more)):
            yield change


def _labels(cases: Sequence[Case]) -> set[str]:
    return {case.label for case in cases}


def _share(change: BranchChange) -> str:
    if change.part == "shut":
        return "shut"
    return _by(change).removesuffix(" %") if change.before or change.flow else NONE


# Cases in full ----------------------------------------------------------------------------------


def _in_full(to: Page, case: Case, system: UnitSystem) -> None:
    """Every branch of a case before and then, its pumps and headers, what breaks."""
    flow = system.unit("flow")
    columns = (
        Column("branch", "words"),
        Column(f"before\n{flow}", "decimal"),
        Column(f"then\n{flow}", "decimal"),
        Column(f"change\n{flow}", "decimal"),
        Column("by\nshare"),
        Column("", "words"),
    )
    to.table(columns, (_branch(case, change, system) for change in case.branches))
    to.section("Pump" if len(case.pumps) == 1 else "Pumps", (_pump(p, system) for p in case.pumps))
    to.section("Head where headers begin", (_head(h, system) for h in case.heads))
    grave = [harm.text for harm in case.harms if harm.severe]
    to.section("What breaks", grave or ["nothing that is whole as it stands"])
    lesser = [harm.text for harm in case.harms if not harm.severe]
    to.section("What misses its target, or may draw in air", lesser)
    if case.holding is not None:
        holding.show_one(to, case.holding, system)


def _branch(case: Case, change: BranchChange, system: UnitSystem) -> tuple[str | Text, ...]:
    return (
        change.branch,
        bare(system, change.before, "flow"),
        bare(system, change.flow, "flow"),
        signed(bare(system, change.change, "flow")),
        _by(change) if change.before or change.flow else NONE,
        _remark(case, change),
    )


def _remark(case: Case, change: BranchChange) -> Text:
    if change.part:
        return Text(change.part, style="bold")
    harms = [harm for harm in case.harms if harm.name == change.branch]
    if any(harm.severe for harm in harms):
        return Text("BREAKS", style=_GRAVE)
    if harms:
        return Text(harms[0].kind, style=_LESSER)
    return Text("rises most") if change is case.most else Text("")


def _pump(pump: PumpMove, system: UnitSystem) -> str:
    if pump.place == "stopped":
        return f"{pump.pump}: stopped"
    said = (
        f"{pump.pump}: from {system.text(pump.flow_before, 'flow')} at "
        f"{system.text(pump.head_before, 'head')} to {system.text(pump.flow, 'flow')} at "
        f"{system.text(pump.head, 'head')}"
    )
    if pump.flow <= 0.0 or pump.place is None or pump.place_before is None:
        return said
    before, now = (_where(place) for place in (pump.place_before, pump.place))
    return f"{said}\n" + (
        f"{now} its useful range, as before"
        if before == now
        else f"{now} its useful range, {before} before"
    )


def _where(place: str) -> str:
    return place if place == "inside" else place.upper()


def _head(head: HeadMove, system: UnitSystem) -> str:
    if head.before is None or head.head is None or head.rise is None:
        return f"{head.joint}: everything around it is shut"
    return (
        f"{head.joint}: from {system.text(head.before, 'head')} to "
        f"{system.text(head.head, 'head')}, {signed(system.text(head.rise, 'head'))}"
    )


def _stops(case: Case) -> bool:
    """Whether a pump turns and moves no water."""
    return any(harm.kind == "dead head" for harm in case.harms)


# Pairs, and what is so already ------------------------------------------------------------------


def _pairs(to: Page, answer: Close, system: UnitSystem) -> None:
    worst = answer.pairs[:WORST]
    harmed = sum(pair.harmed for pair in answer.pairs)
    to.print()
    to.heading("Two at a time")
    breaks = f"{harmed} of them break something" if harmed else "none of them breaks anything"
    solved = f"All {len(answer.pairs)} pairs are solved; {breaks}"
    to.print(f"{solved}. The worst:" if len(worst) < len(answer.pairs) else f"{solved}.")
    to.print()
    _summary(to, answer, worst, system)
    _harms(to, worst, system)


def _already(harms: Sequence[Harm]) -> Iterator[str]:
    """What is broken as the plan stands, grave ones in full and others by name."""
    for harm in harms:
        if harm.severe:
            yield harm.text
    for kind, words in _LESSER_KINDS.items():
        names = [harm.name for harm in harms if harm.kind == kind]
        if names:
            yield f"{words}: {', '.join(names)}"
