"""What a plan describes, in words and tables, and its doubts."""

from __future__ import annotations

from collections.abc import Iterator

from rich.text import Text

from balance.questions.check import Check
from balance.questions.check.answer import BranchRow, Doubt, PipeRow, VesselRow
from balance.show.page import Column, Page
from balance.show.terminal import page
from balance.show.words import bare, between, percent
from balance.units import SYSTEMS, UnitSystem, significant

DAY = 86400.0  # [s]
LITRE = 1e-3  # [m³]
NO_FLOW = 1e-9  # [m³/s], rounding of what comes in and goes out
AMPLE = 10.0  # times the inflow: no need to say how much more


def show(answer: Check) -> None:
    """Print what `write` has to say."""
    with page() as to:
        write(to, answer)


def write(to: Page, answer: Check) -> None:
    """Write what there is, table by table, then what is doubtful."""
    system = SYSTEMS[answer.plan.units]
    to.title(f"{answer.title or 'This plan'}: what the plan describes")
    to.print(_summary(answer))
    to.print()
    to.table(_vessel_columns(system), _vessels(answer, system))
    to.print()
    to.table(_branch_columns(system), (_branch(row, system) for row in answer.branches))
    to.section("Pumps and headers", _pumps_and_headers(answer, system))
    to.section("Pipe and hose in all, and what they stand", _pipes(answer, system))
    to.section("As water evaporates", _evaporation(answer, system))
    to.section("Doubts", map(_doubt, answer.doubts))
    to.notes(answer.notes)
    to.print()
    if not answer.safe:
        to.print("NOT SAFE as it stands: see the doubts.", style="bold red")
    elif not answer.doubts:
        to.print("Nothing is doubtful.")


def _summary(answer: Check) -> str:
    spares = sum(row.end is None for row in answer.branches)
    locked = sum(ref.part.locked for ref in answer.plan.valves())
    lifts = [row.lift for row in answer.branches if row.lift is not None]
    said = (
        f"{_count(len(answer.pumps), 'pump')}, {_count(len(answer.headers), 'header')}, "
        f"{_count(len(answer.branches), 'branch', 'branches')}"
        + (f" ({_count(spares, 'capped spare')})" if spares else "")
        + f", {_count(answer.drains, 'drain')}; {_count(answer.valves, 'valve')}"
        + (f", {locked} of them locked." if locked else ".")
    )
    said = said[:1].upper() + said[1:]
    if lifts:
        system = SYSTEMS[answer.plan.units]
        said += f" The greatest lift is {system.text(max(lifts), 'head')}."
    return said


def _count(number: int, one: str, many: str = "") -> str:
    words = {0: "no", 1: "one", 2: "two", 3: "three", 4: "four", 5: "five", 6: "six"}
    return f"{words.get(number, str(number))} {one if number == 1 else many or one + 's'}"


def _vessel_columns(system: UnitSystem) -> tuple[Column, ...]:
    length, flow = system.unit("length"), system.unit("flow")
    return (
        Column("vessel", "words"),
        Column(f"bottom\n{length}"),
        Column(f"level\n{length}"),
        Column(f"rim\n{length}"),
        Column(f"comes in\n{flow}"),
        Column(f"drains carry\n{flow}"),
    )


def _vessels(answer: Check, system: UnitSystem) -> Iterator[tuple[str, ...]]:
    for row in answer.vessels:
        yield (
            row.vessel,
            _or_nothing(system, row.bottom, "length"),
            bare(system, row.level, "length"),
            _or_nothing(system, row.rim, "length"),
            _or_nothing(system, row.inflow if (row.inflow or 0.0) > NO_FLOW else None, "flow"),
            _carried(row, system),
        )


def _carried(row: VesselRow, system: UnitSystem) -> str:
    """What the drains carry; a baffle carries far more than anyone wants to know."""
    if row.carried is None:
        return ""
    if row.inflow is not None and row.inflow > NO_FLOW and row.carried > AMPLE * row.inflow:
        return "ample"
    return f"~{bare(system, row.carried, 'flow', 2)}"


def _branch_columns(system: UnitSystem) -> tuple[Column, ...]:
    return (
        Column("branch", "words"),
        Column("to", "words"),
        Column(f"lift\n{system.unit('head')}"),
        Column(f"length\n{system.unit('head')}"),
        Column("valve\nstands at"),
        Column(f"wanted\n{system.unit('flow')}"),
        Column(f"then up\nto {system.unit('velocity')}"),
    )


def _branch(row: BranchRow, system: UnitSystem) -> tuple[str, ...]:
    locked = ", locked" if row.locked else ""
    return (
        row.branch,
        row.end or "capped",
        _or_nothing(system, row.lift, "head"),
        bare(system, row.length, "head"),
        f"{row.mark}{locked}" if row.valve is not None else "no valve",
        between(system, row.low, row.high),
        _or_nothing(system, row.velocity or None, "velocity"),
    )


def _or_nothing(system: UnitSystem, value: float | None, dimension: str) -> str:
    return "" if value is None else bare(system, value, dimension)


def _pumps_and_headers(answer: Check, system: UnitSystem) -> Iterator[str]:
    for pump in answer.pumps:
        least = "at least " if pump.dead_head_at_least else ""
        yield (
            f"{pump.pump}, from {pump.start} to {pump.end}, at {percent(pump.speed)} speed; "
            f"dead head {least}{system.text(pump.dead_head, 'head')}, run-out "
            f"{system.text(pump.run_out, 'flow')} at {percent(pump.top_speed)}"
        )
    for header in answer.headers:
        ends = f"from {header.start}" + (f" and {header.end}" if header.end else "")
        yield (
            f"{header.header}, fed {ends}: {_count(header.taps, 'tap')} along "
            f"{system.text(header.length, 'head')} of {header.pipe}"
        )


def _pipes(answer: Check, system: UnitSystem) -> Iterator[str]:
    for kind in dict.fromkeys(row.kind for row in answer.pipes):
        sizes = [row for row in answer.pipes if row.kind == kind]
        yield f"{kind}: " + ", ".join(
            f"{system.text(row.length, 'head')} of {row.size}{_stands(row, system)}"
            for row in sizes
        )


def _evaporation(answer: Check, system: UnitSystem) -> Iterator[str]:
    """Where it shows, how fast, and how much may be gone; nothing where the plan tells nothing."""
    unit = system.units["volume"][1]
    for row in answer.evaporation:
        if row.rate is None and row.to_intake is None:
            continue
        fall = system.text(row.fall_of_a_litre * unit / LITRE, "length")
        said = (
            f"it shows in {row.vessel}, from which {row.pump} draws: "
            f"1 {system.unit('volume')} is {fall}"
        )
        if row.rate is not None:
            gone = DAY * row.rate
            falls = system.text(row.fall_of_a_litre * gone / LITRE, "length")
            said += f"; {system.text(gone, 'volume')} a day are {falls}"
        yield said
        if row.to_intake:  # a pump that draws air already is doubted
            said = (
                f"{system.text(row.to_intake, 'volume')}{_days(row.time_to_intake)} until the "
                f"intake of {row.pump} lies bare"
            )
            if row.to_vortex == 0.0:
                said += "; a vortex may draw air into it already now"
            elif row.to_vortex is not None:
                said += (
                    f"; {system.text(row.to_vortex, 'volume')}{_days(row.time_to_vortex)} until a "
                    "vortex may draw air into it"
                )
            yield said
    if any(row.rate is not None for row in answer.evaporation):
        yield "top up with fresh water, not salt: the salt stays behind"


def _days(time: float | None) -> str:
    return "" if time is None else f", {significant(time / DAY, 2)} days,"


def _stands(row: PipeRow, system: UnitSystem) -> str:
    if row.stands is None:
        return ""
    if not row.stands:
        return " (no pressure)"
    about = "~" if row.kind == "hose" else ""
    return f" ({about}{system.text(row.stands, 'pressure', 2 if about else 3)})"


def _doubt(doubt: Doubt) -> Text:
    said = Text()
    if doubt.unsafe:
        said.append("NOT SAFE: ", style="bold red")
    place = f"line {doubt.line}, " if doubt.line is not None else ""
    said.append(f"{place}{doubt.where}: {doubt.text}")
    if doubt.remedy:
        said.append(f"\n{doubt.remedy}", style="dim")
    return said
