"""The question: scenarios from names, solved in one batch, and what each comes to."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from balance.network.arrays import network_of
from balance.plan.model import Plan
from balance.questions.clogs import clogs_of
from balance.questions.close.advice import Holding
from balance.questions.close.answer import Case, Close
from balance.questions.close.cases import (
    Scenario,
    arrays,
    each_branch,
    every_branch,
    moves_of,
    pairs_of,
)
from balance.questions.close.dead_head import dead_head
from balance.questions.close.harm import WORST_FIRST, harms_of
from balance.questions.close.holding import hold
from balance.questions.close.interaction import interaction
from balance.questions.close.notes import notes_of
from balance.questions.close.rows import case_of, head_moves
from balance.questions.close.solved import BASE, solve_all, watered
from balance.questions.duty import pump_duties
from balance.questions.marks import marks_of
from balance.questions.settings import settings as ask_settings


def close(
    plan: Plan,
    names: Iterable[str] = (),
    *,
    also: Iterable[str] = (),
    to: str | None = None,
    clogged: Mapping[str, float] | None = None,
    pairs: bool = False,
    hold_others: bool = False,
    matrix: bool = False,
    marks: str | None = None,
    from_settings: bool = False,
) -> Close:
    """What happens when branches are shut: who gets the water, and what breaks.

    Parameters
    ----------
    plan
        As read; it is not changed.
    names
        Branches, groups, headers, runs and valves to be shut together. Where nothing else is asked
        for either, each open branch is shut in turn.
    also
        Names of one more case each, for example groups.
    to
        Mark to which valves are turned in place of being shut: "30 deg".
    clogged
        From branches, runs, headers or groups to the share by which they lose more at equal flow,
        valves left out.
    pairs
        Every two open branches together as well.
    hold_others
        In each case that is not a pair: which one or two handles to move, so that the other
        branches stay closest to what they are asked for.
    matrix
        What one mark of each handle does to every branch.
    marks
        Distance between marks: "5 deg", "1/4 turn", "2 %"; left out: 1 degree, 1/8 turn, 1 %. To
        such marks handles are moved and, with `from_settings`, set at the beginning.
    from_settings
        Begin with valves and pumps where `settings` puts them, in place of where the plan has them.

    Raises
    ------
    UnknownNameError
        With the nearest name.
    UsageError
        A valve has no such mark, or no branch is open.
    NoSolutionError, SolveError
        As from solving.
    """
    distance = marks_of(marks)
    if from_settings:
        plan = ask_settings(plan, marks=marks).plan
    network = network_of(plan)
    together, further = tuple(names), tuple(also)
    clogs = clogs_of(network, clogged or {})
    named = bool(together or clogs)
    each = not named and (pairs or hold_others or bool(further) or not matrix)
    in_turn = each_branch(network, to) if each or pairs else ()
    singles = [Scenario((move,)) for move in in_turn] if each else []
    # Where none is left the solver says why.
    singles = watered(network, singles) or singles
    if named:
        singles.append(Scenario(moves_of(network, together, to), clogs))
    singles += [Scenario(moves_of(network, (name,), to), clogs) for name in further]
    couples = [Scenario(both, clogs) for both in pairs_of(in_turn)] if pairs else []
    couples = watered(network, couples)
    shut_off = watered(network, [every_branch(network)])
    solved = solve_all(network, [*singles, *couples, *shut_off])
    harms = harms_of(solved, closely=range(len(singles) + 1))
    holdings: Sequence[Holding | None] = (
        hold(network, arrays(network, singles), marks=distance)
        if hold_others
        else [None] * len(singles)
    )
    own = [
        case_of(solved, column, harms[column], holding)
        for column, holding in enumerate(holdings, start=1)
    ]
    after = 1 + len(own)
    two = [case_of(solved, after + n, harms[after + n]) for n in range(len(couples))]
    return Close(
        title=plan.title,
        each=each,
        safe=not any(case.harmed for case in (*own, *two)),
        pumps=pump_duties(solved.solution(BASE)),
        heads=head_moves(solved, BASE),
        pumped=float(solved.taken[BASE]),
        already=harms[BASE],
        cases=tuple(own),
        pairs=tuple(sorted(two, key=_badness)),
        dead_head=dead_head(solved, len(solved.scenarios) - 1) if shut_off else None,
        interaction=interaction(plan, marks=marks) if matrix else None,
        notes=tuple(notes_of(network, [*singles, *couples], each=each, to=to)),
        worst_imbalance=solved.worst_imbalance,
        worst_mismatch=solved.worst_mismatch,
        plan=plan,
    )


def _badness(case: Case) -> tuple[int, int, float]:
    """The worst kind of harm first, then the most of them, then the greatest rise."""
    grave = [WORST_FIRST.index(harm.kind) for harm in case.harms if harm.severe]
    return min(grave, default=len(WORST_FIRST)), -len(grave), -case.rise
