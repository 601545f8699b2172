"""Who comes first, and why the others do not."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from math import inf

from balance.plan.model import Plan, Power
from balance.questions.duty import PumpDuty
from balance.questions.pumps.answer import PumpTrial, RankBy, Shortfall
from balance.units import SYSTEMS, UnitSystem, significant

Worth = Callable[[PumpTrial], float]

SAME = 1e-3  # of a figure by which pumps are ranked: as good as equal


def ranked(trials: Sequence[PumpTrial], *, by: RankBy, plan: Plan) -> tuple[PumpTrial, ...]:
    """The trials in order, each with its rank and the reason for it.

    What meets all targets stands before what does not, what no part bursts under before what may
    burst one, what works in its useful range before what is not judged and that before what leaves
    it; and among those the better by what the person ranks by.  Of those that fall short the least
    short comes first.
    """
    if not trials:
        return ()
    worth = _worth_by(by, trials)
    ordered = sorted(trials, key=lambda trial: _key(trial, worth(trial)))
    why = _Why(plan, by, ordered, worth)
    return tuple(
        replace(trial, rank=place, why=why.first() if place == 1 else why.loses(trial))
        for place, trial in enumerate(ordered, start=1)
    )


def _key(trial: PumpTrial, worth: float) -> tuple[bool, int, float, float, bool, int, float, str]:
    return (
        not trial.meets,
        len(trial.backwards) + len(trial.idle),
        sum(each.missing for each in trial.shortfalls),
        sum(each.lift_missing or 0.0 for each in trial.shortfalls),
        trial.dead_head.too_much,
        {True: 0, None: 1, False: 2}[trial.in_useful_range],
        worth,
        trial.name,
    )


def _worth_by(by: RankBy, trials: Sequence[PumpTrial]) -> Worth:
    """What is ranked by, less is better; infinite where it is not known.

    Where no candidate has a price, costs are electricity alone; where some have, the others' costs
    are not known.
    """
    priced = any(trial.price is not None for trial in trials)

    def worth(trial: PumpTrial) -> float:
        known = {
            "watts": trial.power,
            "margin": None if trial.reach is None else -trial.reach,
            "cost": trial.total_cost if priced else trial.cost,
        }[by]
        return inf if known is None else known

    return worth


class _Why:
    """Reasons in words, beside the pump that comes first."""

    def __init__(self, plan: Plan, by: RankBy, ordered: list[PumpTrial], worth: Worth) -> None:
        self.system: UnitSystem = SYSTEMS[plan.units]
        self.spent = plan.power or Power()
        self.by, self.ordered, self.worth = by, ordered, worth
        self.best = ordered[0]
        self.priced = any(trial.price is not None for trial in ordered)

    def first(self) -> str:
        best = self.best
        others = [trial for trial in self.ordered[1:] if trial.meets]
        if not best.meets:
            closest = "comes closest, yet " if len(self.ordered) > 1 else ""
            return f"{closest}{self.short(best)}"
        alone = not others and len(self.ordered) > 1
        said = f"{'alone ' if alone else ''}meets all targets"
        if best.dead_head.too_much:
            return f"{said}, but {self.presses(best)}"
        if best.in_useful_range is False:
            return f"{said}, but {self.strays(best)}"
        if best.in_useful_range is None:
            return f"{said}; its useful range is not known"
        if not others or self.worth(best) == inf:
            return said
        if not any(trial.in_useful_range and not trial.dead_head.too_much for trial in others):
            return f"{said}, and alone of those that do works in its useful range and harms no part"
        return {
            "watts": f"{said} for the fewest watts",
            "margin": f"{said} with the most to spare",
            "cost": f"{said} at the lowest cost{self.years()}",
        }[self.by]

    def loses(self, trial: PumpTrial) -> str:
        best = self.best
        if not trial.meets:
            return self.short(trial)
        if trial.dead_head.too_much and not best.dead_head.too_much:
            return self.presses(trial)
        if trial.in_useful_range is False and best.in_useful_range is not False:
            return self.strays(trial)
        mine, its = self.worth(trial), self.worth(best)
        if mine == inf:
            return self.unknown(trial)
        if trial.in_useful_range is None and best.in_useful_range:
            return "its useful range is not known"
        if abs(mine - its) <= SAME * abs(its):
            return f'as good as "{best.name}"'
        if self.by == "margin":
            return f'has less to spare than "{best.name}"'
        if self.by == "cost":
            return f'costs {self.money(mine - its)} more{self.years()} than "{best.name}"'
        more = f'draws {significant(mine - its)} W more than "{best.name}"'
        if trial.cost is None or best.cost is None:
            return more
        return f"{more}, {self.money(trial.cost - best.cost)} a year"

    def years(self) -> str:
        """Over what time costs are compared."""
        return f" over {self.spent.years:g} years" if self.priced else " of electricity"

    def unknown(self, trial: PumpTrial) -> str:
        if self.by == "margin":
            return "what it has to spare cannot be told"
        if trial.power is None:
            return f"its curve has no power, so {self.by} and useful range cannot be told"
        return "it has no price, so its cost cannot be told"

    def short(self, trial: PumpTrial) -> str:
        if trial.backwards:
            return (
                f"water runs home through {_listed(trial.backwards)}: it lifts too little against "
                "the others or the tanks, and needs a check valve"
            )
        if trial.idle:
            return f"{_listed(trial.idle)} turns and moves no water"
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
        """Which pumps are out of their useful ranges; of like ones that all are, the first."""
        out = [
            (duty, *duty.useful_range)
            for duty in trial.pumps
            if duty.in_useful_range is False and duty.useful_range is not None
        ]
        alike = len({duty.flow < low for duty, low, _ in out}) == 1 and len(out) == len(trial.pumps)
        if alike and trial.arrangement != "single":
            return f"each {self.stray(*out[0])}"
        if len(trial.pumps) == 1:
            return self.stray(*out[0])
        return "; ".join(f"{stray[0].pump} {self.stray(*stray)}" for stray in out)

    def stray(self, duty: PumpDuty, low: float, high: float) -> str:
        side, bound = ("below", low) if duty.flow < low else ("above", high)
        return (
            f"works {side} its useful range ({self.system.text(duty.flow, 'flow')}, range "
            f"{'from' if side == 'below' else 'to'} {self.system.text(bound, 'flow')})"
        )

    def money(self, amount: float) -> str:
        return f"{significant(amount)} {self.spent.currency}".rstrip()


def _listed(names: Sequence[str]) -> str:
    return " and ".join(names)
