"""The main question, put together: search, marks, and what a person needs to act on them."""

from __future__ import annotations

from balance.errors import UsageError
from balance.network.arrays import Network, network_of
from balance.plan.model import Plan
from balance.plan.targets import TOLERANCE
from balance.questions.aims import Aim
from balance.questions.duty import pump_duties
from balance.questions.settings.answer import BranchFlow, Settings
from balance.questions.settings.at_marks import at_marks
from balance.questions.settings.bleed import bleed
from balance.questions.settings.changes import Trials, single_changes
from balance.questions.settings.marks import marks_of
from balance.questions.settings.obstacles import binding, lift_words
from balance.questions.settings.rows import branch_rows, handle_rows
from balance.questions.settings.search import Found, search
from balance.units import SYSTEMS, parse


def settings(plan: Plan, *, marks: str | None = None, bucket: str | None = None) -> Settings:
    """Where each handle goes so that the branches get what they are asked to carry.

    Parameters
    ----------
    plan
        As read; it is not changed.
    marks
        Distance between marks: "5 deg", "1/4 turn", "2 %"; left out: 1 degree, 1/8 turn, 1 %.
    bucket
        Volume to time with, such as "1 gal"; left out: the least usual one that takes 10 s.

    Raises
    ------
    UsageError
        If the words make no sense, or the plan asks for nothing.
    NoSolutionError, SolveError
        As from solving.
    """
    distance = marks_of(marks)
    to_time_with = None if bucket is None else (bucket, _volume(bucket))
    network = network_of(plan)
    _refuse_nothing_asked(plan)
    found = search(network)
    at = at_marks(network, found, distance)
    branches = branch_rows(at, bucket=to_time_with)
    all_met = all(branch.met for branch in branches)
    all_kept = all(branch.within_limits for branch in branches)
    wanting = [*found.tight, *(branch.branch for branch in branches if not branch.met)]
    trials = (
        single_changes(network, found, wanting=tuple(dict.fromkeys(wanting)))
        if found.unmet
        else Trials((), ())
    )
    return Settings(
        title=plan.title,
        met=all_met and all_kept and _totals_met(found, branches),
        handles=handle_rows(at),
        branches=branches,
        pumps=pump_duties(at.solution),
        out_of_reach=lift_words(at),
        binding=binding(at, branches),
        changes=trials.helpful,
        tried=trials.others,
        bleed=bleed(at),
        notes=(*found.notes, *_total_notes(network, found, branches)),
        worst_imbalance=at.solution.worst_imbalance,
        worst_mismatch=at.solution.worst_mismatch,
        plan=at.plan,
    )


def _volume(text: str) -> float:
    volume = parse(text, "volume")
    if volume <= 0.0:
        raise UsageError(f'"{text}" is no bucket; write a volume such as "1 gal"')
    return volume


def _refuse_nothing_asked(plan: Plan) -> None:
    if not any(b.target is not None or b.share is not None for b in plan.branches):
        raise UsageError(
            "no branch has a target or a share, so there is nothing to set the valves for; "
            'write for example target = "120 gph" in a branch'
        )


def _group_flows(found: Found, branches: tuple[BranchFlow, ...]) -> list[tuple[Aim, float]]:
    by_name = {branch.branch: branch.flow for branch in branches}
    return [
        (aim, sum(by_name[name] for name in aim.branches)) for aim in found.aims[len(branches) :]
    ]


def _totals_met(found: Found, branches: tuple[BranchFlow, ...]) -> bool:
    # The total of a group is met within the tolerance of its members at the least.
    return all(
        aim.judged(flow) or (aim.asked == "flow" and abs(flow / aim.scale - 1) <= TOLERANCE)
        for aim, flow in _group_flows(found, branches)
    )


def _total_notes(
    network: Network, found: Found, branches: tuple[BranchFlow, ...]
) -> tuple[str, ...]:
    system = SYSTEMS[network.plan.units]
    return tuple(
        f"{aim.name} together: {system.text(flow, 'flow')}"
        + (f", asked {system.text(aim.aim, 'flow')}" if aim.aim else "")
        for aim, flow in _group_flows(found, branches)
    )
