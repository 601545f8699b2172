"""The nominal size at both ends of each part of a stretch, and the kind of pipe it goes with."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from functools import cache
from math import isclose

from balance.errors import BalanceError
from balance.parts import pipes
from balance.parts.pipes import PipeSize
from balance.plan.model import FittingPart, HosePart, Part, PipePart, Plan

Sizes = tuple[PipeSize, PipeSize]

INCH_SERIES, METRIC_SERIES = "sch 40", ("PN16", "PN10")
"""What fittings go with where a plan names no pipe: as in `balance.parts.pipes.nominal_bore`."""


def usual_series(plan: Plan) -> str:
    """The series of pipe that a plan names most often; empty where it names none."""
    named: Counter[str] = Counter(header.pipe.series for header in plan.headers)
    for parts in (
        *(stretch.parts for stretch in plan.stretches()),
        *(tap.parts for header in plan.headers for tap in header.taps),
    ):
        named.update(part.pipe.series for part in parts if isinstance(part, PipePart))
    named.pop("", None)
    return max(named, key=lambda series: named[series], default="")


@cache  # a plan asks for few sizes many times, and a size that is not made takes a search
def sized(text: str, *, series: str) -> PipeSize:
    """The pipe of a size, in a series if it is made in that one.

    Parameters
    ----------
    text : as a plan has it: "3/4 in", or a size and a series, "3/4 in sch 80"
    series : of the pipe beside it; empty where there is none
    """
    for name in (text, *(f"{text} {made}" for made in (series, INCH_SERIES, *METRIC_SERIES))):
        try:
            return pipes.pipe(name)
        except BalanceError:
            continue
    return pipes.pipe(f"{text} bore")


def sizes_of(parts: Sequence[Part], *, hung_on: PipeSize | None, series: str) -> list[Sizes]:
    """The sizes at both ends of each part of a stretch.

    Parameters
    ----------
    hung_on : size of the tee or pipe that the stretch begins at; None at a vessel
    series : of pipe that the plan uses most, for a stretch without pipe
    """
    return [_of_part(at, parts, hung_on=hung_on, series=series) for at in range(len(parts))]


def _of_part(at: int, parts: Sequence[Part], *, hung_on: PipeSize | None, series: str) -> Sizes:
    part = parts[at]
    if isinstance(part, PipePart):
        return part.pipe, part.pipe
    if isinstance(part, HosePart):
        return part.hose, part.hose
    known = _pipes_near(at, parts, hung_on)
    beside = next((size.series for size in known if size.series), series)
    texts = [text for text in (_text(part, "size"), _text(part, "to")) if text]

    def at_bore(bore: float) -> PipeSize:
        for text in texts:
            if isclose(pipes.nominal_bore(text), bore, rel_tol=1e-9):
                return sized(text, series=beside)
        for size in known:
            if isclose(size.bore, bore, rel_tol=1e-9):
                return size
        return _by_bore(bore, series=beside)

    if isinstance(part, FittingPart) and part.is_barb:
        return _barb(at, part, parts, at_bore)
    # The bore of a nozzle's or a reduced part's own passage is no size by which it is joined.
    if texts and not isinstance(part, FittingPart):
        only = sized(texts[0], series=beside)
        return only, only
    begin, finish = at_bore(part.bore_from), at_bore(part.bore_to)
    return (begin, finish) if isinstance(part, FittingPart) else (begin, begin)


def _text(part: Part, key: str) -> str | None:
    value = getattr(part, key, None)
    return value if isinstance(value, str) else None


def _barb(
    at: int, part: FittingPart, parts: Sequence[Part], at_bore: Callable[[float], PipeSize]
) -> Sizes:
    """A barb: its hose where the hose is, else where its bores say."""
    first = at > 0 and isinstance(parts[at - 1], HosePart)
    beside = parts[at - 1] if first else parts[at + 1] if at + 1 < len(parts) else None
    if part.hose is not None:
        hose = pipes.hose(part.hose)
    elif isinstance(beside, HosePart):
        hose = beside.hose
    else:
        hose = next(other.hose for other in parts if isinstance(other, HosePart))
    turned = first or (
        not isinstance(beside, HosePart) and isclose(part.bore_from, hose.bore, rel_tol=1e-9)
    )
    plumbing = at_bore(part.bore_to if turned else part.bore_from)
    return (hose, plumbing) if turned else (plumbing, hose)


def _pipes_near(at: int, parts: Sequence[Part], hung_on: PipeSize | None) -> list[PipeSize]:
    """Pipes of a stretch, those before a part first, the nearest first; then what it hangs on."""
    before = [part.pipe for part in reversed(parts[:at]) if isinstance(part, PipePart)]
    after = [part.pipe for part in parts[at:] if isinstance(part, PipePart)]
    return [*before, *after, *([] if hung_on is None else [hung_on])]


def _by_bore(bore: float, *, series: str) -> PipeSize:
    """The size that has this bore: of the series, of one by which fittings go, or a bare one."""
    for made in (series, INCH_SERIES, *METRIC_SERIES):
        for size in pipes.series().get(made, ()):
            if isclose(size.bore, bore, rel_tol=1e-9):
                return sized(size.trade_size, series=series)
    return pipes.pipe(f"{bore * 1000.0:g} mm bore")
