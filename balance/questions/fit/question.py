"""The fit of a plan to a log of readings, put together."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from balance.errors import NoSolutionError, UsageError
from balance.network.arrays import Network, network_of
from balance.network.settle import settle
from balance.plan.model import Plan
from balance.plan.openings import words_of
from balance.plan.reading import Readings
from balance.questions.fit.answer import Fit, Forecast, NextReading, Number
from balance.questions.fit.apart import tied, untold
from balance.questions.fit.rows import reading_rows
from balance.questions.learning.doubts import Doubts
from balance.questions.learning.handles import Stand, at_stop
from balance.questions.learning.learn import Learnt, learn
from balance.questions.learning.numbers import table_of, told
from balance.questions.learning.sampling import Sampled, sampled
from balance.questions.learning.teaching import Lesson, lessons
from balance.questions.marks import travel

Floats = NDArray[np.float64]

BAND = (0.05, 0.95)  # between which nine of ten lie
BEFORE = 2000  # systems drawn for the bands before any reading
SEED = 90  # any
LESSONS = 3  # readings to come that are told


def fit(plan: Plan, readings: Readings) -> Fit:
    """What readings tell of a plan.

    Parameters
    ----------
    plan
        As read; what an earlier fit has learnt is not counted, since that log may be part of this.
    readings
        As read beside that plan.

    Raises
    ------
    UsageError
        If there is nothing in the log to fit.
    NoSolutionError, SolveError
        As from solving; where by the plan no water flows that was measured; and where no unknowns
        were found that fit best.
    """
    if not readings.rows:
        raise UsageError(
            f"{readings.file.name} has no reading that can be used; write a row with a branch, a "
            "volume and its seconds"
        )
    bare = plan.model_copy(update={"learnt": None})
    places = [row.at for row in readings.rows if row.at is not None]
    network = network_of(bare, gauges=places)
    learnt = learn(network, readings.rows)
    if not learnt.regression.converged:
        raise NoSolutionError(
            f"the fit did not settle in {learnt.regression.iterations} steps: look for a row in "
            "which handles stood elsewhere than the log says, or leave out those that are in doubt"
        )
    draws = sampled(learnt)
    return Fit(
        title=plan.title,
        readings=reading_rows(learnt, readings.rows),
        left_out=tuple(str(fault) for fault in readings.left_out),
        numbers=_numbers(learnt),
        flows=_forecasts(network, learnt, draws),
        tied=tied(learnt),
        untold=untold(learnt),
        next=tuple(_next(network, lesson) for lesson in lessons(learnt)[:LESSONS]),
        effective=draws.effective,
        scatter=float(np.sqrt(np.mean(np.square(learnt.regression.residuals)))),
        iterations=learnt.regression.iterations,
        learnt=table_of(learnt, readings=readings.file.name),
        plan=bare,
    )


def _numbers(learnt: Learnt) -> tuple[Number, ...]:
    """All but the errors of handles."""
    network = learnt.unknowns.network
    before = np.sqrt(np.diag(learnt.unknowns.covariance))
    after = np.sqrt(np.diag(learnt.covariance))
    rows = set(told(learnt))
    found = []
    for row, each in enumerate(learnt.unknowns.all):
        if each.of == "handle":
            continue
        is_offset = each.of == "offset"
        value = float(learnt.z[row] if is_offset else np.exp(learnt.z[row]))
        unit = 1.0 if is_offset else value
        valve = network.valves[each.place] if is_offset else None
        found.append(
            Number(
                of=each.of,
                name=each.name,
                value=value,
                sure=float(after[row]) * unit,
                before=float(before[row]),
                told=row in rows,
                handle="" if valve is None else valve.part.handle,
                travel=1.0 if valve is None else travel(valve),
            )
        )
    return tuple(found)


def _forecasts(network: Network, learnt: Learnt, draws: Sampled) -> tuple[Forecast, ...]:
    """Flows with the handles where they stood last."""
    stand = learnt.log.last
    planned, before = _planned(network, stand)
    likeliest = learnt.states(learnt.z[:, None], stand).flow[:, 0]
    normal = np.random.default_rng(SEED).standard_normal((len(learnt.z), BEFORE))
    after = learnt.states(learnt.drawn(normal), stand).flow
    weighed = learnt.states(draws.z, stand).flow
    found = []
    for branch in network.plan.branches:
        row = network.row_of[branch.name]
        if likeliest[row] == 0.0:
            continue
        planned_low, planned_high = np.quantile(before[row], BAND)
        low, high = np.quantile(after[row], BAND)
        sampled_low, sampled_high = draws.band(weighed[row], *BAND)
        found.append(
            Forecast(
                branch=branch.name,
                planned=float(planned[row]),
                planned_low=float(planned_low),
                planned_high=float(planned_high),
                fitted=float(likeliest[row]),
                low=float(low),
                high=float(high),
                sampled_low=sampled_low,
                sampled_high=sampled_high,
            )
        )
    return tuple(found)


def _planned(network: Network, stand: Stand) -> tuple[Floats, Floats]:
    """Flows (E,) by the plan as written at a stand, and (E, S) as its doubts have it."""
    doubts = Doubts(network)
    normal = np.random.default_rng(SEED).standard_normal((len(doubts.all), BEFORE))
    normal[:, 0] = 0.0
    drawn = doubts.drawn(normal)
    openings = np.array([stand.openings]).T
    by_eye = np.array([[not at_stop(float(each))] for each in openings[:, 0]])
    laws, shut = network.at(
        openings + np.where(by_eye.reshape(-1, 1), drawn.handles, 0.0),
        np.array([stand.speeds]).T,
        real=drawn.real,
    )
    flow = settle(
        network.topology,
        laws,
        fixed_heads=drawn.fixed_heads,
        held=shut,
        draw=network.draw,
        scenarios=BEFORE,
    ).flow
    return flow[:, 0], flow[:, 1:]


def _next(network: Network, lesson: Lesson) -> NextReading:
    valve = next((each for each in network.valves if each.stretch == lesson.branch), None)
    return NextReading(
        branch=lesson.branch,
        how=lesson.how,
        mark="" if valve is None or lesson.mark is None else words_of(lesson.mark, valve.part),
        flow=lesson.flow,
        before=lesson.before,
        after=lesson.after,
    )
