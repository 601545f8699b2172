"""From a plan to index and coefficient arrays: the only crossing between names and numbers."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from math import pi

import numpy as np
from numpy.typing import NDArray

from balance.network.laws import LEAST_SLOPE, REVERSE_SLOPE, RunLaws
from balance.network.layout import LaidRun, Layout, cut_in_two, lay_out
from balance.network.legs import references
from balance.network.real import Real
from balance.network.rows import placed, row_sum
from balance.network.stretch import Stretch, velocity_head
from balance.network.terms import Friction, PointLaw, Points, PowerLaw, Pumps, Tees, cubics
from balance.network.topology import Topology
from balance.parts import families, pumps
from balance.parts.families import CurvePoints
from balance.parts.friction import friction_law
from balance.parts.tees import tee_bank, tee_table
from balance.parts.valves import ValveLaw
from balance.plan.model import Plan, Pump, ValvePart
from balance.plan.reading import GaugePlace
from balance.water import Water, water

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Ints = NDArray[np.intp]

USUAL_VELOCITY = 2.0  # [m/s], for the network's scale of flow
USUAL_BORE = 0.025  # [m], where no part has one
LEAST_HEAD = 0.5  # [m], for the network's scale of head


@dataclass(frozen=True)
class Valve:
    """A valve that a hand can turn, and where it acts.

    Attributes
    ----------
    name : in the plan
    stretch : the run, branch or header it stands in
    part : as the plan has it
    law : loss against opening
    run : row of its run
    places : (rows of runs, 1 / (2 g A²) there); two where the run was cut in two
    """

    name: str
    stretch: str
    part: ValvePart
    law: ValveLaw
    run: int
    places: tuple[tuple[int, float], ...]


@dataclass(frozen=True)
class Machine:
    """A pump: its row, its curves by falling speed, and what the plan says of it."""

    name: str
    run: int
    pump: Pump
    curves: tuple[CurvePoints, ...]

    def shaft(self, speed: Floats) -> Floats:
        """True speed ratio at a controller's setting."""
        if self.pump.speed_map is None:
            return speed
        shown, true = zip(*((0.0, 0.0), *self.pump.speed_map), strict=True)
        return np.asarray(np.interp(speed, shown, true))

    def shaft_slope(self, speed: Floats) -> Floats:
        """Slope of the true speed ratio against a controller's setting; at a bend, below it."""
        if self.pump.speed_map is None:
            return np.ones_like(speed)
        shown, true = np.array([(0.0, 0.0), *self.pump.speed_map]).T
        piece = np.clip(np.searchsorted(shown, speed), 1, len(shown) - 1)
        return np.asarray((np.diff(true) / np.diff(shown))[piece - 1])

    def head(self, flow: Floats, speed: float) -> Floats:
        """Head it gives at flows (Q,) and a speed setting [m]; wear takes of head and of flow."""
        left = 1.0 - self.pump.wear
        return left * families.head(self.curves, flow / left, self._turning(speed))

    def power(
        self, flow: Floats, speed: Floats, *, density: float, strength: Floats | float = 1.0
    ) -> Floats | None:
        """Watts at the wire for flows and speed settings (S,); None where a curve has no power.

        Parameters
        ----------
        strength : (S,) or one, of the curve
        """
        return families.power(
            self.curves, flow, self.shaft(speed), density=density, strength=strength
        )

    def needed_suction_head(self, flow: float, speed: float) -> float | None:
        """Net positive suction head needed at a speed setting [m]; None where a curve lacks it."""
        return families.needed_suction_head(self.curves, flow, self._turning(speed))

    def useful_range(self, speed: float) -> tuple[float, float] | None:
        """Flows between which the pump runs well at a speed setting [m³/s]."""
        if self.pump.useful_range is None:
            return families.useful_range(self.curves, self._turning(speed))
        low, high = self.pump.useful_range
        run_out = self.run_out(speed)
        return low * run_out, high * run_out

    def run_out(self, speed: float) -> float:
        """Flow at the end of the curve at a speed setting [m³/s]."""
        return families.run_out(self.curves, self._turning(speed)) * (1.0 - self.pump.wear)

    def _turning(self, speed: float) -> float:
        return float(self.shaft(np.array([speed]))[0])


@dataclass(frozen=True)
class Network:
    """A plan in arrays.

    Attributes
    ----------
    plan, water : what it was made from
    layout : runs, joints and tees with names
    topology : the same in numbers
    passive : laws of all runs with valves lossless and pumps at the plan's speed
    fixed_heads : (fixed, 1) [m]
    draw : (joints, 1) [m³/s]
    capped : (E, 1) runs that lead nowhere
    valves, machines : what can be set
    joint_names, fixed_names : in the order of the nodes
    """

    plan: Plan
    water: Water
    layout: Layout
    topology: Topology
    passive: RunLaws
    fixed_heads: Floats
    draw: Floats
    capped: Bools
    valves: tuple[Valve, ...]
    machines: tuple[Machine, ...]
    joint_names: tuple[str, ...]
    fixed_names: tuple[str, ...]

    @cached_property
    def row_of(self) -> dict[str, int]:
        """Row of the run of each pump, run, branch and piece of header."""
        return {run.name: row for row, run in enumerate(self.layout.runs)}

    @cached_property
    def node_of(self) -> dict[str, int]:
        """Number of each joint and fixed node."""
        return {name: n for n, name in enumerate((*self.joint_names, *self.fixed_names))}

    @property
    def openings(self) -> Floats:
        """Openings of all valves as the plan has them, (V, 1)."""
        return np.array([[valve.part.open] for valve in self.valves]).reshape(-1, 1)

    @property
    def speeds(self) -> Floats:
        """Speed settings of all pumps as the plan has them, (P, 1)."""
        return np.array([[machine.pump.speed] for machine in self.machines]).reshape(-1, 1)

    def fouled(self, factor: Floats) -> Network:
        """The same with what runs lose to flow multiplied, (E, S) or (E, 1); valves as they are."""
        return replace(self, passive=self.passive.lossier(factor))

    def at(
        self, openings: Floats, speeds: Floats, *, real: Real | None = None
    ) -> tuple[RunLaws, Bools]:
        """Laws, and the runs that are shut, at openings (V, S) and speeds (P, S).

        Parameters
        ----------
        real : how the plumbing differs from its plan, S columns or one; left out: not at all
        """
        here = self.as_planned if real is None else real
        scenarios = max(openings.shape[1], here.scenarios) if self.valves else 1
        shut = np.repeat(self.capped, scenarios, axis=1) if self.valves else self.capped
        extra = np.zeros((self.topology.runs, scenarios))
        for place, (valve, opening) in enumerate(zip(self.valves, openings, strict=True)):
            beyond = valve.law.throttled(
                opening, log_factor=here.log_factor[place], offset=here.offset[place]
            )
            k = valve.law.k_open * here.open_factor[place] + beyond.k
            closed = np.isinf(k)
            for row, scale in valve.places:
                extra[row] += np.where(closed, 0.0, k) * scale
                shut[row] |= closed
        laws = replace(
            here.passive,
            forward=here.passive.forward + extra,
            backward=here.passive.backward + extra,
        )
        return self.at_speeds(laws, speeds), shut

    @cached_property
    def as_planned(self) -> Real:
        """No difference between the plumbing and its plan."""
        valves = len(self.valves)
        none = np.zeros((valves, 1))
        return Real(self.passive, np.ones((valves, 1)), none, none)

    def at_speeds(self, laws: RunLaws, speeds: Floats) -> RunLaws:
        """The laws with pumps at speed settings (P, S)."""
        if laws.pumps is None:
            return laws
        shaft = np.array(
            [machine.shaft(row) for machine, row in zip(self.machines, speeds, strict=True)]
        )
        shares = [
            families.shares(machine.curves, row)
            for machine, row in zip(self.machines, shaft, strict=True)
        ]
        return replace(
            laws,
            pumps=replace(
                laws.pumps,
                speed=shaft,
                weight=np.concatenate([weight for weight, _ in shares]),
                weight_slope=np.concatenate([slope for _, slope in shares]),
            ),
        )


def network_of(plan: Plan, *, gauges: Iterable[GaugePlace] = ()) -> Network:
    """The arrays of a plan.

    Parameters
    ----------
    gauges : pipes that get a joint at their middle, since a level is read there
    """
    medium = plan_water(plan)
    layout = lay_out(plan, medium, gauges=gauges)
    pairs, tees = _tees(layout)
    joints = layout.joints()
    fixed = list(layout.heads)
    number = {name: n for n, name in enumerate([*joints, *fixed])}
    topology = Topology(
        len(joints),
        len(fixed),
        np.array([number[run.start] for run in layout.runs], dtype=np.intp),
        np.array([number[run.end] for run in layout.runs], dtype=np.intp),
        pairs,
    )
    machines = tuple(
        Machine(run.name, row, plan.pumps[run.name], _curves(plan, run.name))
        for row, run in enumerate(layout.runs)
        if run.kind == "pump"
    )
    laws = _laws(layout, medium, machines, tees)
    draw = np.zeros((len(joints), 1))
    for name, joint in plan.joints.items():
        if name in number and number[name] < len(joints):
            draw[number[name], 0] = joint.draw
    network = Network(
        plan=plan,
        water=medium,
        layout=layout,
        topology=topology,
        passive=laws,
        fixed_heads=np.array(list(layout.heads.values())).reshape(-1, 1),
        draw=draw,
        capped=np.array([[run.capped] for run in layout.runs], dtype=np.bool_).reshape(-1, 1),
        valves=_valves(plan, layout),
        machines=machines,
        joint_names=tuple(joints),
        fixed_names=tuple(fixed),
    )
    return replace(network, passive=network.at_speeds(laws, network.speeds))


def _curves(plan: Plan, pump: str) -> tuple[CurvePoints, ...]:
    """A pump's curves, as strong as readings told."""
    curves = plan.pumps[pump].curve
    if plan.learnt is None:
        return curves
    strength = plan.learnt.value("pump", pump, default=1.0)
    return tuple(CurvePoints(points.curve.stronger(strength), points.speed) for points in curves)


def plan_water(plan: Plan) -> Water:
    """The water of a plan, with what it states outright."""
    spec = plan.water
    found = water(temperature=spec.temperature, salinity=spec.salinity)
    if spec.density is not None:
        found = replace(found, density=spec.density)
    if spec.kinematic_viscosity is not None:
        found = replace(found, kinematic_viscosity=spec.kinematic_viscosity)
    return found


def _tees(layout: Layout) -> tuple[Ints, Tees | None]:
    """The legs that carry each tee's losses; cuts runs in two where it must be."""
    if not layout.tees:
        return np.zeros((0, 2), dtype=np.intp), None
    legs = [tee.legs for tee in layout.tees]
    # Pumps come first among the runs, so the lowest leg is the nearest to a pump.
    roots = sorted(range(len(legs)), key=lambda tee: min(legs[tee]))
    chosen, cut = references(legs, roots)
    halves = {run: cut_in_two(layout, run) for run in sorted(cut)}
    pairs, into = [], []
    for tee, reference in zip(layout.tees, chosen, strict=True):
        # The second half of a cut run keeps its end.
        rows = [
            halves[row] if row in halves and layout.runs[halves[row]].end == tee.joint else row
            for row in tee.legs
        ]
        others = [row for place, row in enumerate(rows) if place != reference]
        pairs.append(others)
        into.append([1.0 if layout.runs[row].end == tee.joint else -1.0 for row in others])
    bank = tee_bank(
        [tee_table(area_ratio=tee.area_ratio, angle=tee.angle) for tee in layout.tees],
        chosen,
        [velocity_head(tee.straight_bore) for tee in layout.tees],
    )
    array = np.array(pairs, dtype=np.intp)
    return array, Tees(array, np.array(into), bank, np.ones((len(pairs), 1)))


def stretch_laws(stretches: Sequence[Stretch], *, medium: Water) -> RunLaws:
    """The laws of stretches by themselves, apart from any network, one a row."""
    runs = [LaidRun("", "", "run", "", "", stretch) for stretch in stretches]
    return _laws(Layout(runs=runs), medium, (), None)


def _laws(
    layout: Layout, medium: Water, machines: tuple[Machine, ...], tees: Tees | None
) -> RunLaws:
    runs = layout.runs
    nu = medium.kinematic_viscosity
    lift = sum(max(points.curve.head[0] for points in m.curves) for m in machines)
    heads = list(layout.heads.values())
    head_scale = max(LEAST_HEAD, float(lift) + (max(heads) - min(heads) if heads else 0.0))
    areas = np.array([run.stretch.least_area for run in runs])
    for machine in machines:
        run_out = max(float(points.curve.flow[-1]) for points in machine.curves)
        areas[machine.run] = min(areas[machine.run], run_out / USUAL_VELOCITY)
    usual = pi / 4 * USUAL_BORE**2
    areas[np.isinf(areas)] = areas[np.isfinite(areas)].max(initial=usual)
    flow_scale = USUAL_VELOCITY * float(max(areas, default=usual))

    def column(name: str) -> Floats:
        return np.array([[getattr(run.stretch, name)] for run in runs]).reshape(-1, 1)

    forward, backward = column("forward"), column("backward")
    return RunLaws(
        linear=column("linear") + LEAST_SLOPE * head_scale / flow_scale,
        forward=forward,
        backward=forward if np.array_equal(forward, backward) else backward,
        constant=column("opening_head"),
        area=areas[:, None],
        one_way=np.array([r for r, run in enumerate(runs) if run.stretch.one_way], dtype=np.intp),
        reverse=REVERSE_SLOPE * head_scale / flow_scale,
        friction=_friction(runs, nu),
        power=_power_laws(runs),
        points=_points(runs),
        pumps=_pumps(machines),
        tees=tees,
    )


def _friction(runs: list[LaidRun], nu: float) -> Friction | None:
    rows, bores, rough, lengths = [], [], [], []
    for row, run in enumerate(runs):
        for (diameter, relative), length in run.stretch.pieces.items():
            rows.append(row)
            bores.append(diameter)
            rough.append(relative)
            lengths.append(length)
    if not rows:
        return None
    bore, length_array = np.array(bores)[:, None], np.array(lengths)[:, None]
    return Friction(
        at=placed(rows),
        reynolds_per_flow=4.0 / (pi * bore * nu),
        head=length_array / bore * (nu / bore) ** 2 / (2 * pumps.GRAVITY),
        law=friction_law(np.array(rough)[:, None]),
    )


def _power_laws(runs: list[LaidRun]) -> PowerLaw | None:
    found = [
        (row, coefficient, exponent)
        for row, run in enumerate(runs)
        for coefficient, exponent in run.stretch.powers
    ]
    if not found:
        return None
    rows, coefficients, exponents = zip(*found, strict=True)
    return PowerLaw(
        at=placed(rows),
        coefficient=np.array(coefficients)[:, None],
        exponent=np.array(exponents)[:, None],
    )


def _points(runs: list[LaidRun]) -> PointLaw | None:
    found = [
        (row, curve, factor) for row, run in enumerate(runs) for curve, factor in run.stretch.points
    ]
    if not found:
        return None
    rows, curves, factors = zip(*found, strict=True)
    return PointLaw(
        at=placed(rows),
        curves=cubics([Points(curve.flow, curve.head, curve.slopes) for curve in curves]),
        factor=np.array(factors)[:, None],
    )


def _pumps(machines: tuple[Machine, ...]) -> Pumps | None:
    if not machines:
        return None
    curves: list[Points] = []
    owner: list[int] = []
    for place, machine in enumerate(machines):
        # Wear takes its share of head and of flow.
        left = 1.0 - machine.pump.wear
        rest = machine.pump.stopped
        for points in machine.curves:
            curve, n = points.curve, points.speed
            curves.append(
                Points(
                    curve.flow * left / n,
                    curve.head * left / n**2,
                    curve.slopes / n,
                    before=curve.reverse if rest is None else rest.head / rest.flow**2,
                )
            )
            owner.append(place)
    highest = [curves[owner.index(place)] for place in range(len(machines))]
    return Pumps(
        of=np.array([machine.run for machine in machines], dtype=np.intp),
        pump=np.array(owner, dtype=np.intp),
        onto=row_sum(enumerate(owner)),
        curves=cubics(curves),
        at_rest=np.array([[curve.y[0]] for curve in highest]),
        run_out=np.array([[curve.x[-1]] for curve in highest]),
        speed=np.ones((len(machines), 1)),
        weight=np.ones((len(curves), 1)),
        weight_slope=np.zeros((len(curves), 1)),
        head_factor=np.ones((len(machines), 1)),
        flow_factor=np.ones((len(machines), 1)),
    )


def _valves(plan: Plan, layout: Layout) -> tuple[Valve, ...]:
    names = {id(ref.part): ref.name for ref in plan.valves()}
    found: dict[str, Valve] = {}
    for row, run in enumerate(layout.runs):
        for valve in run.stretch.valves:
            name = names[id(valve.part)]
            place = (row, valve.scale)
            if name in found:
                found[name] = replace(found[name], places=(*found[name].places, place))
            else:
                found[name] = Valve(name, run.owner, valve.part, valve.law, row, (place,))
    return tuple(found.values())
