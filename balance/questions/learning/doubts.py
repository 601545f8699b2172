"""What a plan leaves in doubt, each doubt one standard normal number, and what it does to the laws.

Sizes are those of the plan's `[spread]`.  A factor that cannot fall below zero is the exponential
of its doubt.  Bores act with the powers by which friction and velocity heads go with them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import cached_property
from math import log

import numpy as np
from numpy.typing import NDArray

from balance.network.arrays import Network, Valve
from balance.network.laws import RunLaws
from balance.network.real import Real
from balance.network.stretch import LossShare, Stretch
from balance.parts.friction import friction, friction_law
from balance.parts.valves import BACKLASH_TURNS
from balance.plan.model import Spread
from balance.questions.marks import travel
from balance.water import water

Floats = NDArray[np.float64]

FITTINGS = "fittings and open valves"
COMMON = "what all fittings have in common"
TEES = "tees"
BARBS = "barbs"
DEVICES = "devices"
CURVES = "valves partly shut"
OFFSETS = "where shut is on a handle"
HANDLES = "handles set by eye"
HOSES = "bore of hoses"
PIPES = "bore of pipes"
ROUGHNESS = "roughness"
PUMPS = "pump curves"
SPEEDS = "pump speed"
LEVELS = "water levels"
TEMPERATURE = "water temperature"

BORE_TO_REYNOLDS = -1.0  # powers of the bore: 4 q / (pi D nu) ...
BORE_TO_FRICTION = -3.0  # ... and (L / D) (nu / D)² / 2 g, which friction times Re² multiplies
BORE_TO_VELOCITY_HEAD = -4.0
LEAST_SHARE = 1e-9  # of a stretch's loss: less is the rounding of its sums


@dataclass(frozen=True)
class Doubt:
    """One number that is not known.

    Attributes
    ----------
    about : which uncertainty it belongs to, one of the words above
    name : of the part, valve, pump, stretch or vessel
    sd : its standard deviation, in what it acts on
    """

    about: str
    name: str
    sd: float


@dataclass(frozen=True)
class Drawn:
    """Systems as they may really be, a column each.

    Attributes
    ----------
    real : their laws; of valves without what the hand adds
    handles : (V, S) how far each valve's handle stands beyond its mark, of travel
    fixed_heads : (fixed, S) [m]
    """

    real: Real
    handles: Floats
    fixed_heads: Floats


@dataclass(frozen=True)
class _Share:
    """What one part, or the turn at a header's end, adds to a run."""

    row: int
    of: LossShare
    doubt: int | None


@dataclass(frozen=True)
class Doubts:
    """All doubts of a network's plan, in an order that stays."""

    network: Network

    @cached_property
    def all(self) -> tuple[Doubt, ...]:
        """Every doubt, in the order of the rows of `drawn`."""
        return tuple(self._listed[0])

    @property
    def spread(self) -> Spread:
        """Their sizes."""
        return self.network.plan.spread

    @cached_property
    def _listed(self) -> tuple[list[Doubt], dict[tuple[str, str], int], list[_Share]]:
        found: list[Doubt] = []
        place: dict[tuple[str, str], int] = {}

        def add(about: str, name: str, sd: float) -> int:
            # The halves of a run that was cut in two share their doubts.
            if (about, name) not in place:
                place[about, name] = len(found)
                found.append(Doubt(about, name, sd))
            return place[about, name]

        spread, network = self.spread, self.network
        add(COMMON, "", spread.common)
        add(TEMPERATURE, "", spread.temperature)
        add(ROUGHNESS, "", spread.roughness)
        shares: list[_Share] = []
        sizes = {
            "fitting": (FITTINGS, spread.full_open),
            "barb": (BARBS, spread.barbs),
            "device": (DEVICES, spread.devices),
        }
        for row, run in enumerate(network.layout.runs):
            if run.kind == "pump":
                continue
            add(PIPES, run.uncut, spread.pipe_bore)
            if run.stretch.hoses:
                add(HOSES, run.uncut, spread.hose_bore)
            for number, share in enumerate(_shares(run.stretch)):
                doubt = None
                if share.kind in sizes:
                    about, sd = sizes[share.kind]
                    doubt = add(about, f"{run.whole}, {number + 1}", sd)
                shares.append(_Share(row, share, doubt))
            if run.stretch.powers or run.stretch.points:
                add(DEVICES, run.uncut, spread.devices)
        for tee in network.layout.tees:
            add(TEES, tee.joint, spread.tees)
        for valve in network.valves:
            add(FITTINGS, f"{valve.name} open", spread.full_open)
            add(CURVES, valve.name, curve_spread(valve, spread))
            add(OFFSETS, valve.name, offset_spread(valve, spread))
            add(HANDLES, valve.name, handle_spread(valve, spread))
        for machine in network.machines:
            add(PUMPS, f"{machine.name} head", spread.pump_head)
            add(PUMPS, f"{machine.name} flow", spread.pump_flow)
            add(SPEEDS, machine.name, spread.speed)
        for vessel in network.fixed_names:
            if vessel in network.plan.vessels:
                add(LEVELS, vessel, spread.level)
        return found, place, shares

    def _row(self, about: str, name: str) -> int:
        return self._listed[1][about, name]

    def drawn(self, normal: Floats) -> Drawn:
        """Systems from standard normal numbers (doubts, S)."""
        network, scenarios = self.network, normal.shape[1]

        def off(about: str, name: str) -> Floats:
            """One doubt, scaled, (S,)."""
            row = self._row(about, name)
            return np.asarray(self.all[row].sd * normal[row])

        pipe_bore, hose_bore = (
            {
                doubt.name: np.asarray(doubt.sd * normal[row])
                for row, doubt in enumerate(self.all)
                if doubt.about == about
            }
            for about in (PIPES, HOSES)
        )
        common, warmer = off(COMMON, ""), off(TEMPERATURE, "")
        viscosity = np.exp(self._viscosity_by_kelvin * warmer)
        passive = network.passive
        every = np.zeros(scenarios)
        linear, forward, backward = (
            np.repeat(array, scenarios, axis=1)
            for array in (passive.linear, passive.forward, passive.backward)
        )
        for share in self._listed[2]:
            run = network.layout.runs[share.row].uncut
            bore = hose_bore[run] if share.of.in_hose else pipe_bore[run]
            exponent = (
                every if share.doubt is None else self.all[share.doubt].sd * normal[share.doubt]
            )
            if share.of.kind == "fitting":
                exponent = exponent + common
            elif share.of.kind == "end" or share.of.in_hose:
                exponent = exponent + BORE_TO_VELOCITY_HEAD * bore
            more = np.exp(exponent) - 1.0
            forward[share.row] += share.of.forward * more
            backward[share.row] += share.of.backward * more
            if share.of.linear:
                linear[share.row] += share.of.linear * ((1.0 + more) * viscosity - 1.0)
        return Drawn(
            Real(
                self._with_terms(
                    replace(passive, linear=linear, forward=forward, backward=backward),
                    off,
                    pipe_bore,
                    hose_bore,
                    viscosity,
                ),
                open_factor=np.array(
                    [np.exp(off(FITTINGS, f"{v.name} open") + common) for v in network.valves]
                ).reshape(-1, scenarios),
                log_factor=np.array([off(CURVES, v.name) for v in network.valves]).reshape(
                    -1, scenarios
                ),
                offset=np.array([off(OFFSETS, v.name) for v in network.valves]).reshape(
                    -1, scenarios
                ),
            ),
            np.array([off(HANDLES, v.name) for v in network.valves]).reshape(-1, scenarios),
            np.array(
                [
                    head + (off(LEVELS, name) if name in network.plan.vessels else every)
                    for name, head in zip(
                        network.fixed_names, network.fixed_heads[:, 0], strict=True
                    )
                ]
            ).reshape(-1, scenarios),
        )

    def _with_terms(
        self,
        laws: RunLaws,
        off: Callable[[str, str], Floats],
        pipe_bore: dict[str, Floats],
        hose_bore: dict[str, Floats],
        viscosity: Floats,
    ) -> RunLaws:
        """The laws with friction, devices, tees and pumps in doubt as well."""
        runs = self.network.layout.runs
        rougher = off(ROUGHNESS, "")
        if laws.friction is not None:
            term = laws.friction
            bore = np.array(
                [
                    hose_bore[runs[row].uncut] if in_hose else pipe_bore[runs[row].uncut]
                    for row, in_hose in zip(term.at.of, self._pieces, strict=True)
                ]
            )
            friction_term = replace(
                term,
                reynolds_per_flow=term.reynolds_per_flow
                * np.exp(BORE_TO_REYNOLDS * bore)
                / viscosity,
                head=term.head
                * np.exp(BORE_TO_FRICTION * bore + self._roughness_slope * rougher)
                * viscosity**2,
            )
            laws = replace(laws, friction=friction_term)
        if laws.power is not None:
            factor = np.array([np.exp(off(DEVICES, runs[row].uncut)) for row in laws.power.at.of])
            laws = replace(
                laws, power=replace(laws.power, coefficient=laws.power.coefficient * factor)
            )
        if laws.points is not None:
            factor = np.array([np.exp(off(DEVICES, runs[row].uncut)) for row in laws.points.at.of])
            laws = replace(laws, points=replace(laws.points, factor=laws.points.factor * factor))
        if laws.tees is not None:
            share = np.array([np.exp(off(TEES, t.joint)) for t in self.network.layout.tees])
            laws = replace(laws, tees=replace(laws.tees, share=laws.tees.share * share))
        if laws.pumps is not None:
            faster, higher, wider = (
                np.array([np.exp(off(about, f"{m.name}{end}")) for m in self.network.machines])
                for about, end in ((SPEEDS, ""), (PUMPS, " head"), (PUMPS, " flow"))
            )
            pumps = replace(
                laws.pumps,
                head_factor=laws.pumps.head_factor * higher * faster**2,
                flow_factor=laws.pumps.flow_factor * wider * faster,
            )
            laws = replace(laws, pumps=pumps)
        return laws

    @cached_property
    def _pieces(self) -> tuple[bool, ...]:
        """Whether each piece of the friction term is a hose."""
        return tuple(
            bore in run.stretch.hoses
            for run in self.network.layout.runs
            for bore, _ in run.stretch.pieces
        )

    @cached_property
    def _roughness_slope(self) -> Floats:
        """Slope of ln friction against ln roughness of each piece, (N, 1), at 1 m/s."""
        pieces = [piece for run in self.network.layout.runs for piece in run.stretch.pieces]
        nu = self.network.water.kinematic_viscosity
        reynolds = np.array([[bore / nu] for bore, _ in pieces]).reshape(-1, 1)
        rough = np.array([[relative] for _, relative in pieces]).reshape(-1, 1)
        small = 0.1
        up, down = (
            friction(reynolds, friction_law(rough * np.exp(sign * small))).y for sign in (1.0, -1.0)
        )
        return np.asarray(np.log(up / down) / (2 * small))

    @cached_property
    def _viscosity_by_kelvin(self) -> float:
        """Slope of the logarithm of kinematic viscosity against temperature [1/K]."""
        spec = self.network.plan.water
        if spec.kinematic_viscosity is not None:
            return 0.0
        up, down = (
            water(temperature=spec.temperature + step, salinity=spec.salinity).kinematic_viscosity
            for step in (0.5, -0.5)
        )
        return log(up / down)


def curve_spread(valve: Valve, spread: Spread) -> float:
    """Standard deviation of ln K of a valve at mid travel."""
    if valve.part.table is not None:
        return valve.law.log_spread
    if valve.law.kind.startswith("gate"):
        return spread.gate
    return spread.ball if valve.part.handle == "degrees" else valve.law.log_spread


def offset_spread(valve: Valve, spread: Spread) -> float:
    """Standard deviation of where shut is on a handle, of travel; none but for quarter turns."""
    return spread.ball_offset if valve.part.handle == "degrees" else 0.0


def handle_spread(valve: Valve, spread: Spread) -> float:
    """Standard deviation with which a hand sets a handle to a mark, of travel.

    Of a spindle half its backlash: a hand that minds from which side it comes is surer than that.
    """
    if valve.part.handle == "turns":
        return 0.5 * BACKLASH_TURNS / travel(valve)
    return spread.mark


def _shares(stretch: Stretch) -> Iterator[LossShare]:
    """What each part adds to a stretch, and the turn at a header's end, which is no part."""
    yield from stretch.shares
    turn = [
        getattr(stretch, key) - sum(getattr(share, key) for share in stretch.shares)
        for key in ("linear", "forward", "backward")
    ]
    if turn[1] > LEAST_SHARE * stretch.forward:
        yield LossShare("fitting", in_hose=False, linear=turn[0], forward=turn[1], backward=turn[2])
