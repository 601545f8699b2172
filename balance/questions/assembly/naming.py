"""From a part of the plan to the element that stands for it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import cast

from balance.parts import sockets
from balance.parts.ends import Form, ends_of
from balance.parts.pipes import PipeSize
from balance.parts.sockets import Body
from balance.plan.locate import Path
from balance.plan.model import (
    CheckPart,
    DevicePart,
    FittingPart,
    HosePart,
    InletPart,
    LossPart,
    OutletPart,
    Part,
    PipePart,
    SizedPart,
    ValvePart,
)
from balance.questions.assembly.elements import Element, End, Family
from balance.questions.assembly.sizes import Sizes

UNIONS = {"union": 1, "true union body": 1}
PLUMBING = ("socket", "spigot", "female thread", "male thread", "fits", "slips in")
"""Forms of end that a plan may make otherwise."""


def elements_of(parts: Sequence[Part], sizes: Sequence[Sizes], path: Path) -> Iterator[Element]:
    """The elements of a stretch in order of the water, so many of each as the plan counts.

    A bare loss coefficient is no thing that one can buy, nor is the end of a pipe.
    """
    for at, (part, (begin, finish)) in enumerate(zip(parts, sizes, strict=True)):
        element = _element(part, begin, finish, (*path, "parts", at))
        if element is None:
            continue
        side_by_side = isinstance(part, OutletPart)
        yield from [element] * (1 if side_by_side else part.count)


def _element(part: Part, begin: PipeSize, finish: PipeSize, path: Path) -> Element | None:
    if isinstance(part, PipePart):
        form: Form = "spigot" if part.ends is None else "male thread"
        end = End(form, begin, 0.0, 0.0)
        return Element("pipe", "pipe", end, end, length=part.length, path=path)
    if isinstance(part, HosePart):
        end = End("hose", begin, 0.0, 0.0)
        return Element("hose", "hose", end, end, length=part.length, path=path)
    if isinstance(part, LossPart) or not isinstance(part, SizedPart):
        return None
    kind, family, body, forms = _what(part, begin, finish)
    if "open" in forms and set(forms) <= {"open"}:
        return None
    true_union = isinstance(part, ValvePart | CheckPart) and part.true_union
    return Element(
        f"true-union {kind}" if true_union else kind,
        family,
        _end(part, forms[0], begin, body, kind),
        _end(part, forms[1], finish, body, kind),
        count=part.count if isinstance(part, OutletPart) else 1,
        unions=2 if true_union else UNIONS.get(kind, 0),
        reversible=part.ends is None
        and forms[0] != forms[1]
        and begin.trade_size == finish.trade_size
        and isinstance(part, FittingPart)
        and not part.is_barb,
        path=path,
    )


def _what(
    part: SizedPart, begin: PipeSize, finish: PipeSize
) -> tuple[str, Family, Body, tuple[Form, Form]]:
    """What it is called, and how its ends are made."""
    if isinstance(part, ValvePart):
        return f"{part.valve} valve", "valve", "valve", _as_told(part, ("socket", "socket"))
    if isinstance(part, CheckPart):
        # The rule of three quarters is of plain ones; those with unions have sockets as valves do.
        body: Body = "valve" if part.true_union else "check valve"
        kind = f"{part.check} check valve"
        return kind, "check valve", body, _as_told(part, ("socket", "socket"))
    if isinstance(part, DevicePart):
        return part.device, "device", "fitting", _as_told(part, ("fits", "fits"))
    if isinstance(part, OutletPart):
        forms = _as_told(part, ends_of("outlet", part.outlet))
        return part.outlet, "nozzle", "fitting", forms
    if isinstance(part, InletPart):
        forms = _as_told(part, ends_of("inlet", part.inlet))
        return part.inlet, "fitting", "fitting", forms
    if not isinstance(part, FittingPart):
        raise TypeError(type(part))
    first, second = ends_of("fitting", part.fitting)
    large_last = part.fitting == "bushing" and (begin.outside or begin.bore) < (
        finish.outside or finish.bore
    )
    hose_first = part.is_barb and not begin.series and bool(finish.series)
    forms = (second, first) if large_last or hose_first else (first, second)
    body = "valve" if part.fitting in UNIONS else "fitting"
    return part.fitting, "fitting", body, _as_told(part, forms)


def _as_told(part: SizedPart, forms: tuple[Form, Form]) -> tuple[Form, Form]:
    """The forms of two ends, as the plan tells them where it does.

    What is screwed into other parts has a male thread where the plan says only "thread".
    """
    if part.ends is None:
        return forms
    screwed_in = isinstance(part, OutletPart | InletPart) or (
        isinstance(part, FittingPart) and part.fitting in ("barb", "adapter")
    )
    natural = "male thread" if screwed_in else "female thread"
    told = [natural if end == "thread" else end for end in part.ends]
    first, second = (
        cast("Form", new) if usual in PLUMBING else usual
        for new, usual in zip(told, forms, strict=True)
    )
    return first, second


def _end(part: SizedPart, form: Form, size: PipeSize, body: Body, kind: str) -> End:
    depth = depth_of(form, size, body, told=part.socket)
    if part.take_out is not None:
        return End(form, size, depth, part.take_out)
    usual = kind if body == "fitting" or kind in UNIONS else body
    return centred(End(form, size, depth), kind=usual)


def centred(end: End, *, kind: str) -> End:
    """An end with the usual distance from the centre of its kind of part to its bottom."""
    known = sockets.take_out(end.size, kind=kind)
    if known is None:
        return end
    return replace(end, take_out=known.length, estimated=known.estimate)


def depth_of(
    form: Form, size: PipeSize, body: Body = "fitting", *, told: float | None = None
) -> float | None:
    """How far pipe goes into an end [m]; zero where it does not, None where nothing tells.

    Parameters
    ----------
    told : by the plan [m]
    """
    if form in ("socket", "fits"):
        if told is not None:
            return told
        socket = sockets.socket(size, body=body)
        return None if socket is None else socket.depth
    if form == "female thread":
        thread = sockets.thread_depth(size.trade_size)
        return told if thread is None else thread.depth
    return 0.0
