"""All contenders tried, neighbours in strength one after another, on as many cores as there are."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import partial

from balance.errors import BalanceError, NoSolutionError, SolveError
from balance.questions.cores import on_all_cores
from balance.questions.pumps.answer import PumpTrial
from balance.questions.pumps.contenders import Contender
from balance.questions.pumps.trial import strength, try_out
from balance.questions.settings.search import Found

IN_A_ROW = 8  # contenders that one core tries in a row, each beginning near the last
WORTH_CORES = 24  # contenders from which starting other processes takes less time than it saves

Progress = Callable[[int, int], None]
"""Told how many contenders are done, of how many."""


@dataclass(frozen=True)
class Tried:
    """What came of a contender: a trial, or why there is none."""

    name: str
    trial: PumpTrial | None
    failure: BalanceError | None = None


def try_all(
    contenders: Sequence[Contender], *, fouling: float, progress: Progress | None = None
) -> tuple[Tried, ...]:
    """Trials of all contenders, those of the strongest pumps first.

    Parameters
    ----------
    fouling : against which margins are told [ratio]
    """
    ordered = sorted(contenders, key=strength, reverse=True)
    rows = [ordered[first : first + IN_A_ROW] for first in range(0, len(ordered), IN_A_ROW)]
    tried: list[Tried] = []
    for row in _run(rows, fouling):
        tried += row
        if progress is not None:
            progress(len(tried), len(ordered))
    return tuple(tried)


def _run(rows: list[list[Contender]], fouling: float) -> Iterable[list[Tried]]:
    if sum(map(len, rows)) < WORTH_CORES:
        return (_in_a_row(row, fouling=fouling) for row in rows)
    return on_all_cores(partial(_in_a_row, fouling=fouling), rows)


def _in_a_row(row: list[Contender], *, fouling: float) -> list[Tried]:
    """Contenders one after another; where one cannot have all, those after it begin there."""
    near: Found | None = None
    tried = []
    for contender in row:
        try:
            trial, found = try_out(contender, fouling=fouling, near=near)
        except (SolveError, NoSolutionError) as error:
            tried.append(Tried(contender.name, None, error))
            continue
        tried.append(Tried(contender.name, trial))
        if found.unmet:
            near = found
    return tried
