"""The head equations of a plan written anew: scalar, part by part, with the `fluids` library.

Friction, two- and three-constant fittings, steps, entrances, exits and the printed states of tees
are functions of that library, and pumps and measured devices go through scipy's interpolator. What
neither has comes from the project's own tables: unions, barbs, a valve at part travel, and a tee
near the meeting of two of its states.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from math import isclose, pi

import fluids
import numpy as np
from fluids import fittings as printed
from scipy.interpolate import PchipInterpolator

from balance.network.layout import LaidTee
from balance.network.solve import Solution
from balance.parts import checks, fittings, outlets, valves
from balance.parts.tees import BLEND, GIVE_WAY, tee_bank, tee_table
from balance.plan.model import (
    Branch,
    CheckPart,
    DevicePart,
    FittingPart,
    HosePart,
    InletPart,
    LossPart,
    MediaBed,
    OutletPart,
    Part,
    PipePart,
    Plan,
    Pump,
    Run,
    ValvePart,
)

G = 9.80665
INCH = 0.0254
AT_REST = 1e-12  # [m³/s]

DARBY = {
    "elbow 90": "Elbow, 90°, threaded, standard, (r/D = 1)",
    "elbow 45": "Elbow, 45°, threaded standard, (r/D = 1)",
    "return bend": "Elbow, 180°, threaded, close-return bend, (r/D = 1)",
    "tee run": "Tee, Run-through, threaded, (r/D = 1)",
    "tee branch": "Tee, Through-branch, (as elbow), threaded, (r/D = 1)",
    "swing": "Valve, Swing check",
    "lift": "Valve, Lift check",
}
HOOPER = {
    "threaded elbow 90": "Elbow, 90°, Standard (R/D = 1), Screwed",
    "flap": "Valve, Check, Tilting-disc",
}


def velocity_head(flow: float, bore: float) -> float:
    return (flow / (pi / 4 * bore**2)) ** 2 / (2 * G)


def friction_factor(reynolds: float, relative_roughness: float) -> float:
    """Darcy's; between laminar and turbulent a cubic in f Re² that meets both."""
    if reynolds <= 2000.0:
        return 64.0 / reynolds

    def turbulent(re: float) -> float:
        return float(fluids.friction.Colebrook(re, relative_roughness))

    if reynolds >= 4000.0:
        return turbulent(reynolds)
    rise = (turbulent(4001.0) * 4001.0**2 - turbulent(3999.0) * 3999.0**2) / 2.0
    t = (reynolds - 2000.0) / 2000.0
    y = (
        128e3 * (1 + 2 * t) * (1 - t) ** 2
        + 64 * 2000 * t * (1 - t) ** 2
        + turbulent(4000.0) * 16e6 * t**2 * (3 - 2 * t)
        + rise * 2000 * t**2 * (t - 1)
    )
    return y / reynolds**2


def fitting_coefficient(kind: str, bore: float, reynolds: float) -> float:
    if kind in DARBY:
        return float(printed.Darby3K(NPS=bore / INCH, Re=reynolds, name=DARBY[kind]))
    if kind in HOOPER:
        return float(printed.Hooper2K(Di=bore / INCH, Re=reynolds, name=HOOPER[kind]))
    own = (
        checks.check_valve(kind, bore=bore)
        if kind in checks.kinds()
        else fittings.fitting(kind, bore)
    )
    return own.k + own.k_laminar / reynolds


@dataclass(frozen=True)
class Flowing:
    """Water that flows along a stretch, forwards as the plan has it or backwards."""

    flow: float
    viscosity: float
    forwards: bool

    def lost(self, k: float, bore: float) -> float:
        return k * velocity_head(self.flow, bore)

    def reynolds(self, bore: float) -> float:
        velocity = self.flow / (pi / 4 * bore**2)
        return float(fluids.Reynolds(V=velocity, D=bore, nu=self.viscosity))

    def step(self, bore_from: float, bore_to: float, angle: float = 180.0) -> float:
        if isclose(bore_from, bore_to, rel_tol=0.005):
            return 0.0
        first, then = (bore_from, bore_to) if self.forwards else (bore_to, bore_from)
        if first < then:
            k = (
                printed.diffuser_sharp(first, then)
                if angle == 180.0
                else printed.diffuser_conical(first, then, angle=angle, method="Crane")
            )
        else:
            k = (
                printed.contraction_sharp(first, then, method="Crane")
                if angle == 180.0
                else printed.contraction_conical(first, then, angle=angle, method="Crane")
            )
        return self.lost(float(k), min(first, then))

    def entrance(self, bore: float) -> float:
        sharp = printed.entrance_sharp(method="Crane")
        return self.lost(sharp if self.forwards else printed.exit_normal(), bore)

    def exit(self, bore: float) -> float:
        sharp = printed.entrance_sharp(method="Crane")
        return self.lost(printed.exit_normal() if self.forwards else sharp, bore)

    def end(self, part: InletPart | OutletPart) -> float:
        """Head lost between a vessel and pipework, by the project's own tables."""
        law: outlets.OutletLaw | outlets.InletLaw = (
            outlets.outlet(part.outlet)
            if isinstance(part, OutletPart)
            else outlets.inlet(part.inlet)
        )
        k, backward = law.k, law.backward
        if part.k is not None:
            k = part.k
            backward = backward if k else 0.0
        if isinstance(part, OutletPart) and (row := part.row()) is not None:
            k, backward = row.k, row.backward
        lost = self.lost(k if self.forwards else backward, part.bore) / part.count**2
        if isinstance(part, OutletPart) and part.bore_from > part.bore and not self.forwards:
            lost += self.step(part.bore_from, part.bore) / part.count**2
        return lost

    def through(self, part: Part) -> float:
        """Head that a part takes."""
        if isinstance(part, PipePart | HosePart):
            return self._straight(part)
        if isinstance(part, FittingPart):
            k = part.k
            if k is not None:
                return self.lost(k * part.count, part.bore)
            k = fitting_coefficient(part.fitting, part.bore, self.reynolds(part.bore))
            cone = part.cone_angle
            steps = self.step(part.bore_from, part.bore, cone)
            steps += self.step(part.bore, part.bore_to, cone)
            return self.lost(k * part.count, part.bore) + steps
        if isinstance(part, ValvePart):
            return self._valve(part)
        if isinstance(part, CheckPart):
            law = checks.check_valve(part.check, bore=part.bore)
            opening = law.opening_head if part.opening is None else part.opening
            k = fitting_coefficient(part.check, part.bore, self.reynolds(part.bore))
            return self.lost(k * part.count, part.bore) + opening * part.count
        if isinstance(part, DevicePart):
            return self._device(part)
        if isinstance(part, InletPart | OutletPart):
            return self.end(part)
        assert isinstance(part, LossPart)
        return self.lost(part.k * part.count, part.bore)

    def _straight(self, part: PipePart | HosePart) -> float:
        size = part.pipe if isinstance(part, PipePart) else part.hose
        roughness = size.roughness if part.roughness is None else part.roughness
        f = part.friction_factor
        if f is None:
            f = friction_factor(self.reynolds(size.bore), roughness / size.bore)
        k = fluids.core.K_from_f(fd=f, L=part.length * part.count, D=size.bore)
        return self.lost(float(k), size.bore)

    def _valve(self, part: ValvePart) -> float:
        law = valves.valve(
            part.valve, bore=part.bore, table=part.measured(bore=part.bore), k_open=part.k
        )
        k = float(law.loss_coefficient(np.array([part.open])).k[0])
        k += law.k_laminar / self.reynolds(part.bore)
        return self.lost(k * part.count, part.bore)

    def _device(self, part: DevicePart) -> float:
        factor = (1.0 + part.fouled) * part.count
        if part.drop is not None:
            share: float = (self.flow / part.drop.flow) ** part.exponent
            return factor * part.drop.head * share
        if part.points is not None:
            curve = PchipInterpolator(
                [0.0, *(point.flow for point in part.points)],
                [0.0, *(point.head for point in part.points)],
            )
            return factor * float(curve(self.flow))
        if part.bed is not None:
            return factor * self._bed(part.bed)
        assert part.k is not None
        return self.lost(factor * part.k, part.bore)

    def _bed(self, media: MediaBed) -> float:
        """Head lost in a bed that lies still."""
        assert media.grain_density is None, "a bed that tumbles is not checked here"
        pressure = fluids.packed_bed.Ergun(
            dp=media.grain * media.sphericity,
            voidage=media.voidage,
            vs=self.flow / (pi / 4 * media.diameter**2),
            rho=1000.0,
            mu=1000.0 * self.viscosity,
            L=media.depth,
        )
        return float(pressure) / (1000.0 * G)


def stretch_loss(
    parts: Sequence[Part],
    flow: float,
    viscosity: float,
    *,
    from_vessel: bool,
    to_vessel: bool,
    before: float | None = None,
    after: float | None = None,
) -> float:
    """Head lost from the start of a stretch to its end, negative for flow backwards."""
    if flow == 0.0:
        return 0.0
    water = Flowing(abs(flow), viscosity, flow > 0.0)
    bores = [before, *(part.bore_to for part in parts)]
    total = sum(water.through(part) for part in parts)
    for bore, part in zip(bores, parts, strict=False):
        if bore is not None:
            total += water.step(bore, part.bore_from)
    if after is not None and bores[-1] is not None:
        total += water.step(bores[-1], after)
    if parts and from_vessel and not isinstance(parts[0], InletPart):
        total += water.entrance(parts[0].bore_from)
    if parts and to_vessel and not isinstance(parts[-1], OutletPart):
        total += water.exit(parts[-1].bore_to)
    return total if flow > 0.0 else -total


def pump_head(pump: Pump, flow: float) -> float:
    """Of a pump with one curve, by affinity."""
    (points,) = pump.curve
    n = pump.speed / points.speed
    at = flow / n
    assert -AT_REST < at < points.curve.flow[-2], "backwards and near run-out are not checked here"
    curve = PchipInterpolator(points.curve.flow, points.curve.head)
    return float(n**2 * curve(max(at, 0.0)))


Loss = Callable[[float], float]


def losses_of(plan: Plan, viscosity: float) -> dict[str, Loss]:
    """Head lost against flow, of every pump, run, branch and piece of header by its name."""
    found: dict[str, Loss] = {}
    for name, pump in plan.pumps.items():
        found[name] = lambda q, pump=pump: -pump_head(pump, q)  # type: ignore[misc]

    def add(
        name: str, parts: Sequence[Part], turn: FittingPart | None = None, **ends: object
    ) -> None:
        def loss(flow: float) -> float:
            lost = stretch_loss(parts, flow, viscosity, **ends)  # type: ignore[arg-type]
            if turn is not None and flow != 0.0:
                lost += Flowing(flow, viscosity, forwards=True).through(turn)
            return lost

        found[name] = loss

    ends_of = {*plan.vessels, "outside"}
    side_bore: dict[str, float] = {}
    turns: dict[str, FittingPart] = {}
    for header in plan.headers:
        bore, parts = header.pipe.bore, list[Part]()
        for tap in header.taps:
            pipe = PipePart.model_construct(
                pipe=header.pipe,
                length=tap.after,
                roughness=header.roughness,
                friction_factor=header.friction_factor,
                count=1,
            )
            parts += [pipe, *tap.parts]
            last = tap is header.taps[-1]
            if tap.branch is None and not last:
                continue
            piece = f"{header.name} to {tap.branch or header.to}"
            add(piece, parts, from_vessel=False, to_vessel=False, before=bore, after=bore)
            parts = []
            if tap.branch is not None:
                side_bore[tap.branch] = tap.side_bore or bore
                if last and header.to is None:
                    kind = "elbow 90" if tap.end == "elbow" else "tee branch"
                    turn = FittingPart(fitting=kind, count=1)
                    at = side_bore[tap.branch]
                    turns[tap.branch] = turn.placed(bore=at, sides=(at, at))
    stretches: list[Run | Branch] = [*plan.runs, *plan.branches]
    for stretch in stretches:
        add(
            stretch.name,
            stretch.parts,
            turns.get(stretch.name),
            from_vessel=stretch.from_ in ends_of,
            to_vessel=stretch.to in ends_of,
            before=side_bore.get(stretch.name),
        )
    return found


def printed_tee(tee: LaidTee, inflows: tuple[float, float, float]) -> tuple[float, float] | None:
    """Heads H_A - H_B and H_A - H_S over a right-angled tee as print has them.

    None where print jumps from one state or one area ratio to the next, and for wyes.
    """
    a, b, s = inflows
    straight, side = tee.straight_bore, tee.straight_bore * tee.area_ratio**0.5
    steps = (0.35, 0.4, 4 / 9, 2 / 3)
    common = max(inflows, key=abs)
    if common == 0.0 or tee.angle != 90.0 or any(abs(tee.area_ratio - at) < 0.021 for at in steps):
        return None
    blended = GIVE_WAY if common == s else BLEND
    if min(abs(flow / common) for flow in inflows) < blended:
        return None
    if common == s:
        head = velocity_head(s, side)

        def onward(leg: float) -> float:
            """Side to straight, or straight to side: handbook forms, which fluids lacks."""
            y, r = abs(leg / s), tee.area_ratio
            if s > 0.0:
                return -(1 + 0.3 * (r * y) ** 2) * head
            return (1 + r**2 + 3 * r**2 * (y**2 - y)) * head

        return onward(a) - onward(b), onward(a)
    y = abs(s / common)
    divides = common > 0.0
    if abs(y - (0.5 if divides else 0.4)) < BLEND:
        return None
    other = b if common == a else a
    head = velocity_head(common, straight)
    words = {"Q_run": abs(other), "Q_branch": abs(s), "angle": 90}
    if divides:
        run = printed.K_run_diverging_Crane(straight, side, **words) * head
        branch = printed.K_branch_diverging_Crane(straight, side, **words) * head
        return (run, branch) if common == a else (-run, branch - run)
    run = printed.K_run_converging_Crane(straight, side, **words) * head
    branch = printed.K_branch_converging_Crane(straight, side, **words) * head
    return (run, run - branch) if common == b else (-run, -branch)


def own_tee(tee: LaidTee, inflows: tuple[float, float, float]) -> tuple[float, float]:
    table = tee_table(area_ratio=tee.area_ratio, angle=tee.angle)
    scale = 1.0 / (2 * G * (pi / 4 * tee.straight_bore**2) ** 2)
    loss = tee_bank([table], [0], [scale]).losses(
        np.array([[inflows[1]]]), np.array([[inflows[2]]])
    )
    return float(loss.first[0, 0]), float(loss.second[0, 0])


@dataclass
class Closure:
    """How the heads of a solution close along all of its paths and round all of its loops.

    Attributes
    ----------
    worst : largest mismatch [m]
    equations : how many were checked beyond those that carried a head from place to place
    tees_in_print : how many tees stood in a state that print has
    """

    worst: float = 0.0
    equations: int = 0
    tees_in_print: int = 0
    links: dict[object, list[tuple[object, float]]] = field(default_factory=dict)

    def link(self, one: object, other: object, drop: float) -> None:
        self.links.setdefault(one, []).append((other, drop))
        self.links.setdefault(other, []).append((one, -drop))

    def close(self, start: object) -> None:
        heads = {start: 0.0}
        queue = deque([start])
        while queue:
            here = queue.popleft()
            for there, drop in self.links.get(here, []):
                if there not in heads:
                    heads[there] = heads[here] - drop
                    queue.append(there)
                else:
                    self.worst = max(self.worst, abs(heads[here] - drop - heads[there]))
                    self.equations += 1


def closure(solution: Solution) -> Closure:
    """Put the flows of a solution into the head equations.

    Heads are carried from one fixed head over runs and joints to wherever flow leads; every
    further way to a place must bring the same head.
    """
    network, state = solution.network, solution.state
    layout = network.layout
    losses = losses_of(network.plan, network.water.kinematic_viscosity)
    found = Closure()
    names = [run.name for run in layout.runs]
    for row, run in enumerate(layout.runs):
        if not state.held[row, 0]:
            whole = run.name.removesuffix(", second half")
            # A run between two tees may have been cut into halves of equal loss.
            share = 0.5 if f"{whole}, second half" in names else 1.0
            drop = share * losses[whole](float(state.flow[row, 0]))
            found.link((row, run.start), (row, run.end), drop)
    tees = {tee.joint: tee for tee in layout.tees}
    for joint in layout.joints():
        legs = [
            (row, joint) for row, run in enumerate(layout.runs) if joint in (run.start, run.end)
        ]
        if joint not in tees:
            for leg in legs[1:]:
                found.link(legs[0], leg, 0.0)
            continue
        tee = tees[joint]
        # The leg may be the second half of a run that was cut.
        at = {layout.runs[row].owner: row for row, _ in legs}
        rows = [row if (row, joint) in legs else at[layout.runs[row].owner] for row in tee.legs]
        a, b, s = (
            float(state.flow[row, 0]) * (1.0 if layout.runs[row].end == joint else -1.0)
            for row in rows
        )
        heads = printed_tee(tee, (a, b, s))
        found.tees_in_print += heads is not None
        to_b, to_s = heads or own_tee(tee, (a, b, s))
        found.link((rows[0], joint), (rows[1], joint), to_b)
        found.link((rows[0], joint), (rows[2], joint), to_s)
    for node, head in layout.heads.items():
        for row, run in enumerate(layout.runs):
            if node in (run.start, run.end):
                found.link("datum", (row, node), -head)
    found.close("datum")
    return found
