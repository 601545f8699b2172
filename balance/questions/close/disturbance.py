"""How badly the remaining branches are off when something is shut: one number to hold them by.

Broken limits weigh most, then what misses tolerances, then pumps outside their useful range, then
distance from the aims.  What is shut or set on purpose does not count.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from balance.network.arrays import Network
from balance.network.solve import Solution
from balance.plan.targets import TOLERANCE
from balance.questions.aims import BREACH, CLOSENESS, NO_FLOW, Aim, Wishes, aims_of, wishes_of
from balance.questions.close.cases import Arrays

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Ints = NDArray[np.intp]

HELD = "held"  # what is asked of a branch that has no aim of its own: its flow before
UNASKED = 0.05  # weight of those beside a target; our own choice
RANGE = 0.1  # weight of a pump outside its useful range, beside a missed target; our own choice
KEPT = 1e-6  # of a limit or a range, by which a flow may pass it by rounding


@dataclass(frozen=True)
class Disturbance:
    """What it costs that the remaining branches are not where they should be, case by case.

    Attributes
    ----------
    network : as the plan stands
    wishes : for the branches' flows; where nothing is asked, the flow before
    weight : (A, C) of the wishes, 0 where they do not count
    least, most : (B, C) limits of the branches' flows, 0 and infinite where none counts
    remaining : (B, C) branches not shut or set on purpose
    counted : (B, C) those of them whose flow counts
    before : (B,) flows of the branches as the plan stands
    """

    network: Network
    wishes: Wishes
    weight: Floats
    least: Floats
    most: Floats
    remaining: Bools
    counted: Bools
    before: Floats

    def cost(self, flow: Floats, pumped: Floats, speeds: Floats, case: Ints) -> Floats:
        """The one number, (S,).

        Parameters
        ----------
        flow, pumped : (B, S), (P, S) of branches and pumps
        speeds : (P, S) settings
        case : (S,) which one each scenario belongs to
        """
        outside, away = self.wishes.outside(flow), self.wishes.away(flow)
        weight = self.weight.take(case, axis=1)
        found = (weight * (outside**2 + CLOSENESS * away**2)).sum(axis=0)
        found += BREACH * self.breach(flow, case).sum(axis=0)
        found += RANGE * (self.left(pumped, speeds) ** 2).sum(axis=0)
        return np.asarray(found)

    def breach(self, flow: Floats, case: Ints) -> Floats:
        """Shares by which branches pass their limits, (B, S)."""
        least, most = self.least.take(case, axis=1), self.most.take(case, axis=1)
        return _beyond(flow, least, most)

    def left(self, pumped: Floats, speeds: Floats) -> Floats:
        """Shares by which pumps leave their useful ranges, (P, S); 0 where none is judged."""
        found = np.zeros_like(pumped)
        for row, machine in enumerate(self.network.machines):
            settings, which = np.unique(speeds[row], return_inverse=True)
            ranges = [machine.useful_range(float(s)) if s > 0.0 else None for s in settings]
            judged = [(0.0, np.inf) if each is None else each for each in ranges]
            low, high = np.array(judged).T.take(which, axis=1)
            found[row] = _beyond(pumped[row], low, high)
        return found

    def missed(self, flow: Floats, case: int) -> tuple[str, ...]:
        """Names outside their tolerance or limits at branch flows (B,), in the plan's order."""
        broken = self.breach(flow[:, None], np.array([case]))[:, 0] > 0.0
        names = [b.name for b, out in zip(self.network.plan.branches, broken, strict=True) if out]
        totals = zip(self.wishes.aims, self.wishes.rows @ flow, self.weight[:, case], strict=True)
        for aim, total, weight in totals:
            if weight > 0.0 and aim.asked != "bleed" and not aim.judged(float(total)):
                names.append(aim.name)
        order = [*(b.name for b in self.network.plan.branches), *self.network.plan.groups]
        return tuple(sorted(set(names), key=order.index))

    def outside(self, pumped: Floats, speeds: Floats) -> tuple[str, ...]:
        """Names of pumps outside their useful range at flows and speeds (P,)."""
        left = self.left(pumped[:, None], speeds[:, None])[:, 0]
        return tuple(m.name for m, share in zip(self.network.machines, left, strict=True) if share)

    def strayed(self, flow: Floats, case: int) -> float:
        """How far branch flows (B,) lie from those before, in the mean of what counts."""
        moved = self._moves(flow, case)
        return float(moved.mean()) if len(moved) else 0.0

    def moved(self, flow: Floats, case: int) -> float:
        """The farthest that any of them lies from its flow before."""
        return float(self._moves(flow, case).max(initial=0.0))

    def _moves(self, flow: Floats, case: int) -> Floats:
        counted = self.counted[:, case] & (self.before > NO_FLOW)
        return np.asarray(np.abs(flow[counted] / self.before[counted] - 1.0))


def _beyond(flow: Floats, low: Floats, high: Floats) -> Floats:
    """Shares by which flows lie outside bounds; a lower one of 0 is none."""
    bound = low > 0.0
    short = np.where(bound, 1.0 - KEPT - flow / np.where(bound, low, 1.0), 0.0)
    return np.asarray(np.maximum(short, 0.0) + np.maximum(flow / high - 1.0 - KEPT, 0.0))


def disturbance_of(network: Network, base: Solution, cases: Arrays) -> Disturbance:
    """The measure for some cases.

    Parameters
    ----------
    base : the network as the plan stands
    """
    branches = network.plan.branches
    names = tuple(branch.name for branch in branches)
    rows = np.array([network.row_of[name] for name in names], dtype=np.intp)
    before = base.state.flow[rows, 0]
    idle = shut_by_hand(network, network.openings)[rows]
    dry = dry_runs(network, cases)
    remaining = ~_on_purpose(network, cases.openings, dry)[rows]
    counted = remaining & ~idle & ~_cut_off(network, rows, dry)
    aims = aims_of(network.plan)
    own = (_held_at(aim, float(flow)) for aim, flow in zip(aims, before, strict=False))
    wishes = wishes_of((*own, *aims[len(names) :]), names)
    # A total counts where all of its members do: what one of them lost, the others do not owe.
    whole = wishes.rows @ counted >= wishes.rows.sum(axis=1, keepdims=True)
    weights = np.array([[aim.weight] for aim in wishes.aims]).reshape(-1, 1)
    least = np.array([[branch.limits[0] or 0.0] for branch in branches]).reshape(-1, 1)
    most = np.array([[branch.limits[1] or np.inf] for branch in branches]).reshape(-1, 1)
    return Disturbance(
        network=network,
        wishes=wishes,
        weight=np.where(whole, weights, 0.0),
        least=np.where(counted, least, 0.0),
        most=np.where(remaining, most, np.inf),
        remaining=remaining,
        counted=counted,
        before=before,
    )


def _held_at(aim: Aim, before: float) -> Aim:
    """A branch's wish; where it has no aim, to keep its flow before."""
    if aim.aim is not None or aim.asked == "bleed" or before <= NO_FLOW:
        return aim
    return replace(
        aim,
        asked=HELD,
        low=before * (1.0 - TOLERANCE),
        high=before * (1.0 + TOLERANCE),
        aim=before,
        scale=before,
        weight=aim.weight * (1.0 if aim.share is not None else UNASKED),
    )


def shut_by_hand(network: Network, openings: Floats) -> Bools:
    """Runs (E, S) that lead nowhere or that a valve shuts, at openings (V, S)."""
    _, shut = network.at(openings, np.repeat(network.speeds, openings.shape[1], axis=1))
    return np.broadcast_to(shut, (network.topology.runs, openings.shape[1]))


def dry_runs(network: Network, cases: Arrays) -> Bools:
    """Runs (E, C) through which nothing can flow in some cases."""
    return np.asarray(cases.held | shut_by_hand(network, cases.openings))


def _on_purpose(network: Network, openings: Floats, dry: Bools) -> Bools:
    """Runs (E, C) that a case shuts, or whose valve it turns."""
    found = dry & ~shut_by_hand(network, network.openings)
    for row, valve in enumerate(network.valves):
        for run, _ in valve.places:
            found[run] |= openings[row] != valve.part.open
    return found


def _cut_off(network: Network, rows: Ints, dry: Bools) -> Bools:
    """Branches (B, C) to whose start no water comes but through other branches."""
    topology = network.topology
    still = dry.copy()
    still[rows] = True
    lost = np.zeros((topology.joints + topology.fixed, dry.shape[1]), dtype=np.bool_)
    lost[: topology.joints] = topology.isolated(still)
    return lost[topology.start[rows]]
