"""Who comes first, and why the others do not."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from math import inf

from balance.plan.model import Plan, Power
from balance.questions.pumps.answer import PumpTrial, RankBy, Shortfall
from balance.units import SYSTEMS, UnitSystem, significant

SAME = 1e-3  # of a figure by which pumps are ranked: as good as equal


def ranked(trials: Sequence[PumpTrial], *, by: RankBy, plan: Plan) -> tuple[PumpTrial, ...]:
    """The trials in order, each with its rank and the reason for it.

    What meets all targets stands before what does not, what no part bursts under before what may
    burst one, what works in its useful range before what does not; and among those the better by
    what the person ranks by.  Of those that fall short the least short comes first.
    """
    ordered = sorted(trials, key=lambda trial: _key(trial, by))
    if not ordered:
        return ()
    why = _Why(plan, by, ordered[0])
    return tuple(
        replace(
            trial,
            rank=place,
            why=why.first(ordered) if place == 1 else why.loses(trial),
        )
        for place, trial in enumerate(ordered, start=1)
    )


def _key(trial: PumpTrial, by: RankBy) -> tuple[bool, float, bool, bool, float, str]:
    return (
        not trial.meets,
        sum(each.missing for each in trial.shortfalls),
        trial.dead_head.too_much,
        trial.in_useful_range is False,
        _worth(trial, by),
        trial.name,
    )


def _worth(trial: PumpTrial, by: RankBy) -> float:
    """What is ranked by, less is better; infinite where it is not known."""
    if by == "margin":
        return inf if trial.reach is None else -trial.reach
    known = trial.power if by == "watts" else trial.total_cost
    return inf if known is None else known


class _Why:
    """Reasons in words, beside the pump that comes first."""

    def __init__(self, plan: Plan, by: RankBy, first: PumpTrial) -> None:
        self.system: UnitSystem = SYSTEMS[plan.units]
        self.spent = plan.power or Power()
        self.by, self.best = by, first

    def first(self, ordered: list[PumpTrial]) -> str:
        best = self.best
        if not best.meets:
            return f"comes closest, yet {self.short(best)}"
        others = [trial for trial in ordered[1:] if trial.meets]
        said = "meets all targets" if others else "alone meets all targets"
        if best.dead_head.too_much:
            return f"{said}, but {self.presses(best)}"
        if best.in_useful_range is False:
            return f"{said}, but {self.strays(best)}"
        if not others or _worth(best, self.by) == inf:
            return said
        sound = [
            trial
            for trial in others
            if not trial.dead_head.too_much and trial.in_useful_range is not False
        ]
        if not sound:
            range_ = (
                "works in its useful range"
                if best.in_useful_range
                else "is not known to leave its useful range"
            )
            return f"{said}, and alone of those that do {range_} and harms no part"
        return {
            "watts": f"{said} for the fewest watts",
            "margin": f"{said} with the most to spare",
            "cost": f"{said} at the lowest cost over {self.spent.years:g} years",
        }[self.by]

    def loses(self, trial: PumpTrial) -> str:
        best = self.best
        if not trial.meets:
            return self.short(trial)
        if trial.dead_head.too_much and not best.dead_head.too_much:
            return self.presses(trial)
        if trial.in_useful_range is False and best.in_useful_range is not False:
            return self.strays(trial)
        mine, its = _worth(trial, self.by), _worth(best, self.by)
        if mine == inf:
            return self.unknown()
        if abs(mine - its) <= SAME * abs(its):
            return f'as good as "{best.name}"'
        if self.by == "watts":
            more = f"draws {significant(mine - its)} W more"
            if trial.cost is not None and best.cost is not None:
                more += f", {self.money(trial.cost - best.cost)} a year"
            return f'{more} than "{best.name}"'
        if self.by == "margin":
            return f'has less to spare than "{best.name}"'
        years = f"{self.spent.years:g} years"
        return f'costs {self.money(mine - its)} more over {years} than "{best.name}"'

    def unknown(self) -> str:
        if self.by == "margin":
            return "what it has to spare cannot be told"
        return f"its curve has no power, so {self.by} cannot be told"

    def short(self, trial: PumpTrial) -> str:
        worst, *others = trial.shortfalls
        more = f"; {len(others)} more missed" if others else ""
        if worst.lift_missing is not None:
            lack = self.system.text(worst.lift_missing, "head")
            return f'lifts no water to "{worst.name}", {lack} short of it{more}'
        if worst.out_of_reach:
            return f'no water comes to "{worst.name}", whatever the pump{more}'
        reach = ""
        if trial.reach is not None and trial.reach < 1.0:
            reach = f"; gives {significant(100 * trial.reach, 2)} % of all targets at once"
        return f"{self.missed(worst)}{more}{reach}"

    def missed(self, worst: Shortfall) -> str:
        side = "short of" if worst.flow < worst.bound else "over"
        return (
            f'"{worst.name}" gets {self.system.text(worst.flow, "flow")}, '
            f"{self.system.text(abs(worst.bound - worst.flow), 'flow')} {side} what would do"
        )

    def presses(self, trial: PumpTrial) -> str:
        dead = trial.dead_head
        if dead.pressure is None or dead.stands is None:
            return ""
        if not dead.stands:
            return f"with all shut it presses on {dead.weakest}, which is not made for pressure"
        pressure = self.system.text(dead.pressure, "pressure")
        limit = self.system.text(dead.stands, "pressure")
        return (
            f"with all shut it presses with {pressure} on {dead.weakest}, more than the {limit} "
            "that it stands"
        )

    def strays(self, trial: PumpTrial) -> str:
        for duty in trial.pumps:
            if duty.in_useful_range is False and duty.useful_range is not None:
                low, high = duty.useful_range
                side, bound = ("below", low) if duty.flow < low else ("above", high)
                return (
                    f"works {side} its useful range "
                    f"({self.system.text(duty.flow, 'flow')}, range "
                    f"{'from' if side == 'below' else 'to'} {self.system.text(bound, 'flow')})"
                )
        return ""

    def money(self, amount: float) -> str:
        return f"{significant(amount)} {self.spent.currency}".rstrip()
