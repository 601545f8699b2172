"""What to shut so that a valve can be taken out, and who loses flow, on one page."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rich.text import Text

from balance.questions.close.isolation import CutOff, FlowChange, Isolation, Standing, Way
from balance.show.cautions import CHECK_VALVE, ELECTRICITY
from balance.show.page import Column, Page
from balance.show.terminal import page
from balance.show.words import bare, percent
from balance.units import SYSTEMS, UnitSystem


def show(answer: Isolation) -> None:
    """Prints what to do, what flows then, and what each valve cuts off."""
    system = SYSTEMS[answer.plan.units]
    with page() as to:
        to.title(f"{answer.title or 'This plan'}: {_valve(answer)} stuck, or taken out")
        for place, way in enumerate(answer.ways):
            if place:
                to.print()
            to.heading(_heading(answer, way))
            to.listing(_to_do(way))
            _flows(to, way, system)
        to.section("Taking it out", _taking_out(answer))
        to.section("What each valve cuts off when it is shut alone", _cut_offs(answer))


def _valve(answer: Isolation) -> str:
    if answer.valve == answer.stretch:
        return f"the valve of {answer.stretch}"
    return f"{answer.valve} in {answer.stretch}"


def _heading(answer: Isolation, way: Way) -> str:
    if len(answer.ways) == 1:
        return "To keep all water under pressure from it"
    if way.kind == "fewest":
        return "To keep all water under pressure from it, with the fewest handles"
    return "To keep all water under pressure from it, and the most running"


def _to_do(way: Way) -> Iterator[str | Text]:
    if not (way.stop or way.shut or way.standing):
        yield "nothing need be shut: no water under pressure comes to it"
    for pump in way.stop:
        why = (
            "with these shut it would turn without flow"
            if pump in way.dead_headed
            else "no valve stands between"
        )
        yield _first(f"stop {pump}", f": {why}")
    if way.shut:
        yield _first(f"shut {', '.join(way.shut)}", _checked(way))
    for standing in way.standing:
        yield _stand(standing)
    if way.keep_shut:
        yield f"leave shut: {', '.join(way.keep_shut)}"


def _checked(way: Way) -> str:
    if not way.checked:
        return ""
    return f"; at {', '.join(way.checked)} a check valve stands too, but do not trust one alone"


def _first(what: str, why: str = "") -> Text:
    return Text.assemble((what, "bold"), why)


def _stand(standing: Standing) -> Text:
    if standing.end == "outlet":
        what = f"lift the outlet of {standing.stretch} out of the water of {standing.vessel}"
    else:
        what = f"plug the inlet of {standing.stretch} in {standing.vessel}, or let its water down"
    why = (
        ": only a check valve stands between, do not trust one alone"
        if standing.check
        else ": no valve stands between"
    )
    return _first(what, why)


def _flows(to: Page, way: Way, system: UnitSystem) -> None:
    """Who has none then, and a table of the others."""
    if all(change.branch in way.dry or not change.before for change in way.flows):
        to.print("Then no branch has flow.")
        return
    if way.dry:
        to.print(f"Then without flow: {', '.join(way.dry)}.")
    flow = system.unit("flow")
    columns = (
        Column("branch", "words"),
        Column(f"now\n{flow}", "decimal"),
        Column(f"then\n{flow}", "decimal"),
        Column("change"),
        Column("", "words"),
    )
    others = [c for c in way.flows if c.branch not in way.dry and (c.before or c.after)]
    if way.shut or way.stop:
        to.print()
        to.table(columns, (_row(change, way, system) for change in others))


def _row(change: FlowChange, way: Way, system: UnitSystem) -> tuple[str | Text, ...]:
    onwards = change.before > 0.0 and change.after >= 0.0
    more = change.after / change.before - 1.0 if onwards else None
    remark = Text("")
    if change.branch in way.backwards:
        remark = Text("RUNS BACK", style="bold red")
    elif change.branch in way.starved:
        remark = Text("too little head", style="bold red")
    elif change.branch in way.without:
        remark = Text("of what runs back", style="yellow")
    return (
        change.branch,
        bare(system, change.before, "flow"),
        bare(system, change.after, "flow"),
        "" if more is None else f"{'+' if more >= 0.0005 else ''}{percent(more)}",
        remark,
    )


def _taking_out(answer: Isolation) -> Iterator[str]:
    sides = (("before", answer.loose_before), ("behind", answer.loose_after))
    fast = [side for side, loose in sides if not loose]
    if fast:
        yield (
            f"no union and no hose stands {' nor '.join(fast)} it in {answer.stretch}: there it "
            "must be unscrewed or cut out"
        )
    else:
        yield f"a union or hose on either side of it in {answer.stretch} comes loose"
    yield "what stands in the pipes runs out: a bowl and a towel"
    yield from answer.notes
    yield ELECTRICITY
    if any(way.checked or any(each.check for each in way.standing) for way in answer.ways):
        yield CHECK_VALVE


def _cut_offs(answer: Isolation) -> Iterator[str]:
    own = [each.valve for each in answer.cut_offs if each.branches == (each.stretch,)]
    rest = [each for each in answer.cut_offs if each.branches != (each.stretch,)]
    for each in rest:
        yield f"{each.valve}: {_cut(each)}"
    if own:
        yield f"{_these(own)}: {'its' if len(own) == 1 else 'each its'} own branch alone"


def _these(names: Sequence[str]) -> str:
    return ", ".join(names)


def _cut(each: CutOff) -> str:
    if each.all:
        return "all branches"
    if not each.branches:
        return "none, water comes round another way or none comes through it"
    return ", ".join(each.branches)
