"""The next step of a walk: which handle to turn and how far, what to read, or that it is done.

Every branch is read once before any handle is turned: that settles the pump, and which branch is
hardest to feed.  Then pumps get their speed, and each handle its mark, in the order in which what
is set is disturbed least by what is set after it.  What the bucket then says of the branch renews
the fit, and the handle is nudged to what the branch should carry *at that step*, with the others
where they stand.  When all have been set, the fit says how likely it is that all targets are met;
while that is not likely enough, the branches are read whose flow is in doubt, and then that handle
is nudged, or that speed is set, by which most targets may be expected to be met.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from balance.questions.learning.handles import nudge_spread
from balance.questions.speeds import is_free, speed_range, step_of
from balance.questions.tune.chances import Chances, chances_of, within_after
from balance.questions.tune.goal import LEFT_OPEN, goal_of
from balance.questions.tune.order import least_disturbed
from balance.questions.tune.turns import NUDGES
from balance.questions.tune.view import View, step_by, within_stops

Kind = Literal["read", "read again", "odd", "move", "nudge", "speed", "done", "stuck"]

SURE = 0.9  # chance that all are within tolerance, at which a walk ends; our own choice
WORTH = 1.2  # times what a hand is off, that a nudge must be to be worth it; our own choice
TRIMMED = 0.01  # of a flow, that is near enough; our own choice
GAIN = 0.03  # aims within tolerance in the mean, that a turn must gain; our own choice
DOUBT = 0.15  # chance of being out, or in, from which a branch is read first; our own choice
REPEATS = 3  # readings of one branch while nothing is moved, at the most; our own choice
ODD = (
    3.5  # standard deviations of a hand, by which a turn is off that is read again; our own choice
)
HOPELESS = 0.02  # chance, with targets that cannot be had, from which nothing helps; our own choice
STRAY = 4.0  # standard deviations, by which a reading is off that is read again; our own choice
SPEED_STEPS = (-2, -1, 1, 2)  # of a pump's speed, that are tried; our own choice


@dataclass(frozen=True)
class Step:
    """What to do next.

    Attributes
    ----------
    kind : read, read again (the last reading does not fit), odd (nor does what the last turn did),
        move (set a handle to a mark), nudge, speed, done, or stuck: nothing helps
    name : of the branch to read, the valve, or the pump
    place : of the valve or pump in the network; -1 for none
    to : mark [of travel], or speed, to set it to
    by : how far that is from where it stands
    flow : what its branch should then carry [m³/s]
    chances : as everything stands; None while handles have not all been set
    """

    kind: Kind
    name: str = ""
    place: int = -1
    to: float = 0.0
    by: float = 0.0
    flow: float | None = None
    chances: Chances | None = None


def next_step(view: View) -> Step:
    """The next step of a walk."""
    if (stray := _stray(view)) is not None:
        return stray
    if not view.turns.moved and (step := _first(view)) is not None:
        return step
    fresh = [
        column
        for column, name in enumerate(view.goal.valves)
        if name not in view.turns.moved
        and name not in view.skipped
        and abs(view.gaps[column]) > LEFT_OPEN
    ]
    if not fresh:
        return _correction(_with_goal_of_now(view) if view.goal.unmet else view)
    last = _free_nudge(view)
    if last is not None and _worth(view, last):
        return _turn(view, "nudge", last)
    return _turn(view, "move", least_disturbed(view, fresh))


def _free_nudge(view: View) -> int | None:
    """Column of the handle that was turned last, if it may be nudged once more within its move."""
    if view.turns.last in view.goal.valves and view.turns.nudges < NUDGES:
        return view.goal.valves.index(view.turns.last)
    return None


def _stray(view: View) -> Step | None:
    """The last reading once more, where it does not fit what was read before."""
    observations = view.learnt.experiment.observations
    # Of a level or of watts nothing is asked on a walk.
    if not observations or observations[-1].kind not in ("bucket", "meter", "dry"):
        return None
    off = float(view.learnt.regression.residuals[-1])
    branch = view.network.layout.runs[observations[-1].run].owner
    repeats = view.repeats.get(branch, 0)
    if branch in view.skipped or repeats >= REPEATS:
        return None
    if abs(off) > STRAY:
        return Step("read again", branch)
    if repeats == 1 and _is_odd(view):
        return Step("odd", branch)
    return None


def _is_odd(view: View) -> bool:
    """Whether the last nudge, by what was read, did what no hand does by mistake."""
    if not view.turns.last:
        return False
    place = [valve.name for valve in view.network.valves].index(view.turns.last)
    errors = view.stand.errors[place]
    if len(errors) < 2:
        return False  # set to a mark: what is off may as well be the valve's curve
    unknowns = view.learnt.unknowns
    error = float(view.learnt.z[unknowns.first_setting + errors[-1]])
    return abs(error) > ODD * unknowns.settings[errors[-1]].sd


def _with_goal_of_now(view: View) -> View:
    """The walk to the best flows by what is known now: those of its beginning fell short."""
    return replace(view, goal=goal_of(view.network))


def _first(view: View) -> Step | None:
    """Reading every branch that is asked something, and then setting the pumps."""
    network = view.network
    asked = {name for aim in view.goal.aims for name in aim.branches}
    for branch in network.plan.branches:
        if branch.name in asked and branch.name not in view.read | view.skipped:
            return Step("read", branch.name)
    pumps = zip(network.machines, view.stand.speeds, view.goal.speeds, strict=True)
    for place, (machine, stands, to) in enumerate(pumps):
        if abs(to - stands) > 0.5 * step_of(machine):
            return Step("speed", machine.name, place, to=to, by=to - stands)
    return None


def _worth(view: View, column: int) -> bool:
    """Whether a hand can better what is off by turning a valve."""
    valve = view.network.valves[view.turned[column]]
    by = float(view.by[column])
    off = nudge_spread(valve, view.network.plan.spread, by)
    return abs(by) > WORTH * off and abs(float(view.gaps[column])) > TRIMMED


def _turn(view: View, kind: Kind, column: int, chances: Chances | None = None) -> Step:
    place = int(view.turned[column])
    by = float(view.by[column])
    return Step(
        kind,
        view.network.valves[place].name,
        place,
        to=view.stand.openings[place] + by,
        by=by,
        flow=float(view.then[column]),
        chances=chances,
    )


def _correction(view: View) -> Step:
    """What to do once every handle has been set."""
    speeds = _other_speeds(view)
    chances = chances_of(view, steps=speeds)
    if chances.met >= SURE:
        return Step("done", chances=chances)
    for name in _without_water(view):
        return Step("read", name, chances=chances)
    able = [
        column
        for column, name in enumerate(view.goal.valves)
        if name not in view.skipped and _worth(view, column)
    ]
    gains = chances.turned - chances.within
    last = _free_nudge(view)
    if last in able and gains[last] > GAIN:
        return _turn(view, "nudge", last, chances)
    doubtful = _doubtful(view, chances)
    unread = {
        name: doubtful[name]
        for name in _not_read(view, doubtful)
        if DOUBT < doubtful[name] < 1.0 - DOUBT
    }
    if unread:
        return Step("read", max(unread, key=lambda name: unread[name]), chances=chances)
    best = max(able, key=lambda column: gains[column], default=None)
    gain = 0.0 if best is None else float(gains[best])
    faster = max(chances.faster, key=lambda each: each[2], default=None)
    if faster is not None and faster[2] - chances.within > max(gain, GAIN):
        pump, speed, _ = faster
        machine = view.network.machines[pump]
        by = speed - view.stand.speeds[pump]
        return Step("speed", machine.name, pump, to=speed, by=by, chances=chances)
    if best is not None and gain > GAIN:
        return _turn(view, "nudge", best, chances)
    if view.goal.unmet and chances.met < HOPELESS:
        # That nothing helps is what the fit says: what was last read otherwise is read once more.
        name = max(_not_read(view, doubtful), key=lambda each: doubtful[each], default="")
        return Step("read", name, chances=chances) if name else Step("stuck", chances=chances)
    step = _together(view, chances, able) or _small_turn(view, chances)
    if step is not None:
        return step
    name = max(doubtful, key=lambda each: doubtful[each], default="")
    if name and doubtful[name] > 0.0:
        return Step("read", name, chances=chances)
    return Step("stuck", chances=chances)


def _without_water(view: View) -> Iterator[str]:
    """Branches that gave no water when they were last read, now that others are throttled."""
    last: dict[str, str] = {}
    for each in view.learnt.experiment.observations:
        if each.kind in ("bucket", "meter", "dry"):
            last[view.network.layout.runs[each.run].owner] = each.kind
    for name, kind in last.items():
        if kind == "dry" and not view.repeats.get(name) and name not in view.skipped:
            yield name


def _together(view: View, chances: Chances, able: Sequence[int]) -> Step | None:
    """The first step to where all would be well together, though none alone is better for it.

    That is another speed, or the handle whose branch is farthest off.
    """
    turns = [(column, float(view.by[column])) for column in able]
    gain = float(within_after(view, [turns])[0]) - chances.within if turns else 0.0
    goal = goal_of(view.network)
    faster = replace(view, goal=goal, stand=replace(view.stand, speeds=goal.speeds))
    if goal.speeds != view.stand.speeds and goal.valves == view.goal.valves:
        turns = [
            (column, by)
            for column, by in enumerate(faster.by.tolist())
            if goal.valves[column] not in view.skipped
        ]
        if float(within_after(faster, [turns])[0]) - chances.within > max(gain, 0.0) + GAIN:
            pumps = zip(view.network.machines, view.stand.speeds, goal.speeds, strict=True)
            for place, (machine, stands, to) in enumerate(pumps):
                if abs(to - stands) > 0.5 * step_of(machine):
                    by = to - stands
                    return Step("speed", machine.name, place, to=to, by=by, chances=chances)
    if gain <= GAIN:
        return None
    return _turn(view, "nudge", max(able, key=lambda column: abs(view.gaps[column])), chances)


def _small_turn(view: View, chances: Chances) -> Step | None:
    """A mark more or less of one handle, where that helps although its own aim does not ask it."""
    columns = [column for column, name in enumerate(view.goal.valves) if name not in view.skipped]
    turns = [(column, sign * step_by(view, column)) for column in columns for sign in (-1.0, 1.0)]
    turns = [(column, by) for column, by in turns if within_stops(view, column, by)]
    if not turns:
        return None
    gains = within_after(view, [(turn,) for turn in turns]) - chances.within
    best = int(np.argmax(gains))
    if gains[best] <= GAIN:
        return None
    column, by = turns[best]
    place = int(view.turned[column])
    valve = view.network.valves[place]
    openings = view.openings.copy()
    openings[place] += by
    return Step(
        "nudge",
        valve.name,
        place,
        to=view.stand.openings[place] + by,
        by=by,
        flow=float(view.flows(openings[:, None])[valve.run, 0]),
        chances=chances,
    )


def _doubtful(view: View, chances: Chances) -> dict[str, float]:
    """Branches that may be read once more, and the chance that they, or their total, are out."""
    found: dict[str, float] = {}
    for aim in view.goal.aims:
        for name in aim.branches:
            if view.repeats.get(name, 0) < REPEATS and name not in view.skipped:
                found[name] = max(found.get(name, 0.0), chances.out[aim.name])
    return found


def _not_read(view: View, doubtful: dict[str, float]) -> list[str]:
    """Branches that may be out, and were not read since anything was moved."""
    return [name for name, out in doubtful.items() if out > 0.0 and not view.repeats.get(name)]


def _other_speeds(view: View) -> tuple[tuple[int, float], ...]:
    """Steps of speed to either side of where free pumps turn, by place."""
    found = []
    for place, machine in enumerate(view.network.machines):
        if is_free(machine):
            low, high = speed_range(machine)
            for count in SPEED_STEPS:
                speed = view.stand.speeds[place] + count * step_of(machine)
                if low - 1e-9 <= speed <= high + 1e-9:
                    found.append((place, speed))
    return tuple(found)
