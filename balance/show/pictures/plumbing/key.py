"""The key at the foot of the sheet: what the handles and the widths of pipes say."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from balance.show.pictures.canvas import lines_of
from balance.show.pictures.plumbing.scheme import Gauge, Scheme
from balance.show.pictures.plumbing.tags import NAME, QUARTERS, Text
from balance.show.pictures.plumbing.things import BARS, Dial, Pipe, State, Words
from balance.units import SYSTEMS, UnitSystem

SAMPLE, ROW, SPACE = 28.0, 34.0, 22.0
SHARES = (1.0, 0.25, 0.04)  # of the greatest flow: full, half and a fifth of its width


@dataclass(frozen=True)
class _Entry:
    text: Text
    pipe: tuple[float, State, bool] | None = None  # width, state, light
    dial: bool = False

    @property
    def width(self) -> float:
        sample = 0.0 if self.pipe is None and not self.dial else SAMPLE + 8.0
        return sample + self.text.width


def key_of(
    scheme: Scheme, title: str, left: float, right: float, top: float
) -> tuple[list[Words], list[Pipe], list[Dial], float]:
    """Lay the key out in as many rows as it takes; give its lower edge too."""
    words, pipes, dials = [], [], []
    x, y = left, top + 22.0
    for entry in _entries(scheme, title, right - left):
        if x > left and x + entry.width > right:
            x, y = left, y + ROW
        at = x
        if entry.pipe is not None:
            width, state, light = entry.pipe
            pipes.append(Pipe(((x, y), (x + SAMPLE, y)), width, state, light, BARS))
            at += SAMPLE + 8.0
        if entry.dial:
            dials.append(Dial(x + 4.0, y + 9.0, 0.6, QUARTERS, locked=False))
            at += SAMPLE + 8.0
        text = entry.text
        words.append(Words(at, y + 4.5, text.text, text.size, text.bold, text.role))
        x += entry.width + SPACE
    return words, pipes, dials, y + 22.0


def _entries(scheme: Scheme, title: str, room: float) -> Iterator[_Entry]:
    gauge, system = scheme.gauge, SYSTEMS[scheme.works.plan.units]
    for line in lines_of(title, NAME, room=min(room, 420.0), most=1, bold=True):
        yield _Entry(Text(line, NAME, bold=True))
    if any(cell.valve for column in scheme.columns for cell in column.cells):
        yield _Entry(
            Text("handle, from shut (across the pipe) to open (along it)", role="soft"), dial=True
        )
    yield from _widths(gauge, system)
    states = [(column.state, column.line.light) for column in scheme.columns]
    states += [
        (gauge.state(flow), bundle.light) for bundle in scheme.bundles for flow in bundle.flows
    ]
    if any(state == "dry" for state, _ in states):
        yield _Entry(Text("nothing flows", role="soft"), pipe=(4.0, "dry", False))
    if any(state == "unknown" and not light for state, light in states):
        yield _Entry(Text("not reckoned", role="soft"), pipe=(4.0, "unknown", False))
    if any(light for _, light in states):
        yield _Entry(Text("for water changes", role="soft"), pipe=(4.0, "unknown", True))


def _widths(gauge: Gauge, system: UnitSystem) -> Iterator[_Entry]:
    if gauge.most <= 0.0:
        return
    for share in SHARES:
        flow = gauge.most * share
        said = Text(system.text(flow, "flow", 2), role="soft")
        yield _Entry(said, pipe=(gauge.width(flow), "wet", False))
