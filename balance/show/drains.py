"""What drains carry and what floods, on a page."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rich.text import Text

from balance.questions.drains import Drains
from balance.questions.drains.answer import (
    SUPPLIED,
    Capacity,
    Case,
    DrainFlow,
    Filling,
    Gate,
    Inflow,
    Siphon,
    Supplied,
    VesselDrains,
)
from balance.show import cautions
from balance.show.page import Column, Page, Series
from balance.show.terminal import page
from balance.show.words import NONE, bare, percent, seconds, speed, tiny
from balance.units import SYSTEMS, UnitSystem

USUAL = (0.9144, 1.8288)
"""Velocity usual in a siphon drain, 3 to 6 ft/s [m/s]; common practice, no source."""

_WHEN: dict[Supplied, str] = {
    "as it stands": "as it stands",
    "full speed": "at full pump speed",
    "greatest": "at full pump speed with all shut that leads elsewhere",
}
_GRAVE = "bold red"
_IN_FULL = 2  # vessels that a page shows in full
_ABREAST = 4  # drains that fit beside each other


def show(answer: Drains) -> None:
    """Print what `write` has to say."""
    with page() as to:
        write(to, answer)


def write(to: Page, answer: Drains) -> None:
    """Write what floods, then vessel by vessel gates, cases, drains and a plot; then notes."""
    system = SYSTEMS[answer.plan.units]
    to.title(f"{answer.title or 'This plan'}: what the drains carry")
    to.print(_verdict(answer))
    to.listing(line for each in answer.vessels for line in _floods(each, system))
    in_full = len(answer.vessels) <= _IN_FULL
    for vessel, others in _alike(answer.vessels, in_full=in_full):
        _vessel(to, vessel, system, in_full=in_full, others=others)
    if not in_full:
        to.print()
        to.print(f'--vessel "{answer.vessels[0].vessel}" shows that one in full.')
    to.notes(answer.notes)
    to.beware(
        "Beware",
        (cautions.DRY_RUN, cautions.STRAINERS, cautions.ELECTRICITY, cautions.SCOPE),
    )
    to.print()
    to.print(
        "What leaves a vessel is what comes in within "
        f"{answer.worst_unclosed or 0.0:.0e} of it, in every case; flows balance within "
        f"{tiny(system, answer.worst_imbalance, 'flow')} {system.unit('flow')}.",
        style="dim",
    )


# What floods ------------------------------------------------------------------------------------


def _verdict(answer: Drains) -> Text:
    """The whole answer in a sentence or two."""
    whole = [case for each in answer.vessels for case in each.floods if not case.blocked]
    alone = [case for each in answer.vessels for case in _by_blockage(each)]
    said = []
    if whole:
        when = _WHEN[min((case.when for case in whole), key=SUPPLIED.index)]
        said.append(f"{_flooded(whole)} with nothing blocked, {when}.")
    standing = [case for case in alone if case.when == SUPPLIED[0]]
    if standing:
        said.append(f"A single blocked drain {_verb(standing)} {_names(standing)}.")
    elif alone:
        said.append(
            "As it stands no single blocked drain floods anything; with more flow one "
            f"{_verb(alone)} {_names(alone)}."
        )
    if aimed := [case for each in answer.vessels for case in _only_at_aim(each)]:
        said.append(_besides(aimed))
    if said:
        return Text(" ".join(said), style=_GRAVE)
    none = "No single blocked drain floods anything"
    if answer.safe:
        return Text(f"{none}, and the drains take all that can come.", style="green")
    short = [vessel.vessel for vessel in answer.vessels if not vessel.safe]
    return Text(f"{none}, but the drains of {_and(short)} are SHORT.", style=_GRAVE)


def _by_blockage(vessel: VesselDrains) -> list[Case]:
    """Cases of one blocked drain in which something floods that does not with all of them whole."""
    anyway = {case.when for case in vessel.floods if not case.blocked}
    return [case for case in vessel.floods if case.blocked and case.when not in anyway]


def _only_at_aim(vessel: VesselDrains) -> list[Case]:
    """Cases in which something floods with gates where they are told to go, but not as they are."""
    already = {(case.blocked, case.when) for case in vessel.floods}
    return [case for case in vessel.floods_at_aim if (case.blocked, case.when) not in already]


def _besides(aimed: Sequence[Case]) -> str:
    """What more floods at the marks that are told."""
    least = min((case.when for case in aimed), key=SUPPLIED.index)
    cases = [case for case in aimed if case.when == least]
    lost = list(dict.fromkeys(_and(case.blocked) for case in cases if case.blocked))
    if len(lost) == len(cases):
        return (
            f"At the mark told below a blocked {_or(lost)} {_verb(cases)} {_names(cases)} "
            f"besides, {_WHEN[least]}."
        )
    return f"At the mark told below {_flooded(cases)} with nothing blocked, {_WHEN[least]}."


def _names(cases: Sequence[Case]) -> str:
    """What floods in some cases."""
    return _and(list(dict.fromkeys(name for case in cases for name in case.floods)))


def _flooded(cases: Sequence[Case]) -> str:
    one = len({name for case in cases for name in case.floods}) == 1
    return f"{_names(cases)} {_verb(cases, one=one)}"


def _verb(cases: Sequence[Case], *, one: bool = True) -> str:
    """Whether something floods for sure, or only if drains do not run full."""
    if not any(case.surely for case in cases):
        return "MAY FLOOD"
    return "FLOODS" if one else "FLOOD"


def _floods(vessel: VesselDrains, system: UnitSystem) -> Iterator[Text]:
    """What floods with gates as they stand, or that less is counted on than may come."""
    yield from _flooding(vessel, vessel.floods, system)
    if not vessel.floods and vessel.capacities[0].safe < max(each.flow for each in vessel.inflows):
        yield Text.assemble(
            (f"{vessel.vessel} is SHORT: ", _GRAVE),
            f"its drains take {system.text(vessel.capacities[0].safe, 'flow')} for sure, and "
            f"{system.text(max(each.flow for each in vessel.inflows), 'flow')} may come",
        )


def _flooding(vessel: VesselDrains, floods: Sequence[Case], system: UnitSystem) -> Iterator[Text]:
    """What floods at each inflow that did not at a lesser one, or follows from what did."""
    told: set[tuple[tuple[str, ...], bool]] = set()
    for when in SUPPLIED:
        new = {
            (case.blocked, _unfilled(vessel, case)): case for case in floods if case.when == when
        }
        new = {state: case for state, case in new.items() if not told & {state, ((), False)}}
        told |= new.keys()
        cases = [new[(), False]] if ((), False) in new else list(new.values())
        for surely in (True, False):
            if alike := [case for case in cases if case.surely is surely]:
                yield _flood(vessel, alike, system)


def _flood(vessel: VesselDrains, cases: Sequence[Case], system: UnitSystem) -> Text:
    """What floods at one inflow."""
    over = sorted({system.text(case.overflow, "flow") for case in cases}, key=len)
    most = system.text(max(case.overflow for case in cases), "flow")
    lost = [_and(case.blocked) for case in cases if case.blocked]
    causes = [f"with {_or(lost)} blocked"] if lost else []
    if any(_unfilled(vessel, case) for case in cases):
        causes.append(f"if {_or([siphon.siphon for siphon in vessel.siphons])} does not fill")
    return Text.assemble(
        (f"{_flooded(cases)} ", _GRAVE),
        (", or ".join(causes) or "with nothing blocked", "bold"),
        f", {_WHEN[cases[0].when]}: {'' if len(over) == 1 else 'up to '}{most} of "
        f"{system.text(cases[0].inflow, 'flow')} ",
        "run over" if cases[0].surely else _if_full(cases, system),
    )


def _if_full(cases: Sequence[Case], system: UnitSystem) -> str:
    least = min(case.running_full for case in cases)
    which = "the others" if any(case.blocked for case in cases) else "they"
    return (
        f"more than is counted on with air; running full {which} would carry "
        f"{system.text(least, 'flow')}"
    )


def _unfilled(vessel: VesselDrains, case: Case) -> bool:
    """Whether it is about siphons that do not fill."""
    return not case.blocked and not case.primed and bool(vessel.siphons)


def _and(names: Sequence[str]) -> str:
    *first, last = names
    return f"{', '.join(first)} and {last}" if first else last


def _or(names: Sequence[str]) -> str:
    *first, last = names
    return f"{', '.join(first)} or {last}" if first else last


# One vessel -------------------------------------------------------------------------------------


def _alike(
    vessels: Sequence[VesselDrains], *, in_full: bool
) -> Iterator[tuple[VesselDrains, list[str]]]:
    """Vessels, each with the names of those like it; to none of these more may come."""
    left = list(vessels)
    while left:
        kind = [left[0]] if in_full else [each for each in left if _kind(each) == _kind(left[0])]
        left = [each for each in left if each not in kind]
        most = max(kind, key=lambda each: max(inflow.flow for inflow in each.inflows))
        yield most, [each.vessel for each in kind if each is not most]


def _kind(vessel: VesselDrains) -> tuple[object, ...]:
    """The same for vessels with like drains, in which like blockages flood."""
    names = [facts.drain for facts in vessel.drains]
    floods = [
        ([names.index(name) for name in case.blocked], case.primed, case.when, case.surely)
        for case in vessel.floods
    ]
    if vessel.gates:  # each has marks of its own
        return (vessel.vessel,)
    drains = [(d.role, f"{d.bore:.4f}", f"{d.open_capacity:.3g}", d.shut) for d in vessel.drains]
    rims = [vessel.rim, *(tank.rim for tank in vessel.as_it_runs.tanks)]
    room = [f"{rim - d.inlet:.3f}" for d in vessel.drains for rim in rims if rim is not None]
    return tuple(drains), tuple(room), repr(floods), len(vessel.notes)


def _vessel(
    to: Page,
    vessel: VesselDrains,
    system: UnitSystem,
    *,
    in_full: bool,
    others: Sequence[str],
) -> None:
    to.print()
    to.chapter(_heading(vessel))
    if others:
        to.print(
            f"{_and(others)} {'is' if len(others) == 1 else 'are'} like it; here most may come"
        )
    to.listing(_coming(vessel.inflows, system))
    told = [line for gate in vessel.gates for line in _gate(gate, system)]
    told += _at_aim(vessel, system)
    if len(vessel.gates) > 1:
        told.append("trim them alike: each is to carry its share, by the area of its pipe")
    to.section("Gate" if len(vessel.gates) == 1 else "Gates", told)
    _cases(to, vessel, system)
    to.section("What it takes", _capacities(vessel, system))
    if in_full and vessel.inflows[0].flow > 0.0:
        _details(to, vessel, system)
    if vessel.notes:
        to.print()
        to.listing(vessel.notes)


def _details(to: Page, vessel: VesselDrains, system: UnitSystem) -> None:
    _drains(to, vessel, system)
    _each(to, vessel, system)
    to.section(
        "Filling and holding",
        (line for siphon in vessel.siphons for line in _siphon(siphon, system)),
    )
    _plot(to, vessel, system)
    if vessel.filling is not None:
        _filling(to, vessel, vessel.filling, system)


def _filling(to: Page, vessel: VesselDrains, filling: Filling, system: UnitSystem) -> None:
    """How fast the water rises once a drain is blocked."""
    to.print()
    to.heading(f"Once {filling.blocked} is blocked, {_WHEN[filling.when]}")
    floods = any(case.blocked == (filling.blocked,) for case in vessel.floods)
    to.listing(_rising(filling, system, floods=floods))
    to.print()
    minutes = [time / 60.0 for time in filling.time]
    to.plot(
        [
            Series(rise.vessel, minutes, [system.number(level, "length") for level in rise.level])
            for rise in filling.rises
        ],
        x_title="minutes",
        y_title=f"water at, {system.unit('length')}",
        height=8,
    )


def _rising(filling: Filling, system: UnitSystem, *, floods: bool) -> Iterator[Text | str]:
    if filling.spills is not None and filling.spills_after is not None:
        yield Text(
            f"{filling.spills} spills after {seconds(filling.spills_after)}: so long is there to "
            "notice it",
            style=_GRAVE,
        )
    if filling.dry is not None and filling.dry_after is not None:
        yield (
            f"{filling.dry} draws air after {seconds(filling.dry_after)}, since so much water is "
            "above, and brings no more: it was taken to stand still from then on"
        )
    if filling.spills is None:
        ends = ", ".join(
            f"{rise.vessel} at {system.text(rise.level[-1], 'length')}" for rise in filling.rises
        )
        said = (
            f"after {seconds(filling.settled)} it stands still, {ends}"
            if filling.settled is not None
            else f"after an hour it still moves, {ends}"
        )
        if floods:
            said += (
                ": what is above is missing in the sump, so that the pump lifts higher and brings "
                "less; topped up, it floods as said above"
            )
        yield said


def _heading(vessel: VesselDrains) -> str:
    return f"{vessel.vessel}, the water behind its weir" if vessel.behind else vessel.vessel


def _coming(inflows: Sequence[Inflow], system: UnitSystem) -> Iterator[str]:
    stands, full, greatest = inflows
    said = (
        f"{system.text(stands.flow, 'flow')} come in as it stands, "
        f"{system.text(full.flow, 'flow')} at full pump speed"
    )
    if greatest.shut:
        said += (
            f", {system.text(greatest.flow, 'flow')} with {_and(greatest.shut)} shut besides: "
            "the most that handles can send here"
        )
    yield said


def _gate(gate: Gate, system: UnitSystem) -> Iterator[Text | str]:
    name = gate.siphon if gate.valve == gate.siphon else f"{gate.valve} in {gate.siphon}"
    if not gate.covered:
        yield Text.assemble(
            (f"no mark of {name} will do", "bold"),
            f": its inlet lies too little below that of {gate.trickle} to take in its share",
        )
    elif gate.aim.opening is None:
        yield Text.assemble(
            (f"open {name} fully", "bold"),
            f": even so {gate.trickle} carries more than a few percent; now at {gate.now.mark}",
        )
    else:
        yield Text.assemble(
            (f"set {name} to about {gate.aim.mark}", "bold"),
            f", now at {gate.now.mark}, then ",
            (f"trim until {_trimmed_by(gate)} just runs", "bold"),
        )
        if gate.role == "emergency":
            yield Text.assemble(
                ("there is no trickle", "bold"),
                f": {gate.trickle} would run all the time, which is to run only when something is "
                f"wrong; give one, its inlet between those of {gate.siphon} and {gate.trickle}",
            )
        yield _window(gate, system)
        yield (
            f"there {gate.trickle} carries {percent(gate.aim.trickle)}; the inflow may fall by "
            f"{percent(gate.falls)} before it is dry, and rise by {percent(gate.rises)} before "
            f"{_upper(gate)}"
        )
        if gate.froude < 1.0:
            yield (
                f"at that flow {gate.siphon} does not hold full (Froude {gate.froude:.2f}, 1 "
                "is wanted): its pipe is too wide for what comes in"
            )
    yield _now(gate, system)


def _at_aim(vessel: VesselDrains, system: UnitSystem) -> Iterator[Text | str]:
    """What one blockage floods with gates at the marks that are told."""
    if not vessel.aimed:
        return
    at = "at this mark" if len(vessel.gates) == 1 else "at these marks"
    more = list(_flooding(vessel, _only_at_aim(vessel), system))
    fewer = {(c.blocked, c.when) for c in vessel.floods} - {
        (c.blocked, c.when) for c in vessel.floods_at_aim
    }
    for line in more:
        yield Text.assemble(f"{at} ", line)
    if not vessel.floods_at_aim:
        yield f"{at} no single blocked drain floods anything"
    elif not more:
        yield f"{at} nothing floods that does not as it stands" + (
            ", and less does" if fewer else ""
        )


def _trimmed_by(gate: Gate) -> str:
    return gate.trickle if gate.role == "emergency" else "the trickle"


def _window(gate: Gate, system: UnitSystem) -> str:
    low, high = gate.wet.mark or "full", gate.dry.mark or "full"
    unit = system.unit("length")
    height = f"{1e3 * gate.height:.0f} mm"
    if unit not in ("mm", "cm"):
        height = f"{bare(system, gate.height, 'length', 2)} {unit} ({height})"
    k = " to ".join(f"{mark.k:.3g}" for mark in (gate.wet, gate.dry) if mark.k is not None)
    said = f"its window is {low} to {high} (K {k} on the velocity in its bore), {height} of water"
    if gate.narrow:
        said += ": narrower than a hand can read off a handle"
    return said


def _upper(gate: Gate) -> str:
    if gate.upper == "next inlet":
        return "the water is at the next inlet"
    return f"{gate.trickle} carries all that is safe"


def _now(gate: Gate, system: UnitSystem) -> str:
    """How the gate as it stands does."""
    at = f"as the gate stands, {gate.now.mark},"
    if gate.state == "too far open":
        return f"{at} it is too far open: {gate.trickle} is dry and the siphon may draw in air"
    if gate.state == "not far enough open":
        return (
            f"{at} it is not far enough open: the water stands "
            f"{system.text(gate.now.level - gate.wet.level, 'length')} above the window"
        )
    return f"{at} it is inside the window: {gate.trickle} carries {percent(gate.now.trickle)}"


def _cases(to: Page, vessel: VesselDrains, system: UnitSystem) -> None:
    """How far below the nearest rim the water stays, in every case that counts."""
    heading = [Column("blocked", "words")]
    for inflow, said in zip(
        vessel.inflows, ("as it\nstands", "full\nspeed", "greatest"), strict=True
    ):
        heading.append(Column(f"{said}\n{system.text(inflow.flow, 'flow')}"))
    rows: list[tuple[str | Text, ...]] = []
    for blocked in dict.fromkeys(case.blocked for case in vessel.cases):
        found = [vessel.judged(blocked, when) for when in SUPPLIED]
        rows.append((" + ".join(blocked) or "nothing", *(_cell(case, system) for case in found)))
        if not blocked and vessel.siphons:
            unfilled = [
                next(c for c in vessel.cases if (c.blocked, c.primed, c.when) == ((), False, when))
                for when in SUPPLIED
            ]
            which = "siphon" if len(vessel.siphons) == 1 else "siphons"
            rows.append(
                (
                    f"nothing, {which} not full",
                    *(_cell(c, system) if c.lasts else _fills_first(c, system) for c in unfilled),
                )
            )
    to.print()
    may = any(case.floods and not case.surely for case in vessel.cases)
    to.heading("How far the water stays below the rim")
    if may:
        to.print("MAY: may flood by so much, unless drains run full that are counted open")
    to.table(heading, rows)


def _fills_first(case: Case, system: UnitSystem) -> Text:
    """How far below the rim the water would stand if siphons did not fill, which they do."""
    if case.margin is None:
        return Text("fills", style="dim")
    below = "rim" if case.floods else system.text(case.margin, "length")
    return Text(f"{below}, fills", style="dim")


def _cell(case: Case, system: UnitSystem) -> Text:
    if case.floods:
        word = "FLOODS" if case.surely else "MAY"
        return Text(f"{word} {system.text(case.overflow, 'flow')}", style=_GRAVE)
    if case.margin is None:
        return Text("no rim told")
    return Text(system.text(case.margin, "length"))


def _capacities(vessel: VesselDrains, system: UnitSystem) -> Iterator[Text | str]:
    for capacity in vessel.capacities:
        yield _capacity(capacity, vessel.inflows, system)
    if vessel.remedy is not None:
        yield (
            f"one more open drain of {system.text(vessel.remedy.bore, 'length')} bore or wider, "
            "with water a quarter of its bore deep over its lip, would carry what runs over with "
            "one of the others blocked"
        )
    if vessel.quiet is not None:
        quiet = vessel.quiet
        yield (
            f"or keep {quiet.pump} at or below {speed(quiet.speed)}: with handles as they stand "
            f"{system.text(quiet.flow, 'flow')} come then, which the others carry with one blocked"
        )


def _capacity(capacity: Capacity, inflows: Sequence[Inflow], system: UnitSystem) -> Text:
    which = f"with {_and(capacity.which)} blocked, the worst" if capacity.which else "whole"
    short = [inflow for inflow in inflows if capacity.safe < inflow.flow]
    said = Text.assemble((f"{which}: ", "bold"), f"{system.text(capacity.safe, 'flow')}")
    if short:
        least = min(short, key=lambda inflow: inflow.flow)
        said.append(f", {system.text(least.flow - capacity.safe, 'flow')} short ")
        said.append(_WHEN[least.when])
    else:
        said.append(", enough for all that can come")
    return said


def _drains(to: Page, vessel: VesselDrains, system: UnitSystem) -> None:
    """Each drain as it runs."""
    case = vessel.as_it_runs
    flow, length = system.unit("flow"), system.unit("length")
    columns = (
        Column("drain", "words"),
        Column("role", "words"),
        Column(f"inlet\n{length}", "decimal"),
        Column(f"carries\n{flow}", "decimal"),
        Column("runs", "words"),
        Column("Froude", "decimal"),
        Column(f"safe open\n{flow}", "decimal"),
    )
    rows = [
        (
            f"{number} {facts.drain}",
            facts.role,
            bare(system, facts.inlet, "length"),
            bare(system, drain.flow, "flow"),
            "shut" if facts.shut else drain.regime,
            f"{drain.froude:.2f}" if drain.flow else NONE,
            bare(system, facts.open_capacity, "flow"),
        )
        for number, facts, drain in zip(_numbers(vessel), vessel.drains, case.drains, strict=True)
    ]
    to.print()
    to.heading(_as_it_runs(vessel, case, system))
    to.table(columns, rows)
    to.listing(_full_too(vessel, system))


def _full_too(vessel: VesselDrains, system: UnitSystem) -> Iterator[str]:
    """What drains would carry full that are not counted on to run so."""
    found = [
        f"{facts.drain} {system.text(facts.full, 'flow')} (Froude {facts.full_froude:.1f})"
        for facts in vessel.drains
        if facts.full is not None and facts.role != "siphon"
    ]
    if found:
        yield (
            f"with the water here at {system.text(vessel.drains[0].full_at, 'length')}, before "
            f"it runs over, these may run full too: {_and(found)}; that is not counted on"
        )


def _each(to: Page, vessel: VesselDrains, system: UnitSystem) -> None:
    """What each drain carries in every case, as it stands; where that fits a page."""
    if len(vessel.drains) > _ABREAST or len(vessel.drains) < 2:
        return
    columns = [Column("blocked", "words"), Column(f"water at\n{system.unit('length')}", "decimal")]
    columns += [Column(f"{n}\n{system.unit('flow')}", "decimal") for n in _numbers(vessel)]
    rows = []
    for case in vessel.cases:
        if case.when != "as it stands" or case is not vessel.judged(case.blocked, case.when):
            continue
        lost = [
            n
            for n, facts in zip(_numbers(vessel), vessel.drains, strict=True)
            if facts.drain in case.blocked
        ]
        level = "any" if case.level is None else bare(system, case.level, "length")
        rows.append(
            (" + ".join(lost) or "nothing", level, *(_carries(d, system) for d in case.drains))
        )
    to.print()
    to.heading("What each carries as it stands")
    to.table(columns, rows)


def _numbers(vessel: VesselDrains) -> list[str]:
    return [str(n) for n in range(1, len(vessel.drains) + 1)]


def _carries(drain: DrainFlow, system: UnitSystem) -> str:
    if drain.regime in ("blocked", "dry"):
        return NONE if drain.regime == "blocked" else "0 dry"
    return f"{bare(system, drain.flow, 'flow')} {drain.regime}"


def _as_it_runs(vessel: VesselDrains, case: Case, system: UnitSystem) -> str:
    if case.level is None:
        return "As it runs, more comes than the drains carry at any level"
    where = "behind the weir" if vessel.behind else "here"
    said = f"As it runs: water {where} at {system.text(case.level, 'length')}"
    if case.rim is not None:
        said += f", rim at {system.text(case.rim, 'length')}"
    for tank in case.tanks:
        said += f"; {tank.tank} at {system.text(tank.level, 'length')}"
        if tank.rim is not None:
            said += f", rim at {system.text(tank.rim, 'length')}"
    return said


def _siphon(siphon: Siphon, system: UnitSystem) -> Iterator[str]:
    name = siphon.siphon
    yield f"{name} {_fills(siphon, system)}"
    yield (
        f"with air in it the water would stand at {system.text(siphon.unprimed_level, 'length')}, "
        f"full it stands at {system.text(siphon.level, 'length')}"
    )
    if siphon.full > 0.0:
        yield (
            f"at {system.text(siphon.level, 'length')} it carries "
            f"{system.text(siphon.full, 'flow')} full and {system.text(siphon.open, 'flow')} as an "
            f"open pipe; it holds down to {system.text(siphon.least, 'flow')}"
            + ("" if siphon.froude >= 1.0 else ", and LOSES its water as it stands")
        )
        yield _brisk(siphon, system)
        yield _air(siphon, system)


def _fills(siphon: Siphon, system: UnitSystem) -> str:
    covered = system.text(siphon.covered_at, "length")
    match siphon.fills:
        case "surely":
            return "fills by itself: once covered its water sweeps the air out"
        case "yes":
            return (
                "should fill by itself, but slowly: its Froude number once covered lies between 1 "
                "and 2"
            )
        case "no":
            return "does not fill by itself: once covered its water is too slow to sweep air out"
    return (
        f"does not fill by itself: the others carry all before the water is at {covered}, where "
        "its inlet would be covered; shut the pump's other ways or plug the others to start it"
    )


def _brisk(siphon: Siphon, system: UnitSystem) -> str:
    low, high = USUAL
    usual = f"usual are {bare(system, low, 'velocity')} to {system.text(high, 'velocity')}"
    place = (
        "slow" if siphon.velocity < low else "fast" if siphon.velocity > high else "as it should be"
    )
    return f"water in it goes at {system.text(siphon.velocity, 'velocity')}, {place}: {usual}"


def _air(siphon: Siphon, system: UnitSystem) -> str:
    depth, wanted = (system.text(value, "length") for value in (siphon.depth, siphon.vortex_depth))
    if not siphon.covered:
        return f"its inlet lies only {depth} under water and is not covered: it draws in AIR"
    if siphon.depth < siphon.vortex_depth:
        return (
            f"its inlet lies {depth} under water; a vortex may draw in air, which {wanted} would "
            "keep out: a strainer, or an elbow turned down, helps"
        )
    return f"its inlet lies {depth} under water, deep enough against a vortex ({wanted})"


def _plot(to: Page, vessel: VesselDrains, system: UnitSystem) -> None:
    """Level against inflow."""
    drawn = [line for line in vessel.lines if len(line.inflow) > 1]
    if not drawn:
        return
    most = max(line.inflow[-1] for line in drawn)
    heights = {"inlets": [facts.inlet for facts in vessel.drains]}
    if vessel.rim is not None:
        heights["rim"] = [vessel.rim]
    across = [system.number(flow, "flow") for flow in (0.0, most)]
    lines = [
        Series(
            line.state,
            [system.number(flow, "flow") for flow in line.inflow],
            [system.number(level, "length") for level in line.level],
        )
        for line in drawn
    ]
    lines += [
        Series(name, across, 2 * [system.number(height, "length")])
        for name, levels in heights.items()
        for height in levels
    ]
    points = [
        Series(
            "as it stands, full speed, greatest",
            [system.number(case.inflow, "flow")],
            [system.number(case.level, "length")],
            "points",
        )
        for case in (vessel.judged((), when) for when in SUPPLIED)
        if case.level is not None and not case.floods and case.inflow <= most
    ]
    to.print()
    to.plot(
        [*lines, *points],
        x_title=f"comes in, {system.unit('flow')}",
        y_title=f"water at, {system.unit('length')}",
    )
