"""What the few numbers of the fit cannot follow: tees, mains, and the shapes of pumps' curves.

A branch's loss, as it was learnt, stands for its tee as well, at the flows of the branch's last
reading.  The more has changed past that tee since, the less it need be so; a branch that is read
where everything stands is known again.
"""

from __future__ import annotations

from dataclasses import replace
from math import hypot, sqrt

import numpy as np
from numpy.typing import NDArray

from balance.network.laws import RunLaws
from balance.network.settle import settle
from balance.questions.learning.unknowns import mains_spread
from balance.questions.tune.view import TRACE, View

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

STEP = 0.5  # of each doubt's standard deviation, for slopes


def drifted(view: View, systems: int, rng: np.random.Generator) -> Floats:
    """Factors (E, S) by which flows may be off for that, in systems drawn at random."""
    slopes = drifts(view)
    return np.asarray(np.exp(slopes @ rng.standard_normal((slopes.shape[1], systems))))


def drifts(view: View) -> Floats:
    """What each doubt may have done to each run since it was last read.

    Returns
    -------
    (E, K) of the logarithm of flow, for one standard deviation of each of K doubts; zero where a
    run was never read.
    """
    experiment, unknowns = view.learnt.experiment, view.learnt.unknowns
    network = unknowns.network
    last = {
        each.run: each.stand
        for each in experiment.observations
        if each.kind in ("bucket", "meter", "dry", "level")
    }
    stands = [view.stand, *(experiment.stands[number] for number in last.values())]
    doubted = _doubted(network.passive, view)
    doubts = doubted.shape[1] // 2
    mains = [run.kind in ("run", "header") for run in network.layout.runs]
    if not doubts:
        return np.zeros((network.topology.runs, 0))
    count = doubted.shape[1]
    passive = _with(network.passive, np.tile(doubted, (1, len(stands))), np.array(mains))
    here = replace(unknowns, network=replace(network, passive=passive))
    real = here.real(np.repeat(view.learnt.z[:, None], count * len(stands), axis=1))
    handles = np.repeat(unknowns.handles(view.learnt.z, stands), count, axis=1)
    laws, shut = network.at(
        np.repeat(np.array([stand.openings for stand in stands]).T, count, axis=1),
        np.repeat(np.array([stand.speeds for stand in stands]).T, count, axis=1),
        real=replace(real, offset=real.offset - handles),
    )
    flow = settle(
        network.topology,
        laws,
        fixed_heads=network.fixed_heads,
        held=shut,
        draw=network.draw,
        scenarios=count * len(stands),
    ).flow
    logs = np.log(np.maximum(flow, TRACE)).reshape(-1, len(stands), 2, doubts)
    slopes = (logs[:, :, 0] - logs[:, :, 1]) / (2 * STEP)  # (E, stands, K)
    found = np.zeros((network.topology.runs, doubts))
    for number, run in enumerate(last):
        found[run] = slopes[run, 0] - slopes[run, 1 + number]
    return found


def _doubted(passive: RunLaws, view: View) -> Floats:
    """Each doubt up and then each down, (1 + tees + pumps, 2 K), in logarithms."""
    unknowns = view.learnt.unknowns
    spread = unknowns.network.plan.spread
    # Mains are a number of the fit where a gauge tells them from the pump, and else a doubt.
    own_number = ("mains", "") in unknowns.rows
    sizes = [0.0 if own_number else mains_spread(unknowns.network)]
    if passive.tees is not None:
        sizes += [spread.tees] * len(passive.tees.share)
    if passive.pumps is not None:
        # Of head and flow together the fit knows what goes as 2 to 1: left is what goes as 1 to -2.
        own = hypot(spread.pump_head, 2.0 * spread.pump_flow) / sqrt(5.0)
        sizes += [own] * len(passive.pumps.head_factor)
    up = STEP * np.diag(sizes).reshape(len(sizes), len(sizes))
    return np.hstack([up, -up])


def _with(passive: RunLaws, logs: Floats, mains: Bools) -> RunLaws:
    """The laws with mains, tees and pumps off by these logarithms (1 + tees + pumps, S).

    Parameters
    ----------
    mains : (E,) runs and headers
    """
    passive = passive.lossier(np.where(mains[:, None], np.exp(logs[0]), 1.0))
    logs = logs[1:]
    tees = 0
    if passive.tees is not None:
        tees = len(passive.tees.share)
        share = passive.tees.share * np.exp(logs[:tees])
        passive = replace(passive, tees=replace(passive.tees, share=share))
    if passive.pumps is not None:
        shape = logs[tees:] / sqrt(5.0)
        pumps = replace(
            passive.pumps,
            head_factor=passive.pumps.head_factor * np.exp(shape),
            flow_factor=passive.pumps.flow_factor * np.exp(-2.0 * shape),
        )
        passive = replace(passive, pumps=pumps)
    return passive
