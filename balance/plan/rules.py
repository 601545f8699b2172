"""What must hold between the parts of a stretch and between the entries of a plan."""

from __future__ import annotations

from collections.abc import Container, Iterator, Mapping
from typing import Any

from balance.plan.fields import quoted
from balance.plan.likes import Complaint
from balance.plan.locate import Path
from balance.plan.model import (
    OUTSIDE,
    Branch,
    Drain,
    Header,
    InletPart,
    OutletPart,
    Pump,
    Run,
    Stretch,
    Table,
    ValvePart,
    Vessel,
    Weir,
)
from balance.plan.names import LEARNT_OF, entries, tables

Entries = Mapping[Path, Table]


def of_document(document: dict[str, Any]) -> Iterator[Complaint]:
    """Rules that hold whatever the values, such as one valve to turn in a stretch."""
    for section in ("runs", "branches"):
        for path, entry in entries(document, section):
            yield from _one_free_valve(entry.get("parts"), path)
    for path, header in entries(document, "headers"):
        for at, tap in tables(header.get("taps")):
            yield from _one_free_valve(tap.get("parts"), (*path, "taps", at))
    if isinstance(learnt := document.get("learnt"), dict):
        yield from _learnt_numbers(learnt.get("numbers"))
    if not document.get("vessels"):
        yield (
            (),
            "a plan needs a vessel",
            'write [vessels.sump] and below it level = "9 in" and the like',
        )


def _one_free_valve(parts: object, path: Path) -> Iterator[Complaint]:
    free = [
        index for index, part in tables(parts) if "valve" in part and part.get("locked") is not True
    ]
    for index in free[1:]:
        yield (
            (*path, "parts", index),
            "a second valve to turn in one stretch: how far each is open would be anybody's guess",
            "write locked = true on the one that stays as it is",
        )


def _learnt_numbers(numbers: object) -> Iterator[Complaint]:
    """A learnt number says of what it is, once, and how it goes with each of those above it."""
    known: set[tuple[str, str]] = set()
    for index, number in tables(numbers):
        path = ("learnt", "numbers", index)
        of, name = str(number.get("of")), number.get("name")
        kind = LEARNT_OF.get(of)
        if kind is not None and name is None:
            yield path, "name is missing", f"name the {kind} of this plan that it tells of"
        elif of in LEARNT_OF:
            if kind is None and name is not None:
                yield (*path, "name"), f"{of} stands once for the whole plan", "take name out"
            key = (of, "" if kind is None else str(name).casefold())
            if key in known:
                what = of if kind is None else f"{of} of {quoted(name)}"
                yield path, f"{what} stands here for the second time", "keep one of the two"
            known.add(key)
        correlations = number.get("with")
        if isinstance(correlations, list) and len(correlations) not in (0, index):
            yield (
                (*path, "with"),
                f"{index} numbers stand above, and correlations with {len(correlations)} are given",
                "write one for each of those, or take with out",
            )


def of_entries(
    found: Entries, *, names: Container[str], told: Container[Path]
) -> Iterator[Complaint]:
    """Rules between the values of sound entries.

    Parameters
    ----------
    found
        Those entries.
    names
        Of all vessels, sound or not.
    told
        Paths of which something was said already: what follows from it is not said as well.
    """
    vessels = {path[1]: item for path, item in found.items() if isinstance(item, Vessel)}
    for path, item in found.items():
        if isinstance(item, Run | Branch | Drain):
            yield from _order(item, path, names, told)
            yield from _heights(item, path, vessels)
        if isinstance(item, Drain | Weir):
            yield from _edge(item, path, vessels)
        if isinstance(item, Vessel):
            spills = [w for w in found.values() if isinstance(w, Weir) and w.from_ == path[1]]
            yield from _crest(item, path, twice=bool(spills))
        if isinstance(item, Branch):
            yield from _wishes(item, path)


def _order(
    item: Run | Branch | Drain, path: Path, names: Container[str], told: Container[Path]
) -> Iterator[Complaint]:
    """Inlets come first and outlets last, and both belong to a vessel."""
    last = len(item.parts) - 1
    for index, part in enumerate(item.parts):
        here = (*path, "parts", index)
        if isinstance(part, InletPart):
            if index > 0:
                yield here, "an inlet is the first part of its stretch", "move it to the front"
            elif item.from_ not in names and (*path, "from") not in told:
                yield (
                    here,
                    "an inlet takes water from a vessel, and this begins in a joint",
                    "take it out",
                )
        if isinstance(part, OutletPart):
            if index < last:
                yield here, "an outlet is the last part of its stretch", "move it to the end"
            elif item.to is None:
                yield (
                    here,
                    "an outlet on a branch without `to`, which is a capped spare",
                    'say where it ends, to = "sump"',
                )
            elif item.to not in names and item.to != OUTSIDE and (*path, "to") not in told:
                yield (
                    here,
                    f'an outlet gives water to a vessel, and this ends in the joint "{item.to}"',
                    "take it out, or let the stretch end in a vessel",
                )


def _heights(
    item: Run | Branch | Drain, path: Path, vessels: Mapping[str | int, Vessel]
) -> Iterator[Complaint]:
    """An outlet lies where its vessel's water lets it."""
    last = len(item.parts) - 1
    outlet = item.parts[last] if item.parts else None
    here = (*path, "parts", last) if isinstance(outlet, OutletPart) else path
    if not isinstance(outlet, OutletPart):
        outlet = None
    if item.to == OUTSIDE and (outlet is None or not outlet.is_free):
        yield (
            here,
            "it ends outside, where there is no water, at no stated height of its own"
            if outlet is None or outlet.height is None
            else "it ends outside, where nothing is submerged",
            'end its parts with { outlet = "free", height = "62 in" }',
        )
    vessel = vessels.get(item.to or "")
    if outlet is None or vessel is None:
        return
    if outlet.is_free and (outlet.height or 0.0) < vessel.level:
        yield (
            (*here, "height"),
            f'a free outlet below the water surface of "{item.to}"',
            'write outlet = "submerged", or raise it; all heights count from one datum'
            if outlet.outlet == "free"
            else "give its depth instead of its height, or raise it; all heights count from one "
            "datum",
        )
    if (
        outlet.depth is not None
        and outlet.siphon_break is not None
        and outlet.siphon_break > outlet.depth
    ):
        yield (
            (*here, "siphon_break"),
            "the hole lies below the outlet that it should keep from siphoning",
            "both count down from the water surface: give it less than depth",
        )
    if (
        outlet.depth is not None
        and vessel.bottom is not None
        and vessel.level - outlet.depth < vessel.bottom
    ):
        yield (
            (*here, "depth"),
            f'this is below the bottom of "{item.to}"',
            "depth counts down from the water surface",
        )


def _edge(
    item: Drain | Weir, path: Path, vessels: Mapping[str | int, Vessel]
) -> Iterator[Complaint]:
    """Water leaves a vessel above its bottom, and over a weir before it is at the rim."""
    if item.from_ == item.to:
        yield (*path, "to"), "it ends where it begins", "name the vessel that gets the water"
    vessel = vessels.get(item.from_)
    key, height = ("crest", item.crest) if isinstance(item, Weir) else ("inlet", item.inlet)
    if vessel is None or height is None:
        return
    here = (*path, key)
    if isinstance(item, Weir) and vessel.rim is not None and height >= vessel.rim:
        yield (
            here,
            f'this is not below the rim of "{item.from_}", which would spill before',
            "all heights count from one datum, not from the vessel's own floor",
        )
    if vessel.bottom is not None and height < vessel.bottom:
        yield (
            here,
            f'this is below the bottom of "{item.from_}"',
            "all heights count from one datum, not from the vessel's own floor",
        )


def _crest(item: Vessel, path: Path, *, twice: bool) -> Iterator[Complaint]:
    """A vessel's own weir lies within it, and is told once."""
    if item.crest is None:
        return
    here = (*path, "crest")
    if twice:
        yield (
            here,
            "the weir of this vessel is told twice, here and under [[weirs]]",
            "keep the one under [[weirs]] if its overflow box is a vessel of its own",
        )
    if (item.rim is not None and item.crest >= item.rim) or (
        item.bottom is not None and item.crest < item.bottom
    ):
        yield (
            here,
            "the crest of its weir does not lie between its bottom and its rim",
            "all heights count from one datum, not from the vessel's own floor",
        )


def _wishes(item: Branch, path: Path) -> Iterator[Complaint]:
    low, high = item.limits
    target = item.target
    if item.to is None and (target is not None or item.share is not None):
        yield (
            (*path, "target" if target is not None else "share"),
            "a branch without `to` is a capped spare, and nothing flows through it",
            'say where it ends, to = "sump"',
        )
    if target is None:
        if item.tolerance is not None and item.share is None:
            yield (
                (*path, "tolerance"),
                "a tolerance without a target",
                'add target = "120 gph", or take it out',
            )
        return
    if item.share is not None and target.kind in ("flow", "range"):
        yield (
            (*path, "share"),
            "a share of the rest, beside a target that states the flow",
            'keep one; beside share only a bound may stand, target = ">= 100 gph"',
        )
    if target.low is not None and high is not None and target.low > high:
        yield (*path, "target"), "the target is above the branch's own limits", "change one of them"
    if target.high is not None and low is not None and target.high < low:
        yield (*path, "target"), "the target is below the branch's own limits", "change one of them"


_NOTHING_MOVES = (
    "no valve and no pump speed can move this flow: "
    "every valve is locked or there is none, and the speed is fixed"
)


def something_moves(found: Entries) -> Iterator[Complaint]:
    """A target is a wish only where something can be turned."""
    if any(isinstance(item, Pump) and item.speed_range is not None for item in found.values()):
        return
    wishing = [
        (path, item)
        for path, item in found.items()
        if isinstance(item, Branch) and (item.target is not None or item.share is not None)
    ]
    stretches: list[Stretch] = [item for _, item in wishing]
    stretches += [item for item in found.values() if isinstance(item, Run)]
    parts = [part for stretch in stretches for part in stretch.parts]
    parts += [
        part
        for item in found.values()
        if isinstance(item, Header)
        for tap in item.taps
        for part in tap.parts
    ]
    if any(isinstance(part, ValvePart) and not part.locked for part in parts):
        return
    for path, item in wishing:
        key = "target" if item.target is not None else "share"
        yield (
            (*path, key),
            _NOTHING_MOVES,
            'add a valve, unlock one, or give the pump speed_range = ["40 %", "100 %"]',
        )
