"""What stands in the way of targets that are missed, in words."""

from __future__ import annotations

from collections.abc import Iterator

from balance.questions.settings.answer import BranchFlow, Total
from balance.questions.settings.at_marks import AtMarks
from balance.questions.settings.reach import Dry
from balance.questions.settings.rows import WIDE_OPEN
from balance.questions.speeds import speed_range
from balance.units import SYSTEMS


def lift_words(at: AtMarks) -> tuple[str, ...]:
    """Each branch that is too high, with what it needs and what the pump has."""
    return tuple(_lift(at, dry) for dry in at.found.dry if not dry.locked)


def _lift(at: AtMarks, dry: Dry) -> str:
    system = SYSTEMS[at.network.plan.units]
    tops = [speed_range(machine)[1] for machine in at.network.machines]
    if not any(tops):
        return f'"{dry.branch}" gets no water: the pump is stopped'
    if dry.lifted is None:
        return f'"{dry.branch}" gets no water: no way leads there'
    needs, lifted = system.text(dry.needs, "head"), system.text(dry.lifted, "head")
    if dry.lifted > dry.needs:
        return (
            f'"{dry.branch}" gets no water although the pump lifts to {lifted} and its water '
            f"stands at {needs} above the datum: a check valve on its way stands the wrong way "
            "round, or takes more than that to open"
        )
    return (
        f'"{dry.branch}" is out of reach: its water must stand at {needs} above the datum, and '
        f"the pump at its top speed lifts to {lifted} with all else shut, "
        f"{system.text(dry.needs - dry.lifted, 'head')} short of it; "
        "a pump with more head, or a lower outlet"
    )


def binding(
    at: AtMarks, branches: tuple[BranchFlow, ...], totals: tuple[Total, ...]
) -> tuple[str, ...]:
    """What binds: locked valves, the pump, wide-open valves, branches without a valve, limits."""
    if all(b.met and b.within_limits for b in branches) and all(total.met for total in totals):
        return ()
    return (
        *_locked_shut(at),
        *_spent(at),
        *_held_back(at, branches),
        *_unset(at, branches),
        *_limits(branches),
        *_at_odds(at, totals),
        *_between_marks(branches),
    )


def _locked_shut(at: AtMarks) -> Iterator[str]:
    """Valves locked shut that keep branches dry, with the branches."""
    barred: dict[str, list[str]] = {}
    for dry in at.found.dry:
        if [valve.stretch for valve in dry.locked] == [dry.branch]:
            (valve,) = dry.locked
            name = "" if valve.name == dry.branch else f' "{valve.name}"'
            yield f'"{dry.branch}": its valve{name} is locked shut'
        elif dry.locked:
            shut = " and ".join(f'"{valve.name}"' for valve in dry.locked)
            are = "are" if len(dry.locked) > 1 else "is"
            why = f"{shut} {are} locked shut, and no other way leads there"
            barred.setdefault(why, []).append(f'"{dry.branch}"')
    for why, names in barred.items():
        yield f"{', '.join(names)}: {why}"


def _spent(at: AtMarks) -> Iterator[str]:
    """Pumps at their top and valves wide open while more is wanted."""
    found = at.found
    if not found.tight:
        return
    for machine, speed in zip(at.network.machines, found.speeds[:, 0], strict=True):
        if speed >= speed_range(machine)[1] - 1e-9:
            yield (
                f'pump "{machine.name}" runs at {100 * speed:.0f} %, the most it may, '
                "and more head would help"
            )
    wide = {c.valve.stretch for c in at.turned if at.opening(c.valve) >= WIDE_OPEN * c.most}
    names = ", ".join(f'"{name}"' for name in found.tight if name in wide)
    if names:
        yield f"wide open and still wanting more: {names}"


def _held_back(at: AtMarks, branches: tuple[BranchFlow, ...]) -> Iterator[str]:
    """Branches whose valve could give them more, at the cost of those that miss more."""
    if not at.found.tight:
        return
    turned = {c.valve.name for c in at.turned if at.opening(c.valve) < c.most}
    names = [
        f'"{branch.branch}"'
        for branch in branches
        if branch.is_short and branch.valve in turned and not branch.lost_to_rounding
        if branch.flow > 0.0
    ]
    if names:
        yield (
            f"held a little short, so that the others miss less: {', '.join(names)}; a higher "
            "weight in the plan spares a branch that"
        )


def _at_odds(at: AtMarks, totals: tuple[Total, ...]) -> Iterator[str]:
    """Totals that the branches' own targets do not add up to."""
    system = SYSTEMS[at.network.plan.units]
    for total in totals:
        low, high = total.low or 0.0, total.high or float("inf")
        if not total.met and total.asked is not None and not low <= total.asked <= high:
            yield (
                f'group "{total.group}": the targets of its branches add up to '
                f"{system.text(total.asked, 'flow')}"
            )


def _unset(at: AtMarks, branches: tuple[BranchFlow, ...]) -> Iterator[str]:
    """Branches that take what they get."""
    dry = {each.branch for each in at.found.dry}
    free = {valve.name for valve in at.network.valves if not valve.part.locked}
    for branch in branches:
        if not branch.met and branch.valve not in free and branch.branch not in dry:
            why = "no valve sets it" if branch.valve is None else "its valve is locked"
            yield f'"{branch.branch}" takes what it gets: {why}'


def _limits(branches: tuple[BranchFlow, ...]) -> Iterator[str]:
    for branch in branches:
        low, high = branch.limits
        if not branch.within_limits:
            yield (
                f'"{branch.branch}" is kept within its limits between marks only: no mark beside '
                "does; marks closer together, or a finer valve, would"
                if branch.lost_to_rounding
                else f'"{branch.branch}" cannot be kept within its limits'
            )
        elif not branch.met and (
            (high is not None and branch.low is not None and high < branch.low)
            or (low is not None and branch.high is not None and low > branch.high)
        ):
            yield f'"{branch.branch}": its limits forbid its target'


def _between_marks(branches: tuple[BranchFlow, ...]) -> Iterator[str]:
    """Branches that would be met if handles stood between their marks."""
    names = [
        f'"{branch.branch}"'
        for branch in branches
        if branch.lost_to_rounding and branch.within_limits
    ]
    if names:
        yield (
            f"met between marks only: {', '.join(names)}; marks closer together, or a finer "
            "valve, would do"
        )
