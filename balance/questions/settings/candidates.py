"""Changes to a plan that may bring its branches nearer to their targets, one at a time."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TypeVar

from balance.network.arrays import Network
from balance.parts.pipes import PipeSize, hose, larger
from balance.plan.model import (
    Branch,
    Candidate,
    DevicePart,
    FittingPart,
    Header,
    HosePart,
    Part,
    PipePart,
    Plan,
    Run,
    SizedPart,
    ValvePart,
)
from balance.questions.settings.stronger import stronger_pump

MOST_BRANCHES = 4  # branches whose own plumbing is tried, those that bind most first
SAME_BORE = 0.2  # parts whose bore is within this share of a pipe's go with its size
FULL_PORT = "ball"
S = TypeVar("S", Run, Branch)


def candidates(
    network: Network, wanting: tuple[str, ...], *, dry: tuple[str, ...]
) -> Iterator[tuple[str, Plan]]:
    """Changes in words, and the plan with each; what costs least effort comes first.

    Parameters
    ----------
    wanting : branches that are short or over, those that bind most first
    dry : those of them to which no water comes, for which no wider pipe does anything
    """
    plan = network.plan
    yield from _handles(plan, wanting)
    yield from _speeds(plan)
    yield from _pipes(plan, tuple(name for name in wanting if name not in dry))
    yield from _pumps(plan)
    stronger = stronger_pump(network)
    if stronger is not None:
        yield stronger


def _handles(plan: Plan, wanting: tuple[str, ...]) -> Iterator[tuple[str, Plan]]:
    """Handles that no answer turns: locked ones, and those of branches without a target."""
    totals = [group.branches for group in plan.groups.values() if group.target is not None]
    for place, branch in enumerate(plan.branches):
        shut = _shut(branch)
        if shut is not None and not any(branch.name in total for total in totals):
            yield f'shut "{branch.name}", which has no target', _with_branch(plan, place, shut)
        free = _unlocked(branch) if branch.name in wanting else None
        if free is not None:
            yield f'unlock the valve of "{branch.name}"', _with_branch(plan, place, free)
    branches = {branch.name for branch in plan.branches}
    for ref in plan.valves():
        shared = ref.stretch not in branches and ref.path[0] != "drains"
        if shared and ref.part.locked and ref.part.open < 1.0:
            opened = plan.with_openings({ref.name: 1.0})
            yield f'open "{ref.name}" fully, which is locked', opened


def _with_branch(plan: Plan, place: int, branch: Branch) -> Plan:
    branches = (*plan.branches[:place], branch, *plan.branches[place + 1 :])
    return plan.model_copy(update={"branches": branches})


def _unlocked(branch: Branch) -> Branch | None:
    """A branch whose only valve is locked, with it free to turn."""
    valves = [(n, part) for n, part in enumerate(branch.parts) if isinstance(part, ValvePart)]
    if len(valves) != 1 or not valves[0][1].locked:
        return None
    ((place, part),) = valves
    free = part.model_copy(update={"locked": False})
    return _with_parts(branch, (*branch.parts[:place], free, *branch.parts[place + 1 :]))


def _pipes(plan: Plan, wanting: tuple[str, ...]) -> Iterator[tuple[str, Plan]]:
    """Wider runs and headers, and better plumbing of the branches that are short."""
    for place, run in enumerate(plan.runs):
        for text, parts in _larger(run.parts, f'run "{run.name}"'):
            runs = (*plan.runs[:place], _with_parts(run, parts), *plan.runs[place + 1 :])
            yield text, plan.model_copy(update={"runs": runs})
    yield from _headers(plan)
    for name in wanting[:MOST_BRANCHES]:
        for place, branch in enumerate(plan.branches):
            if branch.name == name:
                for text, parts in _better(branch):
                    yield text, _with_branch(plan, place, _with_parts(branch, parts))


def _with_parts(stretch: S, parts: tuple[Part, ...]) -> S:
    return stretch.model_copy(update={"parts": parts})


def _with_pump(plan: Plan, name: str, **keys: object) -> Plan:
    pump = plan.pumps[name].model_copy(update=keys)
    return plan.model_copy(update={"pumps": {**plan.pumps, name: pump}})


def _speeds(plan: Plan) -> Iterator[tuple[str, Plan]]:
    for name, pump in plan.running.items():
        top = pump.speed_range[1] if pump.speed_range else pump.speed
        if 0.0 < top < 1.0:
            free = {"speed_range": (pump.speed_range[0], 1.0)} if pump.speed_range else {}
            yield (
                f'run pump "{name}" at up to 100 %',
                _with_pump(plan, name, speed=1.0, **free),
            )


def _pumps(plan: Plan) -> Iterator[tuple[str, Plan]]:
    for name in plan.running:
        for candidate in plan.candidates:
            yield (
                f'pump "{_name(candidate)}" in place of "{name}"',
                plan.with_new_pumps(
                    {
                        name: plan.pumps[name].model_copy(
                            update={
                                "curve": candidate.curve,
                                "speed": 1.0,
                                "speed_range": candidate.speed_range,
                                "speed_step": candidate.speed_step,
                            }
                        )
                    }
                ),
            )


def _name(candidate: Candidate) -> str:
    return candidate.name or candidate.curve[0].curve.name


def _headers(plan: Plan) -> Iterator[tuple[str, Plan]]:
    sizes = {header.pipe.name for header in plan.headers}
    for size in sorted(sizes):
        wider = [
            header.model_copy(update={"pipe": bigger})
            if header.pipe.name == size and bigger
            else header
            for header in plan.headers
            for bigger in (larger(header.pipe),)
        ]
        bigger = next((larger(h.pipe) for h in plan.headers if h.pipe.name == size), None)
        if bigger is not None:
            which = _listed([h for h in plan.headers if h.pipe.name == size])
            yield f"{which} in {bigger.name}", plan.model_copy(update={"headers": tuple(wider)})


def _listed(headers: list[Header]) -> str:
    names = " and ".join(f'"{header.name}"' for header in headers)
    return f"header{'s' if len(headers) > 1 else ''} {names}"


def _larger(parts: tuple[Part, ...], where: str) -> Iterator[tuple[str, tuple[Part, ...]]]:
    """The stretch with its rigid pipe, and what has its size, one size larger."""
    pipe = next((part.pipe for part in parts if isinstance(part, PipePart)), None)
    bigger = None if pipe is None else larger(pipe)
    if pipe is not None and bigger is not None:
        yield f"{where} in {bigger.name}", tuple(_resized(part, pipe, bigger) for part in parts)
    narrow = next((part.hose for part in parts if isinstance(part, HosePart)), None)
    wider = None if narrow is None else _wider_hose(narrow)
    if narrow is not None and wider is not None:
        yield (
            f"{where} with {wider.name} hose for its {narrow.name}",
            tuple(_resized(part, narrow, wider) for part in parts),
        )


def _resized(part: Part, old: PipeSize, new: PipeSize) -> Part:
    if isinstance(part, PipePart) and part.pipe.name == old.name:
        return part.model_copy(update={"pipe": new})
    if isinstance(part, HosePart) and part.hose.name == old.name:
        return part.model_copy(update={"hose": new})
    factor = new.bore / old.bore
    if isinstance(part, FittingPart):
        near = [abs(side / old.bore - 1) < SAME_BORE for side in (part.bore_from, part.bore_to)]
        if any(near):
            return part.placed(
                bore=part.bore * factor,
                sides=(
                    part.bore_from * (factor if near[0] else 1.0),
                    part.bore_to * (factor if near[1] else 1.0),
                ),
                estimated=part.bore_is_estimate,
            )
        return part
    if isinstance(part, SizedPart) and part.bore and abs(part.bore / old.bore - 1) < SAME_BORE:
        return part.model_copy(update={"bore": part.bore * factor})
    return part


_HOSE_SIZES = ("3/8 in", "1/2 in", "5/8 in", "3/4 in", "1 in", "1 1/4 in")
_METRIC_HOSES = ("10 mm", "12 mm", "16 mm", "20 mm", "25 mm", "32 mm")


def _wider_hose(narrow: PipeSize) -> PipeSize | None:
    sizes = _METRIC_HOSES if "mm" in narrow.name else _HOSE_SIZES
    hoses = (hose(f"{size} {narrow.material}") for size in sizes)
    return next((wider for wider in hoses if wider.bore > narrow.bore * 1.05), None)


def _better(branch: Branch) -> Iterator[tuple[str, tuple[Part, ...]]]:
    where = f'branch "{branch.name}"'
    parts = branch.parts
    yield from _larger(parts, where)
    for place, part in enumerate(parts):
        rest = (parts[:place], parts[place + 1 :])
        if isinstance(part, ValvePart) and part.valve != FULL_PORT and part.table is None:
            full = part.model_copy(update={"valve": FULL_PORT, "k": None, "turns": None})
            yield (
                f"{where}: a full-port ball valve for its {part.valve} valve",
                (*rest[0], full, *rest[1]),
            )
        if isinstance(part, FittingPart) and part.fitting in ("elbow 90", "street elbow 90"):
            sweep = part.model_copy(update={"fitting": "sweep 90"})
            swept = sweep.placed(
                bore=part.bore,
                sides=(part.bore_from, part.bore_to),
                estimated=part.bore_is_estimate,
            )
            yield f"{where}: sweeps for its elbows", (*rest[0], swept, *rest[1])
        if isinstance(part, DevicePart) and part.fouled > 0.0:
            clean = part.model_copy(update={"fouled": 0.0})
            yield f"{where}: {part.device} cleaned", (*rest[0], clean, *rest[1])


def _shut(branch: Branch) -> Branch | None:
    """A branch without target that stands open, shut."""
    if branch.target is not None or branch.share is not None or branch.to is None:
        return None
    for place, part in enumerate(branch.parts):
        if isinstance(part, ValvePart) and not part.locked and part.open > 0.0:
            shut = part.model_copy(update={"open": 0.0})
            return branch.model_copy(
                update={"parts": (*branch.parts[:place], shut, *branch.parts[place + 1 :])}
            )
    return None
