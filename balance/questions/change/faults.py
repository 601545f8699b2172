"""What is wrong with the `[change]` of a plan, all of it at once."""

from __future__ import annotations

from collections.abc import Collection, Iterator

from balance.errors import Fault, PlanError
from balance.network.basins import basin_of
from balance.plan.locate import Path
from balance.plan.model import OUTSIDE, Change, Drain, Header, Plan, Run
from balance.questions.change.limits import held_for
from balance.questions.change.lines import stretch_of
from balance.units import SYSTEMS

Complaint = tuple[Path, str, str]

EXAMPLE = (
    'write [change] and below it volume = "20 gal", drain = "change drain", '
    'from = "new water", pump = "change pump"'
)


SALTIEST = 50.0
"""Salinity [g/kg] beyond which the formulae of water do not hold; our own choice."""


def refuse_faults(plan: Plan, *, asked: Collection[str]) -> Change:
    """The change of a plan that has no fault.

    Parameters
    ----------
    asked : keys that stand in place of the plan's own, so that their faults are not of the file

    Raises
    ------
    PlanError
        With every fault, in the order in which they are found.
    """
    found: list[Complaint] = [((), "the plan has no water change", EXAMPLE)]
    if plan.change is not None:
        found = [*_ways(plan, plan.change), *_amounts(plan, plan.change)]
    if found or plan.change is None:
        raise PlanError(tuple(_fault(plan, each, asked=asked) for each in found))
    return plan.change


def _fault(plan: Plan, complaint: Complaint, *, asked: Collection[str]) -> Fault:
    path, problem, remedy = complaint
    if len(path) == 2 and path[0] == "change" and path[1] in asked:
        return Fault(f"--{path[1]}", None, "", problem, remedy)
    return Fault(plan.file, plan.line_of(path), plan.words(path), problem, remedy)


def _ways(plan: Plan, change: Change) -> Iterator[Complaint]:
    """By which drain and pump, and whether these are for changes and lead where they must."""
    if change.drain is None and change.pump is None:
        yield (
            ("change",),
            "it names neither drain nor pump, so there is nothing to reckon",
            'add drain = "...", the drain or run that takes old water away, or pump = "..."',
        )
    if change.drain is not None:
        yield from _drain(plan, change, change.drain)
    if change.pump is not None:
        yield from _pump(plan, change, change.pump)
    elif change.from_ is not None:
        yield (
            ("change", "from"),
            f'nothing brings the water of "{change.from_}" to the system',
            'add pump = "...", or take `from` out',
        )


def _drain(plan: Plan, change: Change, name: str) -> Iterator[Complaint]:
    drain = stretch_of(plan, name)
    here = _place(plan, name)
    if isinstance(drain, Drain) and drain.role != "change":
        yield (
            ("change", "drain"),
            f'"{name}" is a drain of role {drain.role}, which is open all the time',
            'give it role = "change" if it is for water changes, or name another',
        )
    elif isinstance(drain, Run) and drain.use != "change":
        yield (
            here,
            f'"{name}" takes the old water away, but is open all the time',
            'add use = "change"',
        )
    if change.from_ is not None and drain.from_ == change.from_:
        yield (
            ("change", "drain"),
            f'"{name}" drains "{change.from_}", which is the new water',
            "name a drain of the system",
        )


def _pump(plan: Plan, change: Change, name: str) -> Iterator[Complaint]:
    pump = plan.pumps[name]
    here: Path = ("pumps", name)
    if pump.use != "change":
        yield (
            here,
            f'"{name}" brings the new water, but runs all the time',
            'add use = "change"',
        )
    source = change.from_
    if source is None and pump.from_ not in plan.vessels:
        yield (
            ("change", "pump"),
            f'nothing tells which vessel "{name}" takes the new water from',
            'add from = "...", the vessel of the new water',
        )
    if source is not None and source not in _reached(plan, pump.from_, backwards=True):
        yield (
            ("change", "from"),
            f'no way leads from "{source}" to the pump "{name}", which draws from "{pump.from_}"',
            f'let the pump begin there, from = "{source}", or a run lead to it',
        )
    if pump.to in plan.vessels and pump.to in (source, pump.from_):
        yield (
            (*here, "to"),
            f'"{name}" brings the new water back to where it comes from',
            "let it lead to a vessel or joint of the system",
        )
    elif not _reached(plan, pump.to, backwards=False) - {source, OUTSIDE}:
        yield (
            (*here, "to"),
            f'no way leads from the pump "{name}" to a vessel of the system',
            'add a run from there to a vessel, with use = "change"',
        )
    for index, run in enumerate(plan.runs):
        if run.use != "change" and _serves_alone(plan, run.from_, run.to, name):
            yield (
                ("runs", index),
                f'"{run.name}" leads only to or from the pump "{name}", but is open all the time',
                'add use = "change"',
            )


def _serves_alone(plan: Plan, start: str, end: str, pump: str) -> bool:
    """Whether a run between two ends shares a joint with a pump, and with nothing else there."""
    of_pump = {plan.pumps[pump].from_, plan.pumps[pump].to} - plan.vessels.keys()
    ends: list[tuple[str | None, str | None]] = [(run.from_, run.to) for run in plan.runs]
    ends += [(branch.from_, branch.to) for branch in plan.branches]
    ends += [(header.from_, header.to) for header in plan.headers]
    ends += [(other.from_, other.to) for name, other in plan.pumps.items() if name != pump]
    return any(sum(joint in pair for pair in ends) == 1 for joint in of_pump & {start, end})


def _reached(plan: Plan, start: str, *, backwards: bool) -> set[str]:
    """Vessels that water comes to from an end, or that it came from."""
    ways: list[tuple[str, str | None]] = [(run.from_, run.to) for run in plan.runs]
    ways += [(b.from_, b.to) for b in plan.branches if b.from_ is not None]
    ways += [(pump.from_, pump.to) for pump in plan.pumps.values()]
    for header in plan.headers:
        ends = [branch.to for branch in plan.branches if _taps(header, branch.name)]
        ways += [(header.from_, end) for end in (*ends, header.to)]
    found, waiting = set[str](), [start]
    while waiting:
        here = waiting.pop()
        if here in found:
            continue
        found.add(here)
        if here not in plan.vessels:
            for begin, end in ways:
                onward = (begin if end == here else None) if backwards else end
                if onward is not None and (backwards or begin == here):
                    waiting.append(onward)
    return found & (plan.vessels.keys() | {OUTSIDE})


def _taps(header: Header, branch: str) -> bool:
    return any(tap.branch == branch for tap in header.taps)


def _amounts(plan: Plan, change: Change) -> Iterator[Complaint]:
    """Volumes that no vessel could give, whatever flows."""
    system = SYSTEMS[plan.units]
    here: Path = ("change", "volume")
    if change.volume == 0.0:
        yield here, "no water is changed", 'write volume = "20 gal"'
    if change.salinity is not None and change.salinity > SALTIEST:
        said = (
            f"{system.text(change.salinity, 'salinity')} is beyond what is known of salt water, "
            f"{system.text(SALTIEST, 'salinity')}"
        )
        yield ("change", "salinity"), said, 'write salinity = "35 g/kg"'
    pump = plan.pumps.get(change.pump or "")
    source = change.from_ or (pump.from_ if pump is not None else None)
    holds = held_for(plan, change.pump, source if source in plan.vessels else None)
    if holds is not None and holds < change.volume:
        said = (
            f'"{source}" holds {system.text(holds, "volume")} that its pump can take, and '
            f"{system.text(change.volume, 'volume')} are to come from it"
        )
        yield here, said, "mix more, change less, or change twice"
    if change.drain is not None and (change.order == "drain first" or pump is None):
        above = _above_inlet(plan, change.drain, but=source)
        if above is not None and above < change.volume:
            said = (
                f"the system holds {system.text(above, 'volume')} that can come to the inlet of "
                f'"{change.drain}", and {system.text(change.volume, "volume")} are to leave by it'
            )
            remedy = "change less, change twice, or let the drain begin lower"
            if pump is not None:
                remedy += '; or bring the new water first, order = "fill first"'
            yield here, said, remedy


def _above_inlet(plan: Plan, name: str, *, but: str | None) -> float | None:
    """What could leave by a drain at most [m³]; None where that is open.

    All that its vessel holds above its inlet, and all of every other vessel, since the system's
    pumps may bring it there.
    """
    drain = stretch_of(plan, name)
    inlet = drain.inlet if isinstance(drain, Drain) else None
    held = 0.0
    for vessel_name, vessel in plan.vessels.items():
        if vessel_name in (but, drain.to):
            continue
        basin = basin_of(vessel)
        if basin is None:
            return None
        floor = inlet if vessel_name == drain.from_ else None
        under = 0.0 if floor is None else float(basin.volume(min(floor, vessel.level)))
        held += float(basin.volume(vessel.level)) - under
    return held


def _place(plan: Plan, name: str) -> Path:
    for section in ("runs", "drains"):
        for index, each in enumerate(getattr(plan, section)):
            if each.name == name:
                return (section, index)
    raise KeyError(name)
