"""What each branch is asked to carry: aims, what counts as met, and how misses weigh."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from balance.errors import UsageError
from balance.plan.model import Branch, Plan
from balance.plan.targets import TOLERANCE, Target

Floats = NDArray[np.float64]

CLOSENESS = 1e-3  # weight of closeness to the aim, beside misses beyond tolerance; our own choice
FREE_SIDE = 1e-4
"""Part of that weight for more than a target of at least, or less than one of at most: what was
allowed costs next to nothing; our own choice."""
BREACH = 10.0  # weight of a broken limit, beside a missed target; our own choice
LEAST_PART = 0.01  # of a total, by which the misses of its sharers are divided at the least
ROUNDING = 1e-6  # of the scale, by which a flow may miss and still count as met
NO_FLOW = 1e-9  # [m³/s], a target of no more than that only frees a valve


@dataclass(frozen=True)
class Aim:
    """One branch's wish, or the wish for a total of several.

    Attributes
    ----------
    branches : names whose flows add up; one, but for groups
    asked : flow, range, at least, at most, share, bleed, or "" where nothing is asked
    low, high : flows between which it counts as met; None: open [m³/s]
    aim : flow to come close to; None: as it comes (a sharer of all that is left) [m³/s]
    scale : flow by which misses are divided [m³/s]
    weight : of the branch, from the plan
    share : in proportion to which sharers divide; None for others
    limits : hard bounds of the branch's flow, as the plan has them [m³/s]
    tolerance : share of the aim within which it counts as met
    group : name of the group whose total it is; empty: it is a branch's own
    """

    branches: tuple[str, ...]
    asked: str
    low: float | None
    high: float | None
    aim: float | None
    scale: float
    weight: float
    share: float | None
    limits: tuple[float | None, float | None]
    tolerance: float
    group: str = ""

    @property
    def name(self) -> str:
        """The group, or the branch."""
        return self.group or self.branches[0]

    def missing(self, flow: Floats) -> Floats:
        """How far flows (S,) lie outside what counts as met, as a share of the scale."""
        short = np.zeros_like(flow)
        if self.low is not None:
            short = np.maximum(short, self.low - flow)
        if self.high is not None:
            short = np.maximum(short, flow - self.high)
            if self.low is None:
                short = np.maximum(short, -flow)  # at most so much is no leave to run back
        return short / self.scale

    def met(self, flow: Floats) -> NDArray[np.bool_]:
        """Which flows (S,) count as met; the last part in a million is rounding."""
        return self.missing(flow) <= ROUNDING

    def judged(self, flow: float) -> bool:
        """Whether a flow counts as met."""
        return bool(self.met(np.array([flow]))[0])

    @property
    def judges(self) -> bool:
        """Whether it asks for something that a flow can meet or miss."""
        return self.asked not in ("", "bleed") and (self.low, self.high) != (None, None)

    def with_aim(self, aim: float, *, scale: float = NO_FLOW) -> Aim:
        """A sharer whose part has become known; by `scale` at the least its misses are divided."""
        return replace(
            self,
            aim=aim,
            low=aim * (1 - self.tolerance) if self.low is None else self.low,
            high=aim * (1 + self.tolerance) if self.high is None else self.high,
            scale=max(aim, scale),
        )


def aims_of(plan: Plan) -> tuple[Aim, ...]:
    """The wishes of a plan: its branches in order, then its groups' totals.

    Sharers of a group with a target get their part of it; sharers with bounds of their own get the
    least common part that keeps them.  Sharers with neither keep ``aim`` None.
    """
    aims = [_of_branch(branch) for branch in plan.branches]
    at = {branch.name: place for place, branch in enumerate(plan.branches)}
    totals = []
    for name, group in plan.groups.items():
        if group.target is None:
            continue
        members = [at[name] for name in group.branches]
        sharers = [place for place in members if aims[place].share is not None]
        if sharers:
            rest = group.target.aim - sum(
                aims[place].aim or 0.0 for place in members if place not in sharers
            )
            part = max(rest, 0.0) / sum(aims[place].share or 0.0 for place in sharers)
            for place in sharers:
                # Where the others ask for all of it already, its part is nothing.
                least = LEAST_PART * group.target.aim
                aims[place] = aims[place].with_aim(part * (aims[place].share or 0.0), scale=least)
        totals.append(_of_group(name, group.branches, group.target))
    _bounded_sharers(aims)
    return (*aims, *totals)


def _bounded_sharers(aims: list[Aim]) -> None:
    """Gives sharers their part where a bound of one of them decides it."""
    open_ = [place for place, aim in enumerate(aims) if aim.share is not None and aim.aim is None]
    wanted = [
        (aims[place].asked, _inside(aims[place]) / (aims[place].share or 1.0))
        for place in open_
        if aims[place].low is not None or aims[place].high is not None
    ]
    if not wanted:
        return
    least = [part for asked, part in wanted if asked != "at most"]
    most = [part for asked, part in wanted if asked == "at most"]
    part = max(least) if least else min(most)
    for place in open_:
        aims[place] = aims[place].with_aim(part * (aims[place].share or 0.0))


def _inside(aim: Aim) -> float:
    """Aim of a bound: 5 % inside it, or the middle of a range."""
    return Target(
        "range" if aim.low is not None and aim.high is not None
        else "at least" if aim.low is not None else "at most",
        aim.low, aim.high,
    ).aim  # fmt: skip


def _of_branch(branch: Branch) -> Aim:
    target, share = branch.target, branch.share
    tolerance = branch.tolerance
    if target is None:
        return Aim(
            (branch.name,),
            "" if share is None else "share",
            None, None, None, NO_FLOW, branch.weight, share, branch.limits,
            TOLERANCE if tolerance is None else tolerance,
        )  # fmt: skip
    slack = target.default_tolerance if tolerance is None else tolerance
    bleed = target.kind == "at least" and target.aim <= NO_FLOW
    low = None if target.low is None or bleed else target.low * (1 - slack)
    high = None if target.high is None else target.high * (1 + slack)
    return Aim(
        (branch.name,),
        "bleed" if bleed else target.kind,
        low,
        high,
        None if share is not None and target.kind != "flow" else target.aim,
        max(target.aim, NO_FLOW),
        branch.weight,
        share,
        branch.limits,
        TOLERANCE if share is not None and tolerance is None else slack,
    )


def _of_group(name: str, branches: tuple[str, ...], target: Target) -> Aim:
    slack = target.default_tolerance
    return Aim(
        branches,
        target.kind,
        None if target.low is None else target.low * (1 - slack),
        None if target.high is None else target.high * (1 + slack),
        target.aim,
        max(target.aim, NO_FLOW),
        1.0,
        None,
        (None, None),
        slack,
        name,
    )


def refuse_nothing_asked(plan: Plan) -> None:
    """Raises UsageError where a plan has no target and no share."""
    branches = any(b.target is not None or b.share is not None for b in plan.branches)
    if not branches and all(group.target is None for group in plan.groups.values()):
        raise UsageError(
            "no branch has a target or a share, so there is nothing to set the valves for; "
            'write for example target = "120 gph" in a branch'
        )


@dataclass(frozen=True)
class Wishes:
    """All wishes as one function of the branches' flows.

    Attributes
    ----------
    aims : those with something to ask
    rows : (A, B) which branches each adds up
    """

    aims: tuple[Aim, ...]
    rows: Floats

    def misses(self, flow: Floats) -> Floats:
        """What misses beyond tolerance cost, (S,), at branch flows (B, S)."""
        weights = np.array([[aim.weight] for aim in self.aims]).reshape(-1, 1)
        return np.asarray((weights * self.outside(flow) ** 2).sum(axis=0))

    def distance(self, flow: Floats) -> Floats:
        """What distance from the aims costs, (S,), at branch flows (B, S)."""
        weights = np.array([[aim.weight] for aim in self.aims]).reshape(-1, 1)
        return np.asarray((weights * self._closeness(flow) * self.away(flow) ** 2).sum(axis=0))

    def cost(self, flow: Floats) -> Floats:
        """Both, (S,), at branch flows (B, S)."""
        return self.misses(flow) + self.distance(flow)

    def cost_and_slope(self, flow: Floats) -> tuple[float, Floats]:
        """The same for one setting, (B,), and its slope against the flows."""
        one = flow[:, None]
        weights = np.array([2 * aim.weight / aim.scale for aim in self.aims])
        pull = (self.outside(one) + self._closeness(one) * self.away(one))[:, 0]
        return float(self.cost(one)[0]), self.rows.T @ (weights * pull)

    def outside(self, flow: Floats) -> Floats:
        """How far flows lie above (negative: below) what counts as met, of the scale, (A, S)."""
        total = self.rows @ flow
        found = np.zeros_like(total)
        for row, aim in enumerate(self.aims):
            if aim.high is not None:
                found[row] += np.maximum(total[row] - aim.high, 0.0) / aim.scale
            if aim.low is not None or aim.high is not None:
                found[row] -= np.maximum((aim.low or 0.0) - total[row], 0.0) / aim.scale
        return found

    def away(self, flow: Floats) -> Floats:
        """How far flows lie from their aims, as a share of the scale, (A, S)."""
        total = self.rows @ flow
        found = np.zeros_like(total)
        for row, aim in enumerate(self.aims):
            if aim.aim is not None and aim.asked != "bleed":
                found[row] = (total[row] - aim.aim) / aim.scale
        return found

    def _closeness(self, flow: Floats) -> Floats:
        """Weight of distance from each aim, (A, S): less on the side that a target leaves free."""
        away = self.away(flow)
        found = np.full_like(away, CLOSENESS)
        for row, aim in enumerate(self.aims):
            if aim.asked == "at least":
                found[row, away[row] > 0.0] *= FREE_SIDE
            elif aim.asked == "at most":
                found[row, away[row] < 0.0] *= FREE_SIDE
        return found

    def unmet(self, flow: Floats, *, dry: Collection[str]) -> tuple[str, ...]:
        """Names of those that are missed at branch flows (B,), dry branches among them."""
        totals = zip(self.aims, self.rows @ flow, strict=True)
        return tuple(
            aim.name
            for aim, total in totals
            if aim.asked != "bleed" and (aim.name in dry or not aim.judged(float(total)))
        )

    def curvature(self, flow: Floats) -> Floats:
        """Second slopes of the cost against branch flows, (B, B), at branch flows (B,)."""
        one = flow[:, None]
        weights = np.array([2 * aim.weight / aim.scale**2 for aim in self.aims])
        near = np.array([aim.aim is not None and aim.asked != "bleed" for aim in self.aims])
        steep = weights * ((self.outside(one)[:, 0] != 0.0) + self._closeness(one)[:, 0] * near)
        return np.asarray((self.rows.T * steep) @ self.rows)

    def missed(self, flow: Floats) -> Floats:
        """Sum of the shares by which targets are missed, (S,), at branch flows (B, S)."""
        total = self.rows @ flow
        return np.asarray(
            sum((aim.missing(total[row]) for row, aim in enumerate(self.aims)),
                start=np.zeros(flow.shape[1]))
        )  # fmt: skip


def wishes_of(aims: tuple[Aim, ...], branches: tuple[str, ...]) -> Wishes:
    """Wishes over branches in a given order; what asks for nothing is left out."""
    at = {name: place for place, name in enumerate(branches)}
    kept = tuple(aim for aim in aims if aim.asked)
    rows = np.zeros((len(kept), len(branches)))
    for row, aim in enumerate(kept):
        for name in aim.branches:
            rows[row, at[name]] = 1.0
    return Wishes(kept, rows)
