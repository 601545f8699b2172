"""How much water there is: in vessels, in stretches of plumbing, and before valves all shut."""

from __future__ import annotations

from collections.abc import Sequence

from balance.network.arrays import Network
from balance.network.basins import basin_of
from balance.network.layout import LaidRun
from balance.plan.model import Part, Plan, ValveRef, Vessel
from balance.questions.handles import valve_of


def vessel_volume(vessel: Vessel) -> float | None:
    """Water in a vessel at its level, without rock and sand [m³]; None where its size is open."""
    return volume_below(vessel, vessel.level)


def volume_below(vessel: Vessel, level: float) -> float | None:
    """Water in a vessel that stands at some level, without rock and sand [m³].

    Parameters
    ----------
    level : of the water, above the plan's datum [m]

    Returns
    -------
    float or None
        None for an endless vessel, and where nothing tells its floor.
    """
    basin = basin_of(vessel)
    if basin is None or (vessel.bottom is None and vessel.table is None):
        return None
    return float(basin.volume(level))


def system_volume(plan: Plan) -> float | None:
    """Water in all vessels at their levels [m³]; None where the size of one is open.

    The vessel of new water for a change is no part of the system, and what pipes hold is left out.
    """
    spare = None if plan.change is None else plan.change.from_
    volumes = [vessel_volume(v) for name, v in plan.vessels.items() if name != spare]
    known = [volume for volume in volumes if volume is not None]
    return sum(known) if len(known) == len(volumes) else None


def stretch_volume(parts: Sequence[Part]) -> float:
    """Water in the pipes, hoses and devices of a stretch [m³].

    Fittings and valves are left out, and so is a device of which nothing tells what it holds.
    """
    return sum(part.holds for part in parts)


def pressed_volume(network: Network) -> float:
    """Water that pumps press on when every branch is shut at its valve [m³].

    It stands in the runs and headers behind the pumps that turn, and in branches up to their
    valves; one without a valve is capped off where it begins. The same holds of a run that ends in
    a vessel and has a valve. A run or header whose valve stands shut,
    or whose check valve holds against the pump, keeps what is beyond it out. What casings of pumps
    hold is told nowhere and not counted, nor are fittings, so it is less than there is.
    """
    layout = network.layout
    legs: dict[str, list[LaidRun]] = {}
    for run in layout.runs:
        for node in {run.start, run.end} - layout.heads.keys():
            legs.setdefault(node, []).append(run)
    turning = {name for name, pump in network.plan.pumps.items() if pump.speed > 0.0}
    reached = [run.end for run in layout.runs if run.kind == "pump" and run.name in turning]
    volumes: dict[str, float] = {}
    while reached:
        joint = reached.pop()
        for run in legs.get(joint, ()):
            backwards = run.start != joint
            if run.name in volumes or (backwards and (run.kind == "pump" or run.stretch.one_way)):
                continue
            before = _before_a_stop(network, run, backwards=backwards)
            if before is None:
                volumes[run.name] = run.stretch.volume
                reached.append(run.start if backwards else run.end)
            else:
                volumes[run.name] = before
    return sum(volumes.values())


def _before_a_stop(network: Network, run: LaidRun, *, backwards: bool) -> float | None:
    """Water before what ends the pressure in a run [m³]; None where all of it is pressed on."""
    valve = valve_of(network.plan, run.name)
    if valve is None:
        if run.kind != "branch" or network.capped[network.row_of[run.name], 0]:
            return None
        return run.stretch.volume if backwards else 0.0
    ends = network.layout.heads.keys() & {run.start, run.end}
    if run.kind == "branch" or ends or valve.part.open == 0.0:
        return stretch_volume(_before(network.plan, valve, backwards=backwards))
    return None


def _before(plan: Plan, valve: ValveRef, *, backwards: bool) -> Sequence[Part]:
    """Parts of a stretch that water passes on its way to a valve.

    In a header these are what stands at the tap beside its pipe.
    """
    section, index, *rest = valve.path
    holder = getattr(plan, str(section))[index]
    if rest[0] == "taps":
        holder = holder.taps[rest[1]]
    parts: Sequence[Part] = holder.parts
    return parts[valve.index + 1 :] if backwards else parts[: valve.index]
