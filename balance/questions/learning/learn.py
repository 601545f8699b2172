"""The fit of a plan to readings, and what it leaves in doubt."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from balance.errors import NoSolutionError
from balance.network.arrays import Network
from balance.network.settle import State, settle
from balance.plan.reading import Reading, Turned
from balance.questions.learning.experiment import Experiment, Observation
from balance.questions.learning.handles import (
    HandleLog,
    Setting,
    Stand,
    covariance_of,
    handle_log,
)
from balance.questions.learning.observed import observations_of
from balance.questions.learning.regression import Regression, regress
from balance.questions.learning.unknowns import Unknowns, handles_in, unknowns_of

Floats = NDArray[np.float64]

MOST = 300  # evaluations of the network: a wild reading takes many
SETTLED = 1e-4  # of how well each unknown is known, that a step may still move it


@dataclass(frozen=True)
class Learnt:
    """What readings told.

    Attributes
    ----------
    experiment : the readings
    log : of the handles
    z : (P,) most likely unknowns
    root : (P, P) of their covariance R R'
    regression : in standard deviations of the prior
    """

    experiment: Experiment
    log: HandleLog
    z: Floats
    root: Floats
    regression: Regression

    @property
    def unknowns(self) -> Unknowns:
        """What was to be learnt."""
        return self.experiment.unknowns

    @cached_property
    def covariance(self) -> Floats:
        """(P, P)."""
        return np.asarray(self.root @ self.root.T)

    @cached_property
    def network(self) -> Network:
        """The network as it most likely is, but for the errors of handles."""
        network = self.unknowns.network
        real = self.unknowns.real(self.z[:, None])
        return replace(
            network,
            passive=real.passive,
            valves=tuple(
                replace(
                    valve,
                    law=valve.law.learnt(
                        open_factor=float(real.open_factor[place, 0]),
                        log_factor=float(real.log_factor[place, 0]),
                        offset=float(real.offset[place, 0]),
                    ),
                )
                for place, valve in enumerate(network.valves)
            ),
        )

    def handles(self, stand: Stand) -> Floats:
        """How far beyond their marks handles most likely stand, (V,)."""
        return self.unknowns.handles(self.z, (stand,))[:, 0]

    def with_settings(self, more: Sequence[Setting]) -> Learnt:
        """The same with settings of handles that are still to come, behind those of the log.

        What they have in common with those of the log is known as well as from there.
        """
        if not more:
            return self
        unknowns = self.unknowns
        settings = (*unknowns.settings, *more)
        count, old, new = len(unknowns.settings), len(self.z), len(more)
        prior = covariance_of(settings)
        from_old = np.linalg.solve(prior[:count, :count], prior[:count, count:]).T
        rest = prior[count:, count:] - from_old @ prior[:count, count:]
        carried = np.zeros((new, old))
        carried[:, old - count :] = from_old
        covariance = np.zeros((old + new, old + new))
        covariance[:old, :old] = unknowns.covariance
        covariance[old - count :, old - count :] = prior
        extended = replace(
            unknowns,
            settings=settings,
            all=(*unknowns.all[: old - count], *handles_in(unknowns.network, settings)),
            covariance=covariance,
        )
        return replace(
            self,
            experiment=replace(self.experiment, unknowns=extended),
            z=np.concatenate([self.z, carried @ self.z]),
            root=np.block(
                [[self.root, np.zeros((old, new))], [carried @ self.root, np.linalg.cholesky(rest)]]
            ),
        )

    def drawn(self, normal: Floats) -> Floats:
        """Unknowns (P, S) from standard normal numbers (P, S), by the curvature at the optimum."""
        return np.asarray(self.z[:, None] + self.root @ normal)

    def states(self, z: Floats, stand: Stand, *, beyond: Floats | None = None) -> State:
        """Systems of unknowns z (P, S) at one stand.

        Parameters
        ----------
        beyond : (V, S) or (V, 1) what handles will stand beyond where they stand now
        """
        network = self.unknowns.network
        real = self.unknowns.real(z)
        handles = self.unknowns.handles_of(z, stand)
        if beyond is not None:
            handles = handles + beyond
        openings = np.array([stand.openings]).T
        laws, shut = network.at(
            openings,
            np.array([stand.speeds]).T,
            real=replace(real, offset=real.offset - handles),
        )
        return settle(
            network.topology,
            laws,
            fixed_heads=network.fixed_heads,
            held=shut,
            draw=network.draw,
            scenarios=z.shape[1],
        )


def learn(
    network: Network,
    readings: Sequence[Reading],
    *,
    then: Sequence[Turned] = (),
    near: Learnt | None = None,
) -> Learnt:
    """Fit a network to readings.

    Parameters
    ----------
    network : as planned
    readings : in their order
    then : what has been turned since the last of them
    near : a fit to the first of them, to begin from

    Raises
    ------
    NoSolutionError
        Where by the plan no water flows that was measured.
    """
    log = handle_log(network, readings, then=then)
    observations = observations_of(network, readings)
    stands = tuple(dict.fromkeys((*log.stands, log.last)))
    number = {stand: place for place, stand in enumerate(stands)}
    placed = tuple(replace(each, stand=number[log.stands[each.stand]]) for each in observations)
    unknowns = unknowns_of(
        network,
        log.settings,
        told=log.told,
        supply_told=any(each.kind in ("level", "watts") for each in placed),
    )
    experiment = Experiment(unknowns, stands, placed)
    if near is not None:
        experiment.near = near.experiment.state_of(stands)
    return fitted(experiment, log, near=near)


def fitted(experiment: Experiment, log: HandleLog, *, near: Learnt | None = None) -> Learnt:
    """Fits the unknowns of an experiment, in standard deviations of their prior."""
    unknowns = experiment.unknowns
    count = len(unknowns.all)
    scale = np.linalg.cholesky(unknowns.covariance)
    start = np.zeros(count)
    if near is not None:
        start = np.linalg.solve(scale, _carried(near, unknowns))

    def model(at: Floats) -> tuple[Floats, Floats]:
        values, slopes = experiment(scale @ at)
        return values, slopes @ scale

    _refuse_shut(experiment)
    begun = experiment.near
    if not all(np.isfinite(told).all() for told in model(start)):
        start = np.zeros(count)
        _refuse_dry(experiment)
    # Where two states of the water are possible, the fit is to begin at the one just looked at.
    experiment.near = begun
    found = regress(
        model,
        measured=experiment.measured,
        sd=experiment.sd,
        start=start,
        prior_mean=np.zeros(count),
        prior_precision=np.eye(count),
        robust=experiment.doubtful,
        same=SETTLED,
        most=MOST,
    )
    return Learnt(experiment, log, scale @ found.at, scale @ found.root, found)


def _carried(near: Learnt, unknowns: Unknowns) -> Floats:
    """Unknowns of an earlier fit, where there are the same."""
    z = np.zeros(len(unknowns.all))
    before = near.unknowns
    for row, each in enumerate(unknowns.all):
        if each.of == "handle":
            same = before.first_setting + each.place
            if each.place < len(before.settings):
                z[row] = near.z[same]
        elif (each.of, each.name) in before.rows:
            z[row] = near.z[before.rows[each.of, each.name]]
    return z


def _refuse_shut(experiment: Experiment) -> None:
    """Raises NoSolutionError where water was read behind a valve that the log has shut."""
    network = experiment.network
    shut = network.at(experiment.openings, experiment.speeds)[1]
    shut = np.broadcast_to(shut, (network.topology.runs, len(experiment.stands)))
    _refuse(
        experiment,
        [
            each
            for each in experiment.observations
            if each.kind in ("bucket", "meter") and shut[each.run, each.stand]
        ],
    )


def _refuse_dry(experiment: Experiment) -> None:
    """Raises NoSolutionError where the plan has no flow for a reading, or none that hangs on it."""
    values, slopes = experiment(np.zeros(len(experiment.unknowns.all)))
    dry: list[Observation] = [
        each
        for each, value, slope in zip(experiment.observations, values, slopes, strict=True)
        if not (np.isfinite(value) and np.isfinite(slope).all())
    ]
    _refuse(experiment, dry)


def _refuse(experiment: Experiment, dry: Sequence[Observation]) -> None:
    if dry:
        runs = experiment.network.layout.runs
        raise NoSolutionError(
            "by the plan no water flows there, yet some was read: "
            + "; ".join(f'line {each.line}, "{runs[each.run].name}"' for each in dry)
            + ". Look where handles stood in those rows, and which way the plan drives the water"
        )
