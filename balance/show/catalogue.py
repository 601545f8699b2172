"""Parts that a plan may use, kind by kind, and the sources of their figures."""

from __future__ import annotations

from collections.abc import Iterator

from rich.text import Text

from balance.questions.catalogue import Catalogue
from balance.questions.catalogue.answer import KnownPart
from balance.show.page import Column
from balance.show.terminal import page
from balance.show.words import bare, percent
from balance.units import SYSTEMS, UnitSystem, significant

_HEADINGS = {
    "pipe": "Pipe",
    "hose": "Hose",
    "fitting": "Fittings",
    "valve": "Valves",
    "check": "Check valves",
    "inlet": "Ways in from a vessel",
    "outlet": "Ways out into a vessel or the open",
    "tee": "Tees and wyes",
    "device": "Devices",
    "k": "Anything else",
}

_MOST_NAMES = 6


def show(answer: Catalogue) -> None:
    """Prints a table and what stands behind it for each kind, then the sources in full."""
    system = SYSTEMS[answer.units]
    with page() as to:
        to.title(f"Parts that a plan may use{_asked(answer)}")
        to.print(_how_stated(answer, system), style="dim")
        for kind in dict.fromkeys(part.kind for part in answer.parts):
            listed = [part for part in answer.parts if part.kind == kind]
            to.print()
            to.heading(_HEADINGS[kind])
            to.table(_columns(system), (_row(part, system) for part in listed))
            to.listing(_behind(listed))
        to.section("Sources", (f"{key}: {source}" for key, source in answer.sources.items()))


def _asked(answer: Catalogue) -> str:
    return f": {' '.join(answer.words)}" if answer.words else ""


def _how_stated(answer: Catalogue, system: UnitSystem) -> str:
    """What the figures that are shown count, and where they hold."""
    velocity = system.text(answer.velocity, "velocity")
    said = []
    if any(part.gradient is not None for part in answer.parts):
        head = system.unit("head")
        warmth = system.text(answer.temperature, "temperature")
        said.append(
            f'"Carries" and "loses", head in 100 {head} of it, are at {velocity} of salt water; '
            f'"stands" is at {warmth} with plain ends.'
        )
    if any(part.k is not None for part in answer.parts):
        half = any(part.k_half is not None for part in answer.parts)
        said.append(
            f"K counts velocity heads at {velocity} of salt water in {answer.pipe}"
            + (", of a valve wide open and half open" if half else "")
            + '; "as pipe" is the length of that pipe that loses as much.'
        )
    if any(part.spread is not None for part in answer.parts):
        said.append('"Print ±" is how far apart printed values lie.')
    return " ".join([*said, "Generic data: measure what matters."])


def _columns(system: UnitSystem) -> tuple[Column, ...]:
    head = system.unit("head")
    return (
        Column("written", "words"),
        Column("", "words"),
        Column(f"bore\n{system.unit('length')}"),
        Column(f"carries\n{system.unit('flow')}"),
        Column("loses\nin 100"),
        Column(f"stands\n{system.unit('pressure')}"),
        Column("K"),
        Column("K half\nopen"),
        Column(f"as pipe\n{head}"),
        Column("print\n±"),
        Column(f"opens\nat {head}"),
    )


def _row(part: KnownPart, system: UnitSystem) -> tuple[str, ...]:
    straight = part.gradient is not None
    return (
        part.written,
        part.name if part.kind == "tee" else "",
        bare(system, part.bore, "length", 4) if straight else "",
        bare(system, part.flow, "flow") if straight else "",
        significant(100.0 * part.gradient) if part.gradient is not None else "",
        bare(system, part.stands, "pressure") if part.stands is not None else "",
        significant(part.k) if part.k is not None else "",
        significant(part.k_half) if part.k_half is not None else "",
        bare(system, part.as_pipe, "head") if part.as_pipe is not None else "",
        percent(part.spread) if part.spread is not None else "",
        bare(system, part.opening_head, "head") if part.opening_head is not None else "",
    )


def _behind(parts: list[KnownPart]) -> Iterator[Text]:
    """What their losses depend on and who says so, parts of which the same holds together."""
    same: dict[tuple[str, str], list[str]] = {}
    for part in parts:
        same.setdefault((part.loss, part.source), []).append(part.name)
    for (loss, source), names in same.items():
        text = Text(f"{_joined(names)}: {loss}\n")
        yield text.append(source, style="dim")


def _joined(names: list[str]) -> str:
    """Names with commas between them; of a long row only the ends."""
    if len(names) <= _MOST_NAMES:
        return ", ".join(names)
    return f"{names[0]}, {names[1]} and so on to {names[-1]}"
