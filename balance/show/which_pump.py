"""Pumps compared, on one screen: what each can do, what it costs, and why it ranks as it does."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from rich.text import Text

from balance.questions.pumps.answer import OneStopped, Pumps, PumpTrial
from balance.questions.replaced import Replaced
from balance.show.cautions import DEAD_HEAD, ELECTRICITY, SCOPE, TESTED
from balance.show.heat import heat_lines
from balance.show.page import Column, Page, Series
from balance.show.pumps import pump_lines
from balance.show.terminal import page
from balance.show.words import NONE, bare, percent
from balance.units import SYSTEMS, UnitSystem, significant

LISTED = 12  # pumps with a row; the others are counted
DRAWN = 3  # pumps whose curves a plot tells apart, besides the plan's own
ALIKE = 0.02  # of all flow: by less it does not matter which of two pumps stops
PROPORTIONATE = 4.0  # times what is asked: more than that is not told apart

_RANKED_BY = {
    "watts": "fewest watts first",
    "margin": "most to spare first",
    "cost": "lowest cost first",
}
SPARE = (
    "Generic losses are known to ±20 to 30 %: a pump that does with less than a tenth to spare may "
    "not do."
)  # edb, table 32; the tenth: those of the few feet that a branch loses, as flow
CHECK_VALVES = (
    "Pumps side by side: each needs its check valve, or a stopped one lets the others' water run "
    "back; a check valve needs cleaning, and is no protection from a flood."
)


def show(answer: Pumps, *, with_plot: bool = False) -> None:
    """Print what `write` has to say."""
    with page() as to:
        write(to, answer, with_plot=with_plot)


def write(to: Page, answer: Pumps, *, with_plot: bool = False) -> None:
    """Write candidates by rank, the reasons, and more about the first.

    Parameters
    ----------
    with_plot : also the curves of the first few across that of the plumbing
    """
    system = SYSTEMS[answer.plan.units]
    shown = answer.trials[:LISTED]
    title = answer.title or "This plan"
    to.title(f"{title}: which pump ({_RANKED_BY[answer.rank_by]})")
    to.table(_does(system), (_does_row(trial, system) for trial in shown))
    to.print()
    to.table(_costs(answer, system), (_costs_row(each, shown, system) for each in shown))
    for line in _below(answer):
        to.print(line, style="dim")
    to.section("Why in this order", _why(answer))
    if with_plot:
        _plot(to, answer, system)
    to.section(f"The first: {answer.trials[0].name}", _first(answer, system))
    to.section("When one of them fails", _one_stopped(answer, system))
    to.section("Curves", _doubts(answer))
    to.notes(answer.notes)
    to.beware("Before you buy", _cautions(answer))


def _does(system: UnitSystem) -> tuple[Column, ...]:
    flow = system.unit("flow")
    return (
        Column("pump", "words"),
        Column("targets", "words"),
        Column("speed"),
        Column(f"flow\n{flow}", "decimal"),
        Column(f"head\n{system.unit('head')}", "decimal"),
        Column("useful\nrange"),
        Column("to\nspare"),
        Column("lost to\nfouling"),
        Column(f"all open\n{flow}"),
    )


def _does_row(trial: PumpTrial, system: UnitSystem) -> tuple[str | Text, ...]:
    return (
        f"{trial.rank} {trial.name}",
        _targets(trial),
        _speed(trial),
        bare(system, trial.flow, "flow"),
        _head(trial, system),
        _range(trial),
        _spare(trial.reach),
        percent(trial.fouling_loss),
        bare(system, trial.wide_open, "flow"),
    )


def _targets(trial: PumpTrial) -> Text:
    if trial.meets:
        return Text("all met", style="green")
    if trial.backwards or trial.idle:
        return Text("BACKWARDS" if trial.backwards else "NO FLOW", style="bold red")
    branches = sum(not each.is_total for each in trial.shortfalls)
    return Text(f"{branches or len(trial.shortfalls)} MISSED", style="bold red")


def _speed(trial: PumpTrial) -> str:
    if not trial.speed_is_free:
        return "fixed"
    speeds = [significant(100.0 * speed) for speed in trial.speeds]
    return f"{', '.join(dict.fromkeys(speeds))} %"


def _head(trial: PumpTrial, system: UnitSystem) -> str:
    """Of its own pumps: of all in a row, or of the first of several beside each other."""
    heads = [duty.head for duty in trial.pumps if duty.pump in trial.own]
    return bare(system, sum(heads) if trial.arrangement == "series" else heads[0], "head")


def _range(trial: PumpTrial) -> str:
    """In, or where its pumps are out of it."""
    if trial.in_useful_range is None:
        return NONE
    out = [
        "BELOW" if duty.flow < duty.useful_range[0] else "ABOVE"
        for duty in trial.pumps
        if duty.in_useful_range is False and duty.useful_range is not None
    ]
    return ", ".join(dict.fromkeys(out)) or "in"


def _spare(reach: float | None) -> str:
    if reach is None:
        return NONE
    if reach >= PROPORTIONATE:
        return f"> {percent(PROPORTIONATE - 1.0, 3)}"
    spare = f"{100.0 * (reach - 1.0):+.0f} %"
    return "0 %" if spare in ("+0 %", "-0 %") else spare


def _costs(answer: Pumps, system: UnitSystem) -> tuple[Column, ...]:
    currency = answer.currency or "cost"
    return (
        Column("rank"),
        Column("\nW"),
        Column("effi-\ncient"),
        Column(f"heat\n{system.unit('heat')}"),
        Column("kWh\na year"),
        Column(f"{currency}\na year"),
        Column(f"price\n{answer.currency}".rstrip()),
        Column(f"{answer.years:g} years\n{answer.currency}".rstrip()),
        Column(f"all shut\n{system.unit('pressure')}"),
        Column("of what\nis stood"),
    )


def _costs_row(
    trial: PumpTrial, others: Sequence[PumpTrial], system: UnitSystem
) -> tuple[str | Text, ...]:
    dead = trial.dead_head
    share = NONE
    if dead.pressure is not None and dead.stands is not None:
        share = percent(dead.pressure / dead.stands) if dead.stands else "not made for it"
    at_least = ">= " if dead.at_least and dead.pressure is not None else ""
    return (
        f"{trial.rank}",
        NONE if trial.power is None else significant(trial.power),
        percent(trial.efficiency),
        bare(system, trial.heat, "heat"),
        NONE if trial.energy is None else f"{trial.energy:.0f}",
        _money(trial.cost, known=any(each.cost is not None for each in others)),
        _money(trial.price, known=any(each.price is not None for each in others)),
        _money(trial.total_cost, known=any(each.total_cost is not None for each in others)),
        f"{at_least}{bare(system, dead.pressure, 'pressure')}",
        Text(share, style="bold red" if dead.too_much else ""),
    )


def _money(amount: float | None, *, known: bool) -> str:
    """An amount; empty where none is known of any pump."""
    if amount is None:
        return NONE if known else ""
    return significant(amount)


def _below(answer: Pumps) -> Iterator[str]:
    """What explains the tables, where they need it."""
    yield (
        "Each with its valves and speed at their best, before rounding to marks. To spare: by how "
        "much every target could rise at once, handles and speed set for it; where less than "
        "nothing, targets are met within their tolerance only. Lost to fouling: what "
        f"the branch hit hardest loses when all losses rise by {percent(answer.fouling)}, handles "
        "and speed left alone. All shut: the pressure at top speed with every valve shut, and how "
        "much that is of what the weakest part stands."
    )
    hidden = answer.trials[LISTED:]
    if hidden:
        short = sum(not trial.meets for trial in hidden)
        yield (
            f"{len(hidden)} more, of which {short} fall short, are not shown; --json tells of all."
        )


def _plot(to: Page, answer: Pumps, system: UnitSystem) -> None:
    """The plumbing's curve, and at top speed those of the first pumps and of the plan's own."""
    drawn = [
        trial
        for place, trial in enumerate(answer.trials)
        if trial.line is not None and (place < DRAWN or trial.as_planned)
    ]
    lines = [(trial.name, trial.line) for trial in drawn if trial.line is not None]
    if answer.system is None or not lines:
        return

    def series(name: str, flow: Sequence[float], head: Sequence[float]) -> Series:
        return Series(
            name,
            [system.number(each, "flow") for each in flow],
            [system.number(each, "head") for each in head],
        )

    # Of a pump that cannot hold the water above it, that water's way home is no duty.
    crossed = [
        trial.crossing
        for trial in drawn
        if trial.crossing is not None and trial.crossing.flow >= 0.0
    ]
    most = max(line.head[0] for _, line in lines)
    asked = [
        (flow, head)
        for flow, head in zip(answer.system.flow, answer.system.head, strict=True)
        if head <= most
    ]
    points = series("where they cross", [e.flow for e in crossed], [e.head for e in crossed])
    to.print()
    to.heading("Valves as the plan has them, pumps at top speed")
    to.plot(
        [
            series("plumbing", *zip(*asked, strict=True)),
            *(series(name, line.flow, line.head) for name, line in lines),
            *([replace(points, kind="points")] if crossed else []),
        ],
        x_title=f"flow, {system.unit('flow')}",
        y_title=f"head, {system.unit('head')}",
    )


def _why(answer: Pumps) -> Iterator[str]:
    for trial in answer.trials[:LISTED]:
        planned = f" (as planned, {_curve(answer, trial)})" if trial.as_planned else ""
        yield f"{trial.name}{planned}: {trial.why}"


def _curve(answer: Pumps, trial: PumpTrial) -> str:
    """What the curve of a pump of the plan is called."""
    return answer.plan.pumps[trial.pumps[0].pump].curve[0].curve.name


def _first(answer: Pumps, system: UnitSystem) -> Iterator[str]:
    first = answer.trials[0]
    yield from pump_lines(first.pumps, answer.plan, system)
    if first.fouled_reach is not None and first.meets:
        fouled = percent(answer.fouling)
        if first.fouled_reach >= 1.0:
            yield (
                f"once all losses have risen by {fouled}, {first.fouling_hits} has lost "
                f"{percent(first.fouling_loss)}; handles and speed set anew still meet all targets"
            )
        else:
            yield (
                f"once all losses have risen by {fouled}, no setting meets all targets: "
                f"{percent(first.fouled_reach)} of each is what it then gives"
            )
    if answer.warming is not None:
        yield from heat_lines(answer.warming, system)
    if answer.replaced is not None:
        yield _replaced(answer.replaced, answer.currency, first)
    if first.meets:
        yield "for its marks write it into the plan as the pump, and ask `balance settings`"


def _replaced(small: Replaced, currency: str, first: PumpTrial) -> str:
    several = small.pumps > 1
    cost = "" if small.cost is None else f", {significant(small.cost)} {currency}".rstrip()
    said = (
        f"saves the branches {small.pumps} small pump{'s' if several else ''} and "
        f"{'their outlets' if several else 'its outlet'}: {significant(small.watts)} W, all of it "
        f"heat, {small.energy:.0f} kWh{cost} a year"
    )
    return said if first.power is None else f"{said}; draws {significant(first.power)} W itself"


def _one_stopped(answer: Pumps, system: UnitSystem) -> Iterator[str]:
    """What remains; once where it hardly matters which of them stops."""
    for trial in answer.trials[:LISTED]:
        worst = min(trial.one_stopped, key=lambda each: each.share, default=None)
        best = max((each.share for each in trial.one_stopped), default=0.0)
        if worst is None:
            continue
        if best - worst.share <= ALIKE:
            yield f"{trial.name}, one stopped: {_stopped(worst, system)}"
        else:
            for stopped in trial.one_stopped:
                yield f"{trial.name}, {stopped.pump} stopped: {_stopped(stopped, system)}"


def _stopped(stopped: OneStopped, system: UnitSystem) -> str:
    said = f"{system.text(stopped.flow, 'flow')} remain, {percent(stopped.share)} of all; "
    if stopped.dry:
        said += f"no water for {', '.join(stopped.dry)}"
    else:
        said += f"least for {stopped.least_branch}, {percent(stopped.least_share)} of its flow"
    if stopped.check_failed_share is not None:
        said += f"; {percent(stopped.check_failed_share)} of all if its check valve stands open too"
    return said


def _doubts(answer: Pumps) -> Iterator[str]:
    """Each once, with the pumps that it is about."""
    about: dict[str, list[str]] = {}
    for trial in answer.trials[:LISTED]:
        for doubt in trial.doubts:
            about.setdefault(doubt, []).append(trial.name)
    for doubt, names in about.items():
        yield f"{', '.join(names)}: {doubt}"


def _cautions(answer: Pumps) -> Iterator[str]:
    yield TESTED
    yield SPARE
    if any(len(trial.pumps) > 1 for trial in answer.trials[:LISTED]):
        yield CHECK_VALVES
    yield DEAD_HEAD
    yield ELECTRICITY
    yield SCOPE
