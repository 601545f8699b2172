"""A vessel with its drains: inlets at their heights, and where the water stands in each case."""

from __future__ import annotations

from typing import TYPE_CHECKING

from balance.questions.drains.answer import Case, Drains, VesselDrains
from balance.show.pictures.canvas import Picture, drawing, lines_of, sheet
from balance.show.pictures.palette import GLASS, INK, MARK, PAPER, RULE, SOFT, WATER
from balance.show.pictures.vessels import clear_of_each_other
from balance.show.words import bare
from balance.units import SYSTEMS, UnitSystem

if TYPE_CHECKING:
    from matplotlib.axes import Axes

WIDTH = 440
_MARGIN = 8.0
_RIGHT = 168.0  # wall of the vessel
_TOP = 34.0
_LINE = 16.0
_LEAST_HEIGHT = 190.0  # of the vessel
_BELOW = 0.35  # of the heights shown, that is drawn below the lowest inlet

FLOODS, MAY_FLOOD = "FLOODS", "MAY FLOOD"
NOTHING_BLOCKED, BLOCKED = "nothing blocked", "blocked"
RIM, AS_IT_STANDS = "rim", "as it stands"
UNBOUNDED = "no level holds it"


def drain_levels(answer: Drains) -> tuple[Picture, ...]:
    """Draw each vessel with drains: filled as it stands, its levels at the greatest inflow."""
    system = SYSTEMS[answer.plan.units]
    return tuple(_picture(vessel, system) for vessel in answer.vessels)


def _cases(vessel: VesselDrains) -> list[Case]:
    """Nothing blocked, each drain by itself, and the worst two, all at the greatest inflow."""
    blockages = dict.fromkeys(case.blocked for case in vessel.cases)
    cases = [vessel.judged(blocked, "greatest") for blocked in blockages]
    pairs = [case for case in cases if len(case.blocked) == 2]
    worst = sorted(pairs, key=lambda case: (case.overflow, case.level or 0.0))[-1:]
    return [case for case in cases if len(case.blocked) < 2] + worst


def _picture(vessel: VesselDrains, system: UnitSystem) -> Picture:
    cases, stands = _cases(vessel), vessel.as_it_runs.level
    inlets = [each.inlet for each in vessel.drains]
    levels = [case.level for case in (vessel.as_it_runs, *cases) if case.level is not None]
    rims = [] if vessel.rim is None else [vessel.rim]
    shown = [*inlets, *levels, *rims]
    span = max(max(shown) - min(shown), 0.01)
    low, high = min(shown) - _BELOW * span, max(shown) + 0.02 * span
    labels = _labels(vessel, cases, system)
    bottom = _TOP + max(_LEAST_HEIGHT, _LINE * (len(labels) + 1))
    lines = _listed(vessel, system)
    height = bottom + 30.0 + _LINE * len(lines)

    def y(at: float) -> float:
        return bottom - (bottom - _TOP) * (at - low) / (high - low)

    with drawing():
        figure, axes = sheet(WIDTH, height)
        axes.text(_MARGIN, 18, f"heights, {system.unit('length')}", size=12, color=SOFT)
        wall = y(high if vessel.rim is None else vessel.rim)
        across = (_MARGIN, _RIGHT, _RIGHT, _MARGIN)
        axes.fill(across, (bottom, bottom, wall, wall), color=GLASS, zorder=0)
        if stands is not None:
            axes.fill(across, (bottom, bottom, y(stands), y(stands)), color=WATER, zorder=1)
        for x in (_MARGIN, _RIGHT):
            axes.plot((x, x), (wall, bottom), color=INK, linewidth=2, zorder=4)
        _standpipes(axes, [y(inlet) for inlet in inlets], bottom)
        labels.sort(key=lambda each: -(high if each[0] is None else each[0]))
        places = [y(high if at is None else at) for at, _, _ in labels]
        clear = clear_of_each_other(places, _TOP, bottom, _LINE)
        for (at, words, colour), place, label in zip(labels, places, clear, strict=True):
            if at is not None:
                dashes = "-" if words.startswith((RIM, AS_IT_STANDS)) else "--"
                ends = (_MARGIN, _RIGHT)
                axes.plot(ends, (place, place), dashes, color=colour, linewidth=1.2, zorder=3)
            axes.plot((_RIGHT + 2, _RIGHT + 12), (place, label), color=RULE, linewidth=1)
            kept = "".join(lines_of(words, 12, room=WIDTH - _RIGHT - 24.0, most=1))
            axes.text(_RIGHT + 15, label, kept, size=12, color=colour, va="center_baseline")
        for number, line in enumerate(lines):
            kept = "".join(lines_of(line, 12, room=WIDTH - 2 * _MARGIN, most=1))
            axes.text(_MARGIN, bottom + 32 + _LINE * number, kept, size=12)
    said = "; ".join([*(words for _, words, _ in labels), *lines])
    return Picture(figure, f"{vessel.vessel}: drains and levels at the greatest inflow", f"{said}.")


def _standpipes(axes: Axes, inlets: list[float], bottom: float) -> None:
    room = (_RIGHT - _MARGIN) / max(1, len(inlets))
    half = min(7.0, 0.3 * room)
    for number, inlet in enumerate(inlets, start=1):
        x = _MARGIN + room * (number - 0.5)
        axes.fill(
            (x - half, x + half, x + half, x - half), (bottom, bottom, inlet, inlet),
            facecolor=PAPER, edgecolor=INK, linewidth=1.4, zorder=2,
        )  # fmt: skip
        if room > 14.0 or number % 3 == 1:
            axes.text(x, bottom + 14, str(number), size=12, color=SOFT, ha="center")


def _labels(
    vessel: VesselDrains, cases: list[Case], system: UnitSystem
) -> list[tuple[float | None, str, str]]:
    """Heights with their words and colours; none where nothing bounds the level."""
    labels: list[tuple[float | None, str, str]] = []
    if vessel.rim is not None:
        labels.append((vessel.rim, f"{RIM} {bare(system, vessel.rim, 'length')}", INK))
    stands = vessel.as_it_runs.level
    if stands is not None:
        labels.append((stands, f"{AS_IT_STANDS} {bare(system, stands, 'length')}", INK))
    numbers = {each.drain: str(number) for number, each in enumerate(vessel.drains, start=1)}
    for case in cases:
        blocked = " and ".join(numbers[name] for name in case.blocked)
        words = f"{blocked} {BLOCKED}" if blocked else NOTHING_BLOCKED
        level = UNBOUNDED if case.level is None else bare(system, case.level, "length")
        if case.floods:
            verdict = FLOODS if case.surely else MAY_FLOOD
        else:
            verdict = "" if case.margin is None else f"{bare(system, case.margin, 'length')} left"
        said = f"{words}: {level}, {verdict}" if verdict else f"{words}: {level}"
        labels.append((case.level, said, MARK if case.floods else SOFT))
    return labels


def _listed(vessel: VesselDrains, system: UnitSystem) -> list[str]:
    lines = [
        f"{number} {each.role}, inlet {bare(system, each.inlet, 'length')}: {each.drain}"
        for number, each in enumerate(vessel.drains, start=1)
    ]
    for gate in vessel.gates:
        if gate.covered and gate.aim.opening is not None:
            window = f"{gate.wet.mark} to {gate.dry.mark}"
            lines.append(f"set to about {gate.aim.mark}, from {window}: {gate.valve}")
    return lines
