"""A water change, on a page."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rich.text import Text

from balance.questions.change import WaterChange
from balance.questions.change.answer import (
    Cover,
    LevelAt,
    Mixing,
    Open,
    Salt,
    Step,
    Stuck,
    Trouble,
    Way,
)
from balance.questions.change.stuck import LITTLE
from balance.show import cautions
from balance.show.page import Column, Page, Series
from balance.show.terminal import page
from balance.show.words import bare, percent, seconds, signed, tiny
from balance.units import SYSTEMS, UnitSystem

MOST_VESSELS = 4  # of which the page has room to tell the levels
STIRS = 1e-3  # [m], by which a level moves that is told
SHORTEST = 1.0  # [s], of a step that is told
EVEN = 0.05  # of the faster of two flows, within which a level hardly moves
HAIR = 1e-3  # of a volume, by which none is told to be missing
MOST_CHANGES = 6  # in a row, told one by one
PLOT_HEIGHT = 10
BAD, DOUBT = "bold red", "yellow"

_STEPS = {
    "pumps off": "pumps off, at rest",
    "drain": "old water out",
    "fill": "new water in",
    "together": "out and in",
    "pumps on": "pumps on, steady",
    "rest": "steady again",
}
_ORDERS = {
    "drain first": "old water out first",
    "fill first": "new water in first",
    "together": "both at once",
}


def show(answer: WaterChange) -> None:
    """Print what `write` has to say."""
    with page() as to:
        write(to, answer)


def write(to: Page, answer: WaterChange) -> None:
    """Write what to do and for how long, the steps, what is left of the old water, and doubts."""
    system = SYSTEMS[answer.plan.units]
    vessels = _told(answer)
    to.title(
        f"{answer.title or 'This plan'}: changing {system.text(answer.volume, 'volume')} of "
        f"water, {_order(answer)}",
    )
    for sentence in _what_to_do(answer, system):
        to.print(sentence)
    to.section("What goes wrong", (_trouble(each) for each in answer.troubles))
    to.section("What would go", (_way(answer, each, system) for each in answer.ways))
    to.print()
    _steps(to, answer, vessels, system)
    _plot(to, answer, vessels, system)
    to.section("At most", _limits(answer, system))
    to.section("Over the pump's intake", (_cover(cover, system) for cover in answer.intakes))
    if answer.mixing is not None:
        _mixing(to, answer.mixing, system)
    if answer.salt is not None:
        to.section("Salt for the new water", _salt(answer.salt, system))
    runs = any(pump.use == "always" for pump in answer.plan.pumps.values())
    for line in answer.stuck:
        _left_open(to, line, vessels, system, runs=runs)
    to.beware("Beware", cautions.before_changing_water(answer.plan))
    to.notes(answer.notes)
    to.print()
    to.print(
        f"The simulated steps keep all water within {tiny(system, answer.lost, 'volume')} "
        f"{system.unit('volume')}.",
        style="dim",
    )


def _order(answer: WaterChange) -> str:
    if answer.drain is None or answer.pump is None:
        return "new water in" if answer.drain is None else "old water out"
    return _ORDERS[answer.order]


def _told(answer: WaterChange) -> tuple[str, ...]:
    """Vessels whose levels are told: those that move most, in the order of the plan."""
    levels = [*(step.levels for step in answer.steps)]
    levels += [stuck.levels for line in answer.stuck for stuck in line.after]
    moved = {row.vessel: 0.0 for row in answer.before}
    for rows in levels:
        for row in rows:
            moved[row.vessel] = max(moved[row.vessel], abs(row.rise))
    most = sorted(moved, key=lambda name: -moved[name])[:MOST_VESSELS]
    return tuple(name for name in moved if name in most and moved[name] > STIRS)


# What to do -------------------------------------------------------------------------------------


def _what_to_do(answer: WaterChange, system: UnitSystem) -> Iterator[Text]:
    """The answer in a few lines."""
    if not answer.running:
        yield Text("Stop the system's pumps and wait until all stands still.")
    for step in answer.steps:
        if not step.taken and not step.brought:
            continue
        if step.kind == "drain":
            yield Text(_drain(answer, step, system))
        elif step.kind == "fill":
            yield Text(_fill(answer, step, system))
        elif step.kind == "together":
            yield Text(_together(answer, step, system))
    said = f"That is {seconds(answer.lasts)} in all" if answer.lasts > 0.0 else "Nothing moves"
    if answer.mixing is not None:
        alone = answer.drain is None or answer.pump is None
        when = (
            f"once as much is {'let out' if answer.drain is None else 'put in'}," if alone else ""
        )
        said += f"; {when or 'then'} {percent(answer.mixing.left)} of the water is old"
    if answer.done:
        yield Text(f"{said}.")
    else:
        yield Text(f"{said}. IT DOES NOT GO AS ASKED, see below.", style=BAD)


def _drain(answer: WaterChange, step: Step, system: UnitSystem) -> str:
    begin = "Leave the drain open" if _goes_on(answer, step) else _handles(answer, "out")
    return (
        f"{begin}: {system.text(step.taken, 'volume')} leave in {seconds(step.lasts)}. "
        f"{_stop_at(answer, step, system)}"
    )


def _fill(answer: WaterChange, step: Step, system: UnitSystem) -> str:
    begin = (
        f"Shut the drain and let {answer.pump} run on"
        if _goes_on(answer, step)
        else f"{_handles(answer, 'in')}, {_start(answer)}"
    )
    return (
        f"{begin}: {system.text(step.brought, 'volume')} come in {seconds(step.lasts)}. "
        f"{_stop_at(answer, step, system)}"
    )


def _together(answer: WaterChange, step: Step, system: UnitSystem) -> str:
    out, new = (amount / step.lasts for amount in (step.taken, step.brought))
    said = (
        f"{_handles(answer, 'out')}, and {_handles(answer, 'in', first=False)} and "
        f"{_start(answer)}: in {seconds(step.lasts)} {system.text(step.taken, 'volume')} leave, at "
        f"{system.text(out, 'flow')}, and {system.text(step.brought, 'volume')} come, at "
        f"{system.text(new, 'flow')}"
    )
    if abs(out - new) > EVEN * max(out, new):
        said += "; to hold the level, throttle " + (
            f"{answer.evens.valve} to {answer.evens.mark}"
            if answer.evens is not None
            else f"the {'drain' if out > new else 'new water'}"
        )
    return f"{said}."


def _start(answer: WaterChange) -> str:
    """What to do with the pump of the new water: one at 0 % lets its water run through."""
    turns = answer.pump is not None and answer.plan.pumps[answer.pump].speed > 0.0
    return f"run {answer.pump}" if turns else f"let it run through {answer.pump}, which is at rest"


def _goes_on(answer: WaterChange, step: Step) -> bool:
    """Whether a step goes on with what was open before it."""
    place = answer.steps.index(step)
    return place > 0 and answer.steps[place - 1].kind == "together"


def _handles(answer: WaterChange, line: str, *, first: bool = True) -> str:
    """Which valves of a line to open, and how far."""
    valves = [f"{each.valve} {_to(each.mark)}" for each in answer.handles if each.line == line]
    named = answer.drain if line == "out" else "the new line"
    return f"{'Open' if first else 'open'} {' and '.join(valves) or named}"


def _to(mark: str) -> str:
    return "all the way" if mark == "full" else f"to {mark}"


def _stop_at(answer: WaterChange, step: Step, system: UnitSystem) -> str:
    """Where a tape says that it is enough, or that only a clock does."""
    how = "Shut" if step.kind == "drain" else "Stop"
    if any(
        each.kind == "short" and each.time == step.begins + step.lasts for each in answer.troubles
    ):
        return f"{how} it: nothing more comes."
    if step.tells is None:
        return f"{how} it by the clock: no level tells when it is enough."
    row = step.level(step.tells)
    before = {each.vessel: each.level for each in _before(answer, step)}
    moved = row.level - before[row.vessel]
    way = "fallen" if moved < 0.0 else "risen"
    said = (
        f"{how} it when {row.vessel} has {way} by "
        f"{system.text(abs(moved), 'length')}, to {system.text(row.level, 'length')}"
    )
    if row.depth is not None:
        said += f" ({system.text(row.depth, 'length')} of water)"
    return f"{said}."


def _before(answer: WaterChange, step: Step) -> Sequence[LevelAt]:
    """Levels when a step begins."""
    place = answer.steps.index(step)
    return answer.steps[place - 1].levels if place else answer.before


def _trouble(trouble: Trouble) -> Text:
    at = f" (after {seconds(trouble.time)})" if trouble.kind in ("overflow", "pump dry") else ""
    return Text(f"{trouble.text}{at}", style=BAD)


def _way(answer: WaterChange, way: Way, system: UnitSystem) -> str:
    """A way out, and what to write for it."""
    if way.volume < answer.volume:
        return f"as asked, but no more than {system.text(way.volume, 'volume')} at a time"
    how, write = [], []
    if way.order != answer.order and answer.drain is not None and answer.pump is not None:
        how.append(_ORDERS[way.order])
        write.append(f'order = "{way.order}"')
    if way.running != answer.running:
        how.append(f"the system's pumps {'going on' if way.running else 'stopped'}")
        write.append(f"running = {'true' if way.running else 'false'}")
    return f"all of it with {' and '.join(how)}: {', '.join(write)}"


# Steps and levels -------------------------------------------------------------------------------


def _steps(to: Page, answer: WaterChange, vessels: Sequence[str], system: UnitSystem) -> None:
    volume, length = system.unit("volume"), system.unit("length")
    columns = [
        Column("step", "words"),
        Column("takes"),
        Column(f"out\n{volume}"),
        Column(f"in\n{volume}"),
        *(Column(f"{name}\n{length}") for name in vessels),
    ]
    first = ("before", "", "", "", *_heights(answer.before, vessels, system))
    rows = [
        (
            _STEPS[step.kind],
            seconds(step.lasts),
            bare(system, step.taken, "volume") if step.taken else "",
            bare(system, step.brought, "volume") if step.brought else "",
            *_heights(step.levels, vessels, system),
        )
        for step in answer.steps
        if step.lasts >= SHORTEST or step.kind in ("drain", "fill", "together")
    ]
    to.table(columns, [first, *rows])
    to.print("Heights of the water at the end of each step, above the plan's datum.", style="dim")


def _heights(
    rows: Sequence[LevelAt], vessels: Sequence[str], system: UnitSystem
) -> tuple[str, ...]:
    by_name = {row.vessel: row for row in rows}
    return tuple(bare(system, by_name[name].level, "length") for name in vessels)


def _plot(to: Page, answer: WaterChange, vessels: Sequence[str], system: UnitSystem) -> None:
    """How levels move over the time."""
    if not vessels or not answer.time or answer.time[-1] <= 0.0:
        return
    before = {row.vessel: row.level for row in answer.before}
    minutes = [time / 60.0 for time in answer.time]
    series = [
        Series(
            trace.vessel,
            minutes,
            [system.number(level - before[trace.vessel], "length") for level in trace.level],
        )
        for trace in answer.traces
        if trace.vessel in vessels
    ]
    to.print()
    to.plot(
        series,
        x_title="minutes",
        y_title=f"level over what it was, {system.unit('length')}",
        height=PLOT_HEIGHT,
    )


def _limits(answer: WaterChange, system: UnitSystem) -> Iterator[str]:
    limits = answer.limits
    if limits.drained is not None:
        after = ", once the new water is in" if answer.order == "fill first" and answer.pump else ""
        yield (
            f"{answer.drain} takes {system.text(limits.drained, 'volume')}, until nothing comes to "
            f"its inlet any more{after}"
        )
    if limits.new is not None:
        yield (
            f"{answer.source} holds {system.text(limits.new, 'volume')} that {answer.pump} can take"
        )
    if limits.room is not None:
        yield (
            f"{system.text(limits.room, 'volume')} come in before {limits.over} stands at its rim"
        )


def _cover(cover: Cover, system: UnitSystem) -> Text:
    said = (
        f"{cover.vessel} comes down to {system.text(max(cover.least, 0.0), 'length')} over the "
        f"intake of {cover.pump} ({_STEPS[cover.step]})"
    )
    if cover.wanted is None or cover.least >= cover.wanted:
        return Text(said)
    return Text(
        f"{said}: a vortex may draw air with less than {system.text(cover.wanted, 'length')}",
        style=DOUBT,
    )


# What becomes of the water ----------------------------------------------------------------------


def _mixing(to: Page, mixing: Mixing, system: UnitSystem) -> None:
    volume = system.unit("volume")
    to.print()
    to.print(
        Text(
            f"Old water left, of {system.text(mixing.system, 'volume')} in the system",
            style="bold",
        )
    )
    columns = (
        Column("changes\nlike this"),
        Column(f"new water\n{volume}"),
        Column("old water\nleft"),
        Column("in and out\nat once"),
    )
    rows = (
        (
            str(row.changes),
            bare(system, row.new, "volume"),
            percent(row.left),
            percent(row.left_exchanging),
        )
        for row in mixing.after[:MOST_CHANGES]
    )
    to.table(columns, rows)
    to.listing(
        (
            f"to {percent(reach.share)} old water: "
            + (
                f"{reach.changes} changes like this, {system.text(reach.new, 'volume')}"
                if reach.changes is not None and reach.new is not None
                else "no number of changes like this"
            )
            + f"; or {system.text(reach.exchanged, 'volume')} in and out at once"
            for reach in mixing.reach
        ),
    )


def _salt(salt: Salt, system: UnitSystem) -> Iterator[str]:
    yield (
        f"{system.text(salt.salt, 'mass')} of dry salt into {system.text(salt.fresh, 'volume')} of "
        f"fresh water make {system.text(salt.volume, 'volume')} of "
        f"{system.text(salt.salinity, 'salinity')}"
    )
    if salt.comes < salt.volume * (1.0 - HAIR):
        used = salt.salt * salt.comes / salt.volume
        yield (
            f"only {system.text(salt.comes, 'volume')} of it come, with "
            f"{system.text(used, 'mass')} of the salt"
        )
    yield (
        "salt mixes hold water, and more with every opening of the bag: put in a little more, and "
        "trust a refractometer or hydrometer, not the scales"
    )
    if salt.after is not None and salt.salinity != salt.before:
        yield (
            f"the system goes from {system.text(salt.before, 'salinity')} to "
            f"{system.text(salt.after, 'salinity')}"
        )


# Lines that stay open ---------------------------------------------------------------------------


def _left_open(
    to: Page, line: Open, vessels: Sequence[str], system: UnitSystem, *, runs: bool
) -> None:
    out = line.line == "out"
    heading = (
        f"If {line.name} does not shut" + (", and the system's pumps go on" if runs else "")
        if out
        else f"If {line.name} is at rest and its line stays open"
    )
    to.print()
    to.heading(heading)
    if out or any(abs(row.passed) > LITTLE for row in line.after):
        _open_table(to, line, vessels, system)
    to.listing(_open_lines(line, system))


def _open_table(to: Page, line: Open, vessels: Sequence[str], system: UnitSystem) -> None:
    length = system.unit("length")
    columns = [
        Column("after"),
        Column(f"{'gone' if line.line == 'out' else 'moved'}\n{system.unit('volume')}"),
        *(Column(f"{name}\n{length}") for name in vessels),
        Column("", "words"),
    ]
    to.table(
        columns,
        (
            (
                seconds(row.time),
                _passed(line, row, system),
                *_heights(row.levels, vessels, system),
                Text(f"{' and '.join(row.over)} OVERFLOWS", style=BAD) if row.over else "",
            )
            for row in line.after
        ),
    )


def _passed(line: Open, row: Stuck, system: UnitSystem) -> str:
    figure = bare(system, row.passed, "volume")
    return figure if line.line == "out" else signed(figure)


def _open_lines(line: Open, system: UnitSystem) -> Iterator[str]:
    if line.line == "out" and line.fastest > 0.0:
        yield (
            f"it runs with up to {system.text(line.fastest, 'flow')}: what takes it must take as "
            "much"
        )
    if line.most is None:
        yield "it has not come to an end after a day"
    elif abs(line.most) > LITTLE:
        yield (
            f"in the end {system.text(abs(line.most), 'volume')}, after "
            f"{seconds(line.rests or 0.0)}"
        )
    if line.dry:
        yield f"{' and '.join(line.dry)} RUNS DRY on the way"
    yield line.second_valve
