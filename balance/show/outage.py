"""A power cut, on a page."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rich.text import Text

from balance.questions.outage import Outage
from balance.questions.outage.answer import Case, Gift, Happening, LowWater, Pool, VesselEnd
from balance.show import cautions
from balance.show.page import Column, Page, Series
from balance.show.terminal import page
from balance.show.words import bare, seconds, tiny
from balance.units import SYSTEMS, UnitSystem

MOST_CASES = 8  # of combinations that the page shows
MOST_WAYS = 4  # of those by which water comes, told one by one
MOST_VESSELS = 4  # that the plot has room for
STIRS = 1e-3  # [m], by which a level moves that is drawn
PLOT_HEIGHT = 10
BAD = "bold red"


def show(answer: Outage) -> None:
    """Print what `write` has to say."""
    with page() as to:
        write(to, answer)


def write(to: Page, answer: Outage) -> None:
    """Write whether the sump holds what comes back, where it comes from, and the restart."""
    system = SYSTEMS[answer.plan.units]
    to.title(f"{answer.title or 'This plan'}: when the power fails")
    for line in _verdict(answer, system):
        to.print(line)
    to.print()
    _whence(to, answer, system)
    to.section("What happens", (_happens(each) for each in answer.happenings))
    _plot(to, answer, system)
    if answer.checks:
        to.print()
        _cases(to, answer, system)
    to.section("When the power comes back", (_back(low, system) for low in answer.restart))
    to.beware("Beware", cautions.before_a_power_cut(answer.plan))
    to.notes(answer.notes)
    to.print()
    to.print(
        f"Every simulation keeps its water within {tiny(system, answer.lost, 'volume')} "
        f"{system.unit('volume')}.",
        style="dim",
    )


# The verdict ------------------------------------------------------------------------------------


def _verdict(answer: Outage, system: UnitSystem) -> Iterator[Text]:
    for pool in answer.pools:
        yield _pool(answer, pool, system)
    others = [
        vessel
        for vessel in answer.vessels
        if vessel.margin is not None
        and vessel.margin < 0.0
        and not any(vessel.vessel in pool.sections for pool in answer.pools)
    ]
    for vessel in others:
        yield Text(
            f"{vessel.vessel} spills: it rises to {system.text(vessel.highest, 'length')}, over "
            f"its rim at {system.text(vessel.rim or 0.0, 'length')}.",
            style=BAD,
        )
    if not answer.pools:
        yield Text(
            "NOTHING IS SAID OF A SUMP: no pump draws from a vessel with a size. Write length and "
            "width, or diameter, and rim of the vessel that it stands in.",
            style=BAD,
        )
    if answer.blocked is not None:
        yield _blocked(answer, answer.blocked, system)


def _pool(answer: Outage, pool: Pool, system: UnitSystem) -> Text:
    length = system.unit("length")
    start, end = system.apart(pool.start, pool.end, "length")
    ends = "rises" if pool.end >= pool.start else "evens out"
    said = (
        f"{_first(pool.vessel)} {ends} from {start} {length} to {end} {length}"
        f"{_with(pool.failed, answer.checks)}"
    )
    if pool.rim is None or pool.margin is None or pool.room is None:
        return Text(f"{said}. Nothing tells its rim, so how near that is to a flood.")
    if pool.room < 0.0:
        said += f" AND SPILLS {system.text(-pool.room, 'volume')} OVER {_rim(answer, pool)}"
    else:
        said += (
            f", {system.text(pool.margin, 'length')} below {_rim(answer, pool)}: "
            f"{system.text(pool.room, 'volume')} would still go into it{_beside(pool)}"
        )
    if pool.highest_start is None:
        said += f". There is no level at which it may run{_beside(pool)}. {_cure(answer)}"
        return Text(said, style=BAD)
    highest = system.text(pool.highest_start, "length")
    said += f". Let it run no higher than {highest}"
    if len(pool.sections) > 1 and any(
        w.crest < pool.highest_start and {w.from_, w.to} <= set(pool.sections)
        for w in answer.plan.weirs
    ):
        said += " with the sections beside it as high"
    return Text(
        f"{said}. {_cure(answer)}" if pool.room < 0.0 else f"{said}.",
        style=BAD if pool.room < 0.0 else "",
    )


def _rim(answer: Outage, pool: Pool) -> str:
    """Whose rim is the lowest, in words."""
    if answer.plan.vessels[pool.vessel].rim == pool.rim:
        return "its rim"
    return next(
        f"the rim of {name}, which it shares its water with"
        for name in pool.sections
        if answer.plan.vessels[name].rim == pool.rim
    )


def _beside(pool: Pool) -> str:
    return " and the sections beside it" if len(pool.sections) > 1 else ""


def _cure(answer: Outage) -> str:
    """What would help most: at the vessel that gives most."""
    giving = [vessel for vessel in answer.vessels if vessel.by]
    if not giving:
        return ""
    most = max(giving, key=lambda vessel: vessel.given)
    by = most.by[0].way
    return (
        f"Most comes from {most.vessel} by {by}: "
        + {
            "break": f"drill the hole of {most.at} nearer to the surface.",
            "nozzle": f"give {most.at} a siphon_break near the surface, or end it higher.",
            "inlet": f"raise the inlet of {most.at}, by a standpipe.",
            "crest": "over a longer weir less water stands.",
            "level": "end it higher, or break its siphon.",
            "empty": "give its way out a standpipe, or end it higher.",
            "still": "",
        }[most.ended]
    )


def _with(failed: Sequence[str], checks: Sequence[str]) -> str:
    """Which check valves fail, as a sentence goes on with it."""
    if not checks:
        return ""
    if not failed:
        return " with every check valve holding"
    if len(failed) == len(checks):
        return " with every check valve failed"
    return f" with the check valves of {' and '.join(failed)} failed"


def _blocked(answer: Outage, case: Case, system: UnitSystem) -> Text:
    said = "If the holes of the siphon breaks are blocked as well, "
    if case.spilt > 0.0:
        running = "".join(
            f" {pool.vessel} may run at about {system.text(pool.highest_blocked, 'length')} then."
            for pool in answer.pools
            if pool.highest_blocked is not None
        )
        return Text(
            f"{said}{system.text(case.spilt, 'volume')} spill: keep them clean.{running}", style=BAD
        )
    ends = ", ".join(
        f"{pool.vessel} rises to {system.text(end, 'length')}{_up_to(pool, system)}"
        for pool, end in zip(answer.pools, case.ends, strict=True)
    )
    return Text(f"{said}{ends or 'nothing spills'}.")


def _up_to(pool: Pool, system: UnitSystem) -> str:
    """How high it may run with the holes blocked."""
    if pool.highest_blocked is None or pool.highest_start is None:
        return ""
    return f", and about {system.text(pool.highest_blocked, 'length')} is as high as it may run"


def _first(name: str) -> str:
    """A name at the head of a sentence, as the plan writes it."""
    return f"The water in {name}"


# Whence -----------------------------------------------------------------------------------------


def _whence(to: Page, answer: Outage, system: UnitSystem) -> None:
    """Where the water comes from, and where each vessel stops."""
    length, volume = system.unit("length"), system.unit("volume")
    columns = (
        Column("water from", "words"),
        Column(volume, "decimal"),
        Column(f"stands at\n{length}", "decimal"),
        Column(f"then at\n{length}", "decimal"),
        Column("until it meets", "words"),
    )
    giving = [vessel for vessel in answer.vessels if vessel.by and vessel.given > 0.0]
    rows = [_giver(vessel, system) for vessel in giving]
    if answer.pipes > 0.0:
        rows.append(("pipes and devices", bare(system, answer.pipes, "volume"), "", "", ""))
    if not rows:
        to.print("No water comes back.")
        return
    total = sum(vessel.given for vessel in giving) + answer.pipes
    to.table(columns, (*rows, ("in all", bare(system, total, "volume"), "", "", "")))
    ways = [f"{vessel.vessel}: {_by(vessel.by, system)}" for vessel in giving if len(vessel.by) > 1]
    if answer.pipes > 0.0:
        ways.append(f"pipes and devices: {_by(answer.pipes_by, system)}")
    to.section(f"By which ways, {volume}", ways)


def _by(gifts: Sequence[Gift], system: UnitSystem) -> str:
    """The greatest of several ways, each with its volume."""
    said = [f"{gift.way} {bare(system, gift.volume, 'volume')}" for gift in gifts[:MOST_WAYS]]
    left = gifts[MOST_WAYS:]
    if left:
        rest = sum(gift.volume for gift in left)
        said.append(f"{len(left)} more {bare(system, rest, 'volume')}")
    return ", ".join(said)


def _giver(vessel: VesselEnd, system: UnitSystem) -> tuple[str, ...]:
    start, end = system.apart(vessel.start, vessel.end, "length")
    return (
        vessel.vessel,
        bare(system, vessel.given, "volume"),
        start,
        end,
        _until(vessel),
    )


def _until(vessel: VesselEnd) -> str:
    """Why a vessel gives no more, in few words."""
    if vessel.ended == "crest":
        return "the edge of its weir"
    return {
        "break": f"the hole of {vessel.at}",
        "nozzle": f"the mouth of {vessel.at}",
        "inlet": f"the inlet of {vessel.at}",
        "level": "water as high",
        "empty": "its floor",
        "still": "",
    }[vessel.ended]


def _happens(each: Happening) -> str:
    return f"{seconds(each.time)}: {_event(each)}"


def _event(each: Happening) -> str:
    return {
        "uncovered": f'air comes into "{each.name}" from {each.vessel}: its siphon breaks',
        "air": f'"{each.name}" runs dry: air can come in there, which nothing here counts on',
        "dry": f'"{each.name}" draws air from {each.vessel}',
        "wet": f'"{each.name}" comes under water in {each.vessel}',
        "rim": f"{each.vessel} SPILLS over its rim",
        "primed": f'"{each.name}" begins to run full',
        "level": f'"{each.name}" runs no more: the water at its ends stands level',
        "enough": f'enough has passed in "{each.name}"',
    }[each.kind]


def _plot(to: Page, answer: Outage, system: UnitSystem) -> None:
    """How levels move over the time, each from where it was."""
    if not answer.time or answer.time[-1] <= 0.0:
        return
    moved = {
        trace.vessel: max(trace.level) - min(trace.level)
        for trace in answer.traces
        if max(trace.level) - min(trace.level) > STIRS
    }
    most = sorted(moved, key=lambda name: -moved[name])[:MOST_VESSELS]
    if not most:
        return
    minutes = [time / 60.0 for time in answer.time]
    to.print()
    to.plot(
        [
            Series(
                trace.vessel,
                minutes,
                [system.number(level - trace.level[0], "length") for level in trace.level],
            )
            for trace in answer.traces
            if trace.vessel in most
        ],
        x_title="minutes",
        y_title=f"level over what it was, {system.unit('length')}",
        height=PLOT_HEIGHT,
    )


# Every case -------------------------------------------------------------------------------------


def _cases(to: Page, answer: Outage, system: UnitSystem) -> None:
    length, volume = system.unit("length"), system.unit("volume")
    columns = (
        Column("check valves\nthat fail", "words"),
        Column("that hold", "words"),
        *(Column(f"{pool.vessel}\nto {length}", "decimal") for pool in answer.pools),
        Column(f"room left\n{volume}", "decimal"),
        Column("at rest\nafter"),
    )
    to.table(columns, (_case(case, system) for case in answer.cases[:MOST_CASES]))
    more = len(answer.cases) - MOST_CASES
    if more > 0:
        to.print(f"{more} more cases lie below these; --json has all of them.")


def _case(case: Case, system: UnitSystem) -> tuple[str, ...]:
    return (
        _named(case.failed, case.holding),
        _named(case.holding, case.failed),
        *(bare(system, end, "length") for end in case.ends),
        f"spills {bare(system, case.spilt, 'volume')}"
        if case.spilt > 0.0
        else bare(system, case.room, "volume"),
        seconds(case.settled) if case.at_rest else "-",
    )


def _named(these: Sequence[str], others: Sequence[str]) -> str:
    if not these:
        return "none"
    return ", ".join(these) if others else "all"


# The restart ------------------------------------------------------------------------------------


def _back(low: LowWater, system: UnitSystem) -> Text:
    begin = "" if low.primes else "should siphons not run full again, "
    when = f"after {seconds(low.when)}" if low.when >= 1.0 else "as the pipes fill"
    said = f"{begin}{low.vessel} falls to {system.text(low.lowest, 'length')} {when}"
    bad = [f"{name} SPILLS" for name in low.spills]
    intake = "" if low.intake is None else system.text(low.intake, "length")
    if low.covered is False:
        bad.append(f"{low.pump} DRAWS AIR, its intake is at {intake}")
    if bad:
        return Text(f"{said}: {', and '.join(bad)}", style=BAD)
    if low.intake is None:
        return Text(f"{said}; write intake on {low.pump} to hear whether it stays under water")
    said += f"; the intake of {low.pump} at {intake} stays under water"
    if low.needed is None:
        return Text(f"{said}; write strainer to hear whether a vortex may draw air")
    needed = system.text(low.needed, "length")
    if low.deep:
        return Text(f"{said}, and above {needed}, where no vortex draws air")
    return Text(f"{said}, but below {needed} a vortex may draw air into it", style="yellow")
