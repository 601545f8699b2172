"""Bands, chances and shares of the systems that one sampler draws."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from math import sqrt

import numpy as np
from numpy.typing import NDArray

from balance.errors import NoSolutionError
from balance.network.arrays import Network
from balance.network.solve import refuse_isolated_draws, unsettled
from balance.questions.clogs import Clogs, clog_factor
from balance.questions.learning.doubts import Doubt
from balance.questions.learning.sampler import Sampler
from balance.questions.spread.advice import ADVICE
from balance.questions.spread.answer import Band, Contribution, Matter, Outcome
from balance.questions.spread.monte_carlo import blocks, solve_drawn
from balance.questions.spread.shares import Tally
from balance.questions.spread.watched import Watched, picked, watched_of

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

BAND = (5.0, 50.0, 95.0)  # percent of the systems that lie below; our own choice
ENOUGH = 0.5  # of the systems must settle, or nothing is said; our own choice
DRY = 1e-9  # [m³/s], a cup in three days: no water

Progress = Callable[[int, int], None]
"""Told how many are done, of how many."""


def outcome_of(
    network: Network,
    sampler: Sampler,
    *,
    systems: int,
    seed: int,
    clogs: Clogs = (),
    progress: Progress | None = None,
) -> Outcome:
    """What comes of systems drawn from what a sampler knows.

    Parameters
    ----------
    clogs : branches, runs and headers, each with the share by which it loses more
    progress : told how many systems are done, of how many

    Raises
    ------
    NoSolutionError
        Water is drawn where none can come, without any doubt or in most systems.
    SolveError
        The flows did not settle even without any doubt.
    """
    watched = watched_of(network)
    factor = clog_factor(network, clogs)
    certain = picked(watched, _certain(network, sampler, factor))[:, 0]
    # Where there is no doubt there is nothing to share out.
    doubted = [place for place, doubt in enumerate(sampler.all) if doubt.sd > 0.0]
    tally = Tally(len(doubted), certain)
    found: list[Floats] = []
    done = failed = 0
    imbalance = missing = 0.0
    for block in blocks(network, sampler, systems=systems, seed=seed, factor=factor):
        results = picked(watched, block.flow)
        tally.add(block.normal[doubted], results)
        found.append(results)
        failed += block.unsettled
        imbalance = max(imbalance, block.worst_imbalance)
        missing = max(missing, block.worst_mismatch)
        done += block.unsettled + block.flow.shape[1]
        if progress is not None:
            progress(done, systems)
    if systems - failed < ENOUGH * systems:
        raise NoSolutionError(
            f"of {systems} systems drawn {failed} could not be solved: a valve that stands nearly "
            "shut may really be shut, and a joint that draws get no water; open it a little more"
        )
    return _told(
        watched,
        certain,
        np.concatenate(found, axis=1),
        shares=_by_kind([sampler.all[place] for place in doubted], tally.shares()),
        logarithmic=tally.logarithmic,
        unsettled=failed,
        worst=(imbalance, missing),
    )


def _certain(network: Network, sampler: Sampler, factor: Floats) -> Floats:
    """Flows without any doubt, (E, 1)."""
    solved = solve_drawn(network, sampler.drawn(np.zeros((len(sampler.all), 1))), factor=factor)
    refuse_isolated_draws(network, solved.shut)
    if not solved.settled.all():
        raise unsettled(network, solved.laws, solved.state)
    return solved.state.flow


def _by_kind(doubts: Sequence[Doubt], shares: Floats) -> dict[str, Floats]:
    """Shares of each kind of doubt, (R,), from those of each doubt, (doubts, R)."""
    kinds = dict.fromkeys(doubt.about for doubt in doubts)
    about = np.array([doubt.about for doubt in doubts])
    return {kind: shares[about == kind].sum(axis=0) for kind in kinds}


def _told(
    watched: Sequence[Watched],
    certain: Floats,
    flow: Floats,
    *,
    shares: dict[str, Floats],
    logarithmic: Bools,
    unsettled: int,
    worst: tuple[float, float],
) -> Outcome:
    """The outcome of flows (R, S), of which those without any doubt are (R,)."""
    bands: dict[str, list[Band]] = {"branch": [], "total": [], "pump": []}
    asked, limited, missed = [], [], []
    for row, each in enumerate(watched):
        met, beyond = each.met(flow[row]), each.beyond(flow[row])
        if met is not None:
            asked.append(met)
            if each.aim is not None and not each.aim.judged(certain[row]):
                missed.append(each.name)
        if beyond is not None:
            limited.append(~beyond)
        bands[each.kind].append(
            _band(
                each,
                float(certain[row]),
                flow[row],
                shares={kind: float(of[row]) for kind, of in shares.items()},
                logarithmic=bool(logarithmic[row]),
            )
        )
    within, error = _chance(asked)
    return Outcome(
        systems=flow.shape[1] + unsettled,
        unsettled=unsettled,
        asked=len(asked),
        missed=tuple(missed),
        within_all=within,
        within_all_error=error,
        within_limits=_chance(limited)[0],
        branches=tuple(bands["branch"]),
        totals=tuple(bands["total"]),
        pumps=tuple(bands["pump"]),
        matters=_matters(bands["branch"]),
        worst_imbalance=worst[0],
        worst_mismatch=worst[1],
    )


def _band(
    watched: Watched,
    certain: float,
    flow: Floats,
    *,
    shares: dict[str, float],
    logarithmic: bool,
) -> Band:
    """Where flows (S,) lie."""
    low, middle, high = np.percentile(flow, BAND)
    aim, met, beyond = watched.aim, watched.met(flow), watched.beyond(flow)
    most = np.inf if aim is None or aim.high is None else aim.high
    little = None if met is None else ~met & (flow <= most)
    much = None if met is None else ~met & (flow > most)
    # What is below nought is chance alone.
    contributions = sorted(
        (Contribution(about=kind, share=max(share, 0.0)) for kind, share in shares.items()),
        key=lambda each: -each.share,
    )
    varies = all(np.isfinite(list(shares.values()))) and bool(shares)
    return Band(
        name=watched.name,
        flow=certain,
        low=float(low),
        middle=float(middle),
        high=float(high),
        wanted=(None, None) if aim is None or not aim.judges else (aim.low, aim.high),
        within=_share(met),
        too_little=_share(little),
        too_much=_share(much),
        limits=watched.limits,
        beyond_limits=_share(beyond),
        dry=float(np.mean(np.abs(flow) <= DRY)),
        backwards=float(np.mean(flow < -DRY)),
        logarithmic=logarithmic,
        shares=tuple(contributions) if varies else (),
        rest=max(1.0 - sum(shares.values()), 0.0) if varies else None,
    )


def _share(which: Bools | None) -> float | None:
    return None if which is None else float(which.mean())


def _chance(every: Sequence[Bools]) -> tuple[float | None, float | None]:
    """Share of systems (S,) in which all hold, and its standard deviation; None where none does.

    The deviation is that of a chance of which all values were alike likely before any system was
    drawn: it is not nought where all systems agree.
    """
    if not every:
        return None, None
    together = np.logical_and.reduce(every)
    count, held = len(together), int(together.sum())
    mean = (held + 1) / (count + 2)
    return held / count, sqrt(mean * (1.0 - mean) / (count + 3))


def _matters(branches: Sequence[Band]) -> tuple[Matter, ...]:
    """Kinds of doubt by what they contribute to the branches' flows, the most first."""
    varied = [band for band in branches if band.shares]
    found: dict[str, list[float]] = {}
    first: dict[str, list[str]] = {}
    for band in varied:
        for each in band.shares:
            found.setdefault(each.about, []).append(each.share)
        first.setdefault(band.shares[0].about, []).append(band.name)
    matters = (
        Matter(
            about=kind,
            share=sum(shares) / len(varied),
            most_in=tuple(first.get(kind, ())),
            advice=ADVICE[kind],
        )
        for kind, shares in found.items()
    )
    return tuple(sorted(matters, key=lambda matter: -matter.share))
