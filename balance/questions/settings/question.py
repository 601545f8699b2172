"""The main question, put together: search, marks, and what a person needs to act on them."""

from __future__ import annotations

from balance.errors import UsageError
from balance.network.arrays import network_of
from balance.plan.model import Plan
from balance.questions.aims import refuse_nothing_asked
from balance.questions.duty import pump_duties
from balance.questions.marks import marks_of
from balance.questions.settings.answer import Settings
from balance.questions.settings.at_marks import at_marks
from balance.questions.settings.bleed import bleed
from balance.questions.settings.changes import Trials, single_changes
from balance.questions.settings.obstacles import binding, lift_words
from balance.questions.settings.rows import branch_rows, handle_rows, total_rows
from balance.questions.settings.search import search
from balance.units import parse


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
    refuse_nothing_asked(plan)
    found = search(network)
    at = at_marks(network, found, distance)
    branches = branch_rows(at, bucket=to_time_with)
    totals = total_rows(at, branches)
    wanting = [*found.tight, *(branch.branch for branch in branches if not branch.met)]
    trials = (
        single_changes(network, found, wanting=tuple(dict.fromkeys(wanting)))
        if found.unmet
        else Trials((), ())
    )
    return Settings(
        title=plan.title,
        met=all(row.met for row in branches)
        and all(row.within_limits for row in branches)
        and all(total.met for total in totals),
        handles=handle_rows(at),
        branches=branches,
        totals=totals,
        pumps=pump_duties(at.solution),
        out_of_reach=lift_words(at),
        binding=binding(at, branches, totals),
        changes=trials.helpful,
        tried=trials.others,
        bleed=bleed(at),
        notes=found.notes,
        worst_imbalance=at.solution.worst_imbalance,
        worst_mismatch=at.solution.worst_mismatch,
        plan=at.plan,
    )


def _volume(text: str) -> float:
    volume = parse(text, "volume")
    if volume <= 0.0:
        raise UsageError(f'"{text}" is no bucket; write a volume such as "1 gal"')
    return volume
