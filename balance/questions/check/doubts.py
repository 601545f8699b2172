"""What in a plan may not be meant, or not be wise, each with its line and the way out."""

from __future__ import annotations

from collections.abc import Iterator
from math import pi

from balance.network.arrays import Network
from balance.parts.beds import lifting_flow
from balance.parts.friction import LAMINAR_END, TURBULENT_START
from balance.plan.locate import Path
from balance.plan.model import (
    DevicePart,
    FittingPart,
    HosePart,
    OutletPart,
    Part,
    Plan,
    Stretch,
)
from balance.questions.check.answer import Doubt, VesselRow
from balance.questions.check.wanted import Wanted
from balance.questions.handles import valve_of
from balance.questions.strains import NEAR, Strain, strains, top_speed
from balance.units import SYSTEMS, UnitSystem

BRISK = 5 * 0.3048  # m/s; the most where a valve may shut fast: velocity-maker
TOO_FAST = 8 * 0.3048  # m/s; noise and water hammer beyond it: velocity-maker
EVEN = 0.8  # least flow of a first hole over the last; common practice, no source
GRINDING = (
    4.0  # flow over that which lifts a bed, from which grains wear; common practice, no source
)
_ROUNDING = 1e-6


def doubts_of(network: Network, flows: Wanted, vessels: tuple[VesselRow, ...]) -> tuple[Doubt, ...]:
    """All doubts of a plan but those of low pressures."""
    book = _Book(network, flows)
    return (
        *book.joints(),
        *book.velocities(),
        *book.outlets(),
        *book.wishes(),
        *book.pumps(),
        *book.strains(),
        *book.spills(vessels),
        *book.edges(),
        *book.unsteady_hoses(),
        *book.barbs(),
        *book.uneven_rows(),
        *book.beds(),
        *book.curves(),
    )


class _Book:
    """A plan, its network and the flows at its targets."""

    def __init__(self, network: Network, flows: Wanted) -> None:
        self.network, self.flows = network, flows
        self.plan: Plan = network.plan
        self.system: UnitSystem = SYSTEMS[self.plan.units]

    def doubt(self, path: Path, text: str, remedy: str = "", *, unsafe: bool = False) -> Doubt:
        return Doubt.at(self.plan, path, text, remedy, unsafe=unsafe)

    def stretches(self) -> Iterator[tuple[Path, Stretch, str]]:
        """Runs and branches with their paths and names."""
        for run in self.plan.runs:
            yield ("runs", run.name), run, run.name
        for branch in self.plan.branches:
            yield ("branches", branch.name), branch, branch.name

    def joints(self) -> Iterator[Doubt]:
        for joint in self.network.layout.plain_joints:
            legs = [run.owner for run in self.network.layout.runs if joint in (run.start, run.end)]
            remedy = (
                f'write [joints."{joint}"] with side = one of '
                + ", ".join(f'"{leg}"' for leg in dict.fromkeys(legs))
                if len(legs) == 3
                else "lay it out as tees of three legs if its loss matters"
            )
            yield self.doubt(
                self._place_of(joint),
                f'at joint "{joint}" {len(legs)} legs meet and none is named as the side leg: '
                "no loss is counted there",
                remedy,
            )

    def _place_of(self, joint: str) -> Path:
        if joint in self.plan.joints:
            return ("joints", joint)
        for section in ("runs", "headers", "branches"):
            for item in getattr(self.plan, section):
                for key in ("from", "to"):
                    if getattr(item, "from_" if key == "from" else "to") == joint:
                        return (section, item.name, key)
        return ()

    def edges(self) -> Iterator[Doubt]:
        """Weirs that nothing spills over as written, drowned ones, and drains above the rim."""
        for name, pump in self.plan.running.items():
            water = self.plan.vessels.get(pump.from_)
            if water is not None and pump.intake is not None and pump.intake >= water.level:
                yield self.doubt(
                    ("pumps", name, "intake"),
                    f'this is not below the water of "{pump.from_}": it draws air',
                    "all heights count from one datum, not from the vessel's own floor",
                    unsafe=True,
                )
        for drain in self.plan.drains:
            if drain.inlet is None and drain.role != "change":
                yield self.doubt(
                    ("drains", drain.name),
                    "nothing tells where water enters it, so nobody knows how far it drains "
                    f'"{drain.from_}" when the pump stops',
                    'write inlet = "56.5 in", the height at which water first enters',
                )
            rim = self.plan.vessels[drain.from_].rim
            if rim is not None and drain.inlet is not None and drain.inlet >= rim:
                yield self.doubt(
                    ("drains", drain.name, "inlet"),
                    f'this is not below the rim of "{drain.from_}", which spills before',
                    "lower the inlet: a drain there never carries anything",
                    unsafe=drain.role == "emergency",
                )
        for name, vessel in self.plan.vessels.items():
            if vessel.crest is not None and vessel.level < vessel.crest:
                yield self._dry_edge(("vessels", name, "crest"), name)
        for weir in self.plan.weirs:
            path: Path = ("weirs", weir.name, "crest")
            spills, gets = (self.plan.vessels.get(end) for end in (weir.from_, weir.to))
            if spills is not None and spills.level < weir.crest:
                yield self._dry_edge(path, weir.from_)
            elif gets is not None and gets.level > weir.crest:
                yield self.doubt(
                    path,
                    f'"{weir.to}" stands above this crest, so its water passes back and forth over '
                    "it and both share one level",
                    f'lower the level of "{weir.to}", or raise the crest',
                )

    def _dry_edge(self, path: Path, vessel: str) -> Doubt:
        return self.doubt(
            path,
            f'the level of "{vessel}" lies below this crest, so nothing spills over it as written',
            "while it runs the water stands a little over the crest, as much as its flow needs",
        )

    def velocities(self) -> Iterator[Doubt]:
        headers: dict[str, float] = {}
        for run in self.network.layout.runs:
            if run.kind == "pump" or run.name not in self.flows.flow:
                continue
            speed = run.stretch.velocity(self.flows.flow[run.name])
            if run.kind == "header":
                headers[run.owner] = max(speed, headers.get(run.owner, 0.0))
            elif ", second half" not in run.name:
                yield from self._fast((_section(run.kind), run.owner), speed)
        for name, speed in headers.items():
            yield from self._fast(("headers", name), speed)

    def _fast(self, path: Path, speed: float) -> Iterator[Doubt]:
        if speed <= BRISK:
            return
        shown = self.system.text(speed, "velocity")
        if speed > TOO_FAST:
            bound = self.system.text(TOO_FAST, "velocity")
            yield self.doubt(
                path,
                f"with the targets met water runs at {shown} in it, above {bound}: noise, hammer "
                "and much loss",
                "take the next larger pipe or hose",
            )
        else:
            bound = self.system.text(BRISK, "velocity")
            yield self.doubt(
                path,
                f"with the targets met water runs at {shown} in it, above the usual {bound}",
                "the next larger pipe or hose loses less",
            )

    def outlets(self) -> Iterator[Doubt]:
        for path, stretch, _ in self.stretches():
            vessel = self.plan.vessels.get(getattr(stretch, "to", None) or "")
            outlet = stretch.parts[-1] if stretch.parts else None
            if vessel is None or not isinstance(outlet, OutletPart) or outlet.is_free:
                continue
            if outlet.height is None or outlet.height <= vessel.level:
                continue
            here = (*path, "parts", len(stretch.parts) - 1)
            height = self.system.text(outlet.height, "length")
            if vessel.rim is not None and outlet.height > vessel.rim:
                rim = self.system.text(vessel.rim, "length")
                yield self.doubt(
                    here,
                    f"the outlet under water lies at {height}, above the rim of its vessel at "
                    f"{rim}",
                    'lower it, or write outlet = "free" if it pours in from above',
                    unsafe=True,
                )
            else:
                yield self.doubt(
                    here,
                    f"the outlet under water lies at {height}, above the water surface",
                    'lower it, or write outlet = "free"',
                )

    def wishes(self) -> Iterator[Doubt]:
        """Branches with a target that no handle of their own sets."""
        speeds = any(pump.speed_range is not None for pump in self.plan.running.values())
        for branch in self.plan.branches:
            ref = valve_of(self.plan, branch.name)
            if (branch.target is None and branch.share is None) or (
                ref is not None and not ref.part.locked
            ):
                continue
            path = ("branches", branch.name, "target" if branch.target else "share")
            others = "the pump's speed and other valves" if speeds else "other valves"
            yield self.doubt(
                path,
                "nothing adjusts this branch by itself: "
                + ("it has no valve" if ref is None else "its valve is locked")
                + f"; only {others} move its flow",
                'give it a valve: { valve = "ball", size = "3/4 in" }'
                if ref is None
                else "unlock its valve, or take the target out",
            )

    def pumps(self) -> Iterator[Doubt]:
        for machine in self.network.machines:
            flow = self.flows.flow.get(machine.name)
            if flow is None:
                continue
            top = top_speed(machine.pump)
            run_out = machine.run_out(top)
            if flow > run_out * (1.0 + _ROUNDING):
                yield self.doubt(
                    ("pumps", machine.name),
                    f"the targets ask for {self.system.text(flow, 'flow')}, beyond the pump's "
                    f"run-out of {self.system.text(run_out, 'flow')} at {100 * top:.0f} % speed",
                    "lower the targets, or take a larger pump",
                )

    def strains(self) -> Iterator[Doubt]:
        """What pumps could press harder on than it stands, or nearly; like pipes are told once."""
        alike: dict[object, list[Strain]] = {}
        for strain in strains(self.network):
            if strain.pressure > NEAR * strain.stands:
                alike.setdefault(strain.what or strain.path, []).append(strain)
        for found in alike.values():
            worst = max(found, key=lambda strain: strain.pressure)
            owners = dict.fromkeys(f'"{strain.owner}"' for strain in found)
            yield self._pressed(found[0].path, worst, ", ".join(owners))

    def _pressed(self, path: Path, strain: Strain, owners: str) -> Doubt:
        brought = (
            f"with everything shut the pump brings {self.system.text(strain.pressure, 'pressure')} "
            f"to {f'the {strain.what} of {owners}' if strain.what else 'it'}"
        )
        if not strain.stands:
            return self.doubt(
                path,
                f"{brought}, which is made for drains and not for pressure",
                "take pressure pipe wherever a pump presses",
            )
        limit = self.system.text(strain.stands, "pressure")
        warmth = self.system.text(self.network.water.temperature, "temperature", 2)
        adds = "a valve shut at once adds to the pressure"
        if strain.guessed:
            limit = f"the {limit} that such hose usually stands at {warmth}"
            remedy = 'take a stronger kind, or write on it what its print says: stands = "35 psi"'
        elif strain.what:
            limit = f"the {limit} that it stands at {warmth}"
            adds = f"threads take half of that, and {adds}"
            remedy = "take pipe that stands more, or a pump or top speed of less head"
        else:
            limit = f"the {limit} that it stands"
            remedy = "keep its way out open, or take a pump or top speed of less head"
        if strain.pressure > strain.stands:
            return self.doubt(path, f"{brought}, more than {limit}", remedy, unsafe=True)
        return self.doubt(
            path,
            f"{brought}, {100 * strain.pressure / strain.stands:.0f} % of {limit}: {adds}",
            remedy,
        )

    def spills(self, vessels: tuple[VesselRow, ...]) -> Iterator[Doubt]:
        """Vessels that receive more than they can give away."""
        for row in vessels:
            if row.inflow is None or row.carried is None:
                continue
            text = (
                f"{self.system.text(row.inflow, 'flow')} come in with the targets met, and its "
                f"drains carry about {self.system.text(row.carried, 'flow')}"
            )
            if row.inflow > row.carried:
                yield self.doubt(
                    ("vessels", row.vessel),
                    text + ": it would run over",
                    "lower the targets, or give it a larger drain or one more",
                    unsafe=True,
                )
            elif row.inflow > row.carried - row.reserve:
                yield self.doubt(
                    ("vessels", row.vessel),
                    text + ", the emergency drain among them, which should stay dry",
                    "a larger main drain leaves the emergency drain for emergencies",
                )

    def unsteady_hoses(self) -> Iterator[Doubt]:
        viscosity = self.network.water.kinematic_viscosity
        for path, stretch, name in self.stretches():
            flow = abs(self.flows.flow.get(name, 0.0))
            for index, part in enumerate(stretch.parts):
                if not isinstance(part, HosePart):
                    continue
                reynolds = 4.0 * flow / (pi * part.bore * viscosity)
                if LAMINAR_END < reynolds < TURBULENT_START:
                    yield self.doubt(
                        (*path, "parts", index),
                        f"with the targets met this hose runs at Reynolds number {reynolds:.0f}, "
                        "between laminar and turbulent, where friction is unsure",
                        "measure that flow rather than trust it",
                    )
                    break

    def barbs(self) -> Iterator[Doubt]:
        found = [
            ((*path, "parts", index), name)
            for path, stretch, name in self.stretches()
            for index, part in enumerate(stretch.parts)
            if _is_estimate(part)
        ]
        if found:
            names = ", ".join(f'"{name}"' for name in dict.fromkeys(name for _, name in found))
            yield self.doubt(
                found[0][0],
                f"the bores of barbs are estimates, 0.7 of their hose, in {names}",
                'measure one and write bore = "9 mm" on it',
            )

    def uneven_rows(self) -> Iterator[Doubt]:
        """Spray bars, slots and manifolds whose far end gives most of the water."""
        for path, stretch, _ in self.stretches():
            outlet = stretch.parts[-1] if stretch.parts else None
            row = outlet.row() if isinstance(outlet, OutletPart) else None
            if row is None or row.evenness >= EVEN:
                continue
            yield self.doubt(
                (*path, "parts", len(stretch.parts) - 1),
                f"where water enters it gives {100 * row.evenness:.0f} % of what it gives at its "
                "shut end: its openings together are too wide for its bore",
                "fewer or narrower openings, or a wider pipe, give more evenly",
            )

    def beds(self) -> Iterator[Doubt]:
        """Beds that are to tumble and lie still, or tumble hard."""
        water = self.network.water
        for path, stretch, name in self.stretches():
            flow = abs(self.flows.flow.get(name, 0.0))
            for index, part in enumerate(stretch.parts):
                media = part.bed if isinstance(part, DevicePart) else None
                if media is None or media.grain_density is None or flow == 0.0:
                    continue
                start = lifting_flow(
                    media.bed,
                    viscosity=water.kinematic_viscosity,
                    grain_density=media.grain_density,
                    density=water.density,
                )
                here = (*path, "parts", index, "bed")
                lifts = f"its bed begins to tumble at about {self.system.text(start, 'flow')}"
                if flow < start:
                    yield self.doubt(
                        here,
                        f"with the targets met this lies still: {lifts}",
                        "raise the target, or leave grain_density out if the bed is held down",
                    )
                elif flow > GRINDING * start:
                    yield self.doubt(
                        here,
                        f"with the targets met this tumbles hard: {lifts}, and grains that grind "
                        "wear and wash out",
                        "lower the target, or hold the bed down and leave grain_density out",
                    )

    def curves(self) -> Iterator[Doubt]:
        for machine in self.network.machines:
            for points in machine.curves:
                for note in points.curve.source_notes:
                    key = "points" if machine.pump.points else "curve"
                    yield self.doubt(("pumps", machine.name, key), note)


def _section(kind: str) -> str:
    return "runs" if kind == "run" else "branches"


def _is_estimate(part: Part) -> bool:
    return isinstance(part, FittingPart) and part.bore_is_estimate
