"""The search for flows, speeds and openings that come closest to what the branches are asked.

Its order: name what is out of reach; hold every controlled branch at its aim and look whether the
head left over is enough; only where it is not, or where branches without a valve of their own are
asked for something, weigh misses against each other.  Then, flows and speeds being found, what may
be done besides.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from balance.network.arrays import Network
from balance.questions.aims import Aim, Wishes, aims_of, wishes_of
from balance.questions.settings.aimed import at_aims
from balance.questions.settings.burden import share_burden
from balance.questions.settings.compromise import compromise
from balance.questions.settings.flowspace import (
    Control,
    FlowRange,
    FlowSpace,
    Held,
    controls_of,
    shared_controls,
    with_opening,
)
from balance.questions.settings.reach import Dry, out_of_reach
from balance.questions.settings.sharers import share_the_rest
from balance.questions.settings.useful_range import into_useful_range, kept_ranges
from balance.questions.speeds import drives_of

Floats = NDArray[np.float64]

SHORT = 1e-3  # sum of the shares by which targets are missed: less is as good as met
STARTS = (1.0, 0.6, 0.3)  # of the aims, from which a compromise begins


@dataclass(frozen=True)
class Found:
    """Where the search ended.

    Attributes
    ----------
    space, here : the view of the network and its state at the held flows
    aims : with the parts of sharers filled in
    wishes : the same over the plan's branches
    openings, speeds : (V, 1), (P, 1), before rounding to marks
    flow : (B,) of the branches [m³/s]
    missed : sum of the shares by which targets are missed
    dry : branches without flow however the rest is set, and why
    unmet : branches, and totals of groups, whose targets are missed
    tight : stretches whose valve is wide open although more is wanted, the tightest first
    ranges : useful ranges of pumps that the flows keep
    notes : how it was found, in words
    otherwise : the same without moving flows into the useful ranges of pumps, if they were moved
    """

    space: FlowSpace
    here: Held
    aims: tuple[Aim, ...]
    wishes: Wishes
    openings: Floats
    speeds: Floats
    flow: Floats
    missed: float
    unmet: tuple[str, ...]
    dry: tuple[Dry, ...]
    tight: tuple[str, ...]
    ranges: tuple[FlowRange, ...]
    notes: tuple[str, ...]
    otherwise: Found | None = None


def search(
    network: Network,
    *,
    starts: tuple[float, ...] = STARTS,
    near: Found | None = None,
    together: Sequence[str] = (),
) -> Found:
    """Best flows of a network for its plan's targets.

    Parameters
    ----------
    starts : shares of the aims from which a compromise begins, where one is needed
    near : a compromise for the same plan with another pump, from which one begins instead
    together : names of like pumps that turn at one speed
    """
    plan = network.plan
    names = tuple(branch.name for branch in plan.branches)
    aims = list(aims_of(plan))
    wanted = {name for aim in aims if aim.asked for name in aim.branches}
    wishes = wishes_of(tuple(aims), names)
    sharers = _sharers(aims, frozenset())
    # Speeds stay where sharers take all that is left.
    drives = () if sharers else drives_of(network, together=together)
    # What carries all aims at once leaves none of them dry, and most plans can be had.
    space = _space(network, wanted, set())
    here = at_aims(space, wishes, drives)
    dry: tuple[Dry, ...] = ()
    rows = [network.row_of[name] for name in wanted]
    if here is None or space.barred or not (here.state.flow[rows, 0] > 0.0).all():
        dry = out_of_reach(network, [name for name in names if name in wanted])
    without = {each.branch for each in dry}
    if dry:
        sharers = _sharers(aims, without)
        drives = () if sharers else drives_of(network, together=together)
        space = _space(network, wanted - without, without)
        here = at_aims(space, wishes, drives)
    notes: list[str] = []
    if sharers and drives_of(network):
        notes.append(
            "Shares of all that is left, with no total: the pump's speed stays as it stands. "
            "Give the sharers a total in a group, or one of them a bound, to free the speed."
        )
    tight: tuple[str, ...] = ()
    if here is None:
        here, tight = compromise(
            space, wishes, drives, starts=starts, near=_flows_near(space, near)
        )
    if sharers:
        here = share_the_rest(space, here, tuple(aims[place] for place in sharers))
        for place in sharers:
            row = network.row_of[aims[place].branches[0]]
            aims[place] = aims[place].with_aim(float(here.state.flow[row, 0]))
        wishes = wishes_of(tuple(aims), names)
    short = float(wishes.missed(here.state.flow[space.branch_rows])[0]) > SHORT
    # A pump that gives all it has and too little has no flow to spare for its own good.
    moved = here if tight and short else into_useful_range(space, here, wishes, drives)

    def found(here: Held, *, otherwise: Found | None) -> Found:
        turned, ended = share_burden(space, here)
        flow = ended.state.flow[turned.branch_rows, 0]
        return Found(
            space=turned,
            here=ended,
            aims=tuple(aims),
            wishes=wishes,
            openings=turned.openings_for(ended),
            speeds=ended.speed,
            flow=flow,
            missed=float(wishes.missed(flow[:, None])[0]),
            unmet=wishes.unmet(flow, dry=without),
            dry=dry,
            tight=tight,
            ranges=kept_ranges(network, ended),
            notes=tuple(notes),
            otherwise=otherwise,
        )

    return found(moved, otherwise=None if moved is here else found(here, otherwise=None))


def _sharers(aims: Sequence[Aim], without: Collection[str]) -> list[int]:
    """Places of branches that share all that is left, but for those without water."""
    return [
        place
        for place, aim in enumerate(aims)
        if aim.share is not None and aim.aim is None and aim.branches[0] not in without
    ]


def _flows_near(space: FlowSpace, near: Found | None) -> Floats | None:
    """Flows of another search, if it held the same valves."""
    if near is None or near.space.turned != space.turned:
        return None
    return near.here.flow


def _space(network: Network, wanted: set[str], dry: set[str]) -> FlowSpace:
    """The view with as many controls as keep every joint tied to a known head.

    Parameters
    ----------
    wanted : branches that are asked for something, and within reach
    dry : branches out of reach, which are shut
    """
    openings = network.openings.copy()
    for place, valve in enumerate(network.valves):
        if valve.stretch in dry and not valve.part.locked:
            openings[place, 0] = (valve.part.stops or (0.0, 1.0))[0]
    controls: tuple[Control, ...] = controls_of(network, wanted)
    space = FlowSpace(network, controls, openings)
    while space.isolates and controls:
        controls = controls[:-1]
        space = FlowSpace(network, controls, openings)
    for shared in shared_controls(network):
        openings_with = space.openings
        space = with_opening(space, shared, shared.most)
        # A valve before several branches is turned only for one that has none of its own.
        if wanted - {control.valve.stretch for control in space.controls}:
            trial = FlowSpace(network, (*space.controls, shared), openings_with)
            if not trial.isolates:
                space = trial
    return space
