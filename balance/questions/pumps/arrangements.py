"""A plan with other pumps in it: one in place of another, two in parallel, in series, at both ends.

Each arrangement is a plan like any that a person could write, read by nothing but the network.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from balance.errors import UsageError
from balance.plan.model import (
    AnyPart,
    Arrangement,
    Candidate,
    CheckPart,
    Header,
    Joint,
    Plan,
    Pump,
    PumpData,
    Run,
    Tap,
    ValvePart,
)

CHECK = (
    "swing"  # kind of check valve that each pump gets, the usual one; common practice, no source
)
LEAST_BORE = 0.0125  # [m], of a check valve where no pipe tells its size; our own choice


@dataclass(frozen=True)
class Arranged:
    """A plan with a candidate in it.

    Attributes
    ----------
    plan : to be solved
    pumps : names of those in it that the candidate is
    """

    plan: Plan
    pumps: tuple[str, ...]


def replaced_pumps(plan: Plan, name: str | None = None) -> tuple[str, ...]:
    """Names of the pumps that a candidate takes the place of: the one named, else all that run.

    Raises UsageError where there is no such pump, or none at all.
    """
    running = tuple(pump for pump, data in plan.pumps.items() if data.use != "change")
    if name is None:
        if not running:
            raise UsageError("this plan has no pump that another could take the place of")
        return running
    found = [pump for pump in running if pump.casefold() == name.casefold()]
    if not found:
        raise UsageError(f'no pump is called "{name}"; write one of {", ".join(running)}')
    return tuple(found)


def arranged(plan: Plan, candidate: Candidate, *, replaces: tuple[str, ...]) -> Arranged:
    """The plan with a candidate in place of some of its pumps, as the candidate is arranged.

    Raises UsageError where the plumbing has no place for two.
    """
    plan = plan.with_new_pumps({name: _as(plan.pumps[name], candidate) for name in replaces})
    if candidate.arrangement == "single":
        return Arranged(plan, replaces)
    if len(replaces) != 1:
        raise UsageError(
            f'"{candidate.label}" shall be two ({candidate.arrangement}) in place of '
            f"{len(replaces)} pumps; say which one of them it replaces: "
            + " or ".join(f'--replace "{name}"' for name in replaces)
        )
    arrange: dict[Arrangement, Callable[[Plan, str], Plan]] = {
        "parallel": _in_parallel,
        "series": _in_series,
        "both ends": _at_both_ends,
    }
    two = arrange[candidate.arrangement](plan, replaces[0])
    return Arranged(two, tuple(name for name in two.pumps if name not in plan.pumps) + replaces)


def _as(pump: Pump, candidate: Candidate) -> Pump:
    """A pump with a candidate's data, new and at its top speed, where the pump stood."""
    data = {key: getattr(candidate, key) for key in PumpData.model_fields}
    top = 1.0 if candidate.speed_range is None else candidate.speed_range[1]
    return pump.model_copy(update={**data, "speed": top, "wear": 0.0})


def _in_parallel(plan: Plan, pump: str) -> Plan:
    names = _Names(plan)
    foot = plan.pumps[pump].to
    plan, into = _place_for_two(plan, pump, names)
    second = names.new(f"{pump} 2")
    outlets = {name: names.new(f"{name} outlet") for name in (pump, second)}
    checks = [
        Run.model_construct(
            name=names.new(f"{name} check"),
            from_=outlet,
            to=into,
            parts=(_check(plan, foot),),
            high_point=None,
            use="always",
        )
        for name, outlet in outlets.items()
    ]
    both = {name: _leading(plan.pumps[pump], to=outlet) for name, outlet in outlets.items()}
    return _with_side(
        _with_pumps(plan, both).model_copy(update={"runs": (*plan.runs, *checks)}),
        into,
        checks[1].name,
    )


def _in_series(plan: Plan, pump: str) -> Plan:
    names = _Names(plan)
    first = plan.pumps[pump]
    second = names.new(f"{pump} 2")
    middle, outlet = names.new(f"{pump} outlet"), names.new(f"{second} outlet")
    check = Run.model_construct(
        name=names.new(f"{second} check"),
        from_=outlet,
        to=first.to,
        parts=(_check(plan, first.to),),
        high_point=None,
        use="always",
    )
    both = {
        pump: _leading(first, to=middle),
        second: first.model_copy(update={"from_": middle, "to": outlet, "intake": None}),
    }
    renamed = _with_side(plan, first.to, check.name, instead_of=pump)
    return _with_pumps(renamed, both).model_copy(update={"runs": (*renamed.runs, check)})


def _at_both_ends(plan: Plan, pump: str) -> Plan:
    open_ended = [header for header in plan.headers if header.to is None]
    if len(open_ended) != 1 or len(plan.headers) != 1:
        raise UsageError(
            "both ends: that takes one header, fed at one end; write the two pumps into the plan "
            'itself, each to its end: from = "..." and to = "..." of the header'
        )
    names = _Names(plan)
    header = open_ended[0]
    second = names.new(f"{pump} 2")
    outlets = {name: names.new(f"{name} outlet") for name in (pump, second)}
    far = names.new(f"{header.name} far end")
    riser = tuple(_again(plan, _way(plan, plan.pumps[pump].to, header.from_), names))
    ends = {pump: plan.pumps[pump].to, second: far}
    checks = [
        Run.model_construct(
            name=names.new(f"{name} check"),
            from_=outlets[name],
            to=ends[name],
            parts=(_check(plan, plan.pumps[pump].to), *(() if name == pump else riser)),
            high_point=None,
            use="always",
        )
        for name in (pump, second)
    ]
    closed = header.model_copy(update={"to": far, "taps": tuple(_closing(header))})
    both = {name: _leading(plan.pumps[pump], to=outlet) for name, outlet in outlets.items()}
    renamed = _with_side(plan, plan.pumps[pump].to, checks[0].name, instead_of=pump)
    return _with_pumps(renamed, both).model_copy(
        update={"runs": (*renamed.runs, *checks), "headers": (closed,)}
    )


def _closing(header: Header) -> Iterator[Tap]:
    """Taps of a header whose last one is a tee too, with the way on to its far end."""
    *before, last = header.taps
    yield from before
    yield last.model_copy(update={"end": None})
    yield Tap.model_construct(branch=None, after=last.after, side_size=None, parts=(), end=None)


def _way(plan: Plan, start: str, end: str) -> tuple[AnyPart, ...]:
    """Parts of the runs that lead from one joint to another without a choice between."""
    parts: list[AnyPart] = []
    here, passed = start, {start}
    while here != end:
        onward = [run for run in plan.runs if run.from_ == here]
        if len(onward) != 1 or onward[0].to in passed:
            raise UsageError(
                f'both ends: more than one way leads from "{start}" to the header; write the two '
                "pumps into the plan itself"
            )
        parts += onward[0].parts
        here = onward[0].to
        passed.add(here)
    return tuple(parts)


def _again(plan: Plan, parts: tuple[AnyPart, ...], names: _Names) -> Iterator[AnyPart]:
    """The same parts a second time, valves with names of their own."""
    called = {id(ref.part): ref.name for ref in plan.valves()}
    for part in parts:
        if isinstance(part, ValvePart):
            yield part.model_copy(update={"name": names.new(f"{called[id(part)]} 2")})
        else:
            yield part


class _Names:
    """Names that nothing in a plan has yet."""

    def __init__(self, plan: Plan) -> None:
        self.taken = {
            name.casefold()
            for name in (
                *plan.vessels,
                *plan.pumps,
                *plan.joints,
                *(end for pump in plan.pumps.values() for end in (pump.from_, pump.to)),
                *(each.name for each in (*plan.stretches(), *plan.headers)),
                *(valve.name for valve in plan.valves()),
                *(end for run in plan.runs for end in (run.from_, run.to)),
            )
        }

    def new(self, name: str) -> str:
        """The name, or the same with a number that makes it new."""
        found, count = name, 1
        while found.casefold() in self.taken:
            count += 1
            found = f"{name} ({count})"
        self.taken.add(found.casefold())
        return found


def _leading(pump: Pump, *, to: str) -> Pump:
    return pump.model_copy(update={"to": to})


def _with_pumps(plan: Plan, pumps: dict[str, Pump]) -> Plan:
    return plan.model_copy(update={"pumps": {**plan.pumps, **pumps}})


def _with_side(plan: Plan, joint: str, side: str, *, instead_of: str | None = None) -> Plan:
    """The plan with a side leg named for a joint's tee; `instead_of`: only where that was it."""
    spec = plan.joints.get(joint, Joint())
    if instead_of is not None and spec.side != instead_of:
        return plan
    joints = {**plan.joints, joint: spec.model_copy(update={"side": side})}
    return plan.model_copy(update={"joints": joints})


def _place_for_two(plan: Plan, pump: str, names: _Names) -> tuple[Plan, str]:
    """The joint at which two pumps meet, made where the pump's own joint has no room for both."""
    foot = plan.pumps[pump].to
    if foot in plan.vessels:
        raise UsageError(f'"{pump}" pumps straight into "{foot}": there is no pipe for two to meet')
    spec = plan.joints.get(foot)
    if _legs(plan, foot) == 2 and (spec is None or spec.side is None):
        return plan, foot
    meeting = names.new(f"{pump} together")
    way = Run.model_construct(
        name=names.new(f"{meeting} to {foot}"),
        from_=meeting,
        to=foot,
        parts=(),
        high_point=None,
        use="always",
    )
    plan = _with_side(plan, foot, way.name, instead_of=pump)
    return plan.model_copy(update={"runs": (*plan.runs, way)}), meeting


def _legs(plan: Plan, joint: str) -> int:
    """How many ends of pumps, runs, headers and branches meet at a joint."""
    ends: list[str | None] = [end for pump in plan.pumps.values() for end in (pump.from_, pump.to)]
    ends += [end for run in plan.runs for end in (run.from_, run.to)]
    ends += [end for header in plan.headers for end in (header.from_, header.to)]
    ends += [end for branch in plan.branches for end in (branch.from_, branch.to)]
    return ends.count(joint)


def _check(plan: Plan, joint: str) -> CheckPart:
    """A check valve of the size of what goes on from a joint."""
    bore = next((bore for bore in _bores(plan, joint) if bore > 0.0), LEAST_BORE)
    return CheckPart.model_validate({"check": CHECK, "bore": f"{bore * 1e3:.4f} mm"})


def _bores(plan: Plan, joint: str) -> Iterator[float]:
    for run in plan.runs:
        if joint in (run.from_, run.to) and run.parts:
            yield run.parts[0 if run.from_ == joint else -1].bore_from
    for header in plan.headers:
        if joint in (header.from_, header.to):
            yield header.pipe.bore
    for branch in plan.branches:
        if branch.from_ == joint and branch.parts:
            yield branch.parts[0].bore_from
