"""Pumps to compare, as words of a command line name them: files, folders, patterns, families."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

import numpy as np

from balance.errors import Fault, PlanError, QuantityError, UsageError
from balance.parts.pumps import PumpCurve
from balance.plan.curve_words import AT, curve_family, family_words
from balance.plan.curves import EXAMPLE, is_curve
from balance.plan.fields import SPEED
from balance.plan.model import Arrangement, Candidate, CurvePoints, Plan
from balance.units import parse_range

PATTERN_MARKS = "*?["

ONE_SPEED = "fixed"

SpeedsGiven = tuple[float, float] | None


@dataclass(frozen=True)
class CandidatesRead:
    """Pumps that some words name.

    Attributes
    ----------
    candidates : in the order of the words, each once
    skipped : files of folders and patterns that hold no sound curve, each with its first fault, in
        words
    """

    candidates: tuple[Candidate, ...]
    skipped: tuple[str, ...] = ()


class _Named(NamedTuple):
    """A pump that a word names, and whether outright: not as one of a folder or pattern."""

    name: str
    files: list[str]
    outright: bool


def read_candidates(
    words: Sequence[str], *, plan: Plan, speeds: str | None = None
) -> CandidatesRead:
    """Read the pumps that some words name.

    Parameters
    ----------
    words
        Files of curves, folders of them, patterns such as ``curves/*.csv``, families such as
        ``slow.csv@60%+fast.csv@100%``.
    plan
        What it says of a candidate of the same curve (speeds, price) is taken from there; of others
        the speeds that its own pump may be set to.
    speeds
        What all pumps named here may be set to instead: ``"40 %..100 %"``, or ``"fixed"``.

    Raises
    ------
    UsageError
        If the words name no curve, or the speeds make no sense.
    PlanError
        With every fault of every file that is named outright, or of all where none is sound.
    """
    given = None if speeds is None else (_speeds(speeds),)
    found: list[Candidate] = []
    faults: list[Fault] = []
    unsound: list[PlanError] = []
    for name, files, outright in _named(words):
        try:
            curve = curve_family(files)
        except PlanError as error:
            if outright:
                faults += error.faults
            else:
                unsound.append(error)
            continue
        found.append(_candidate(name, curve, plan, given))
    if not found:
        faults += [fault for error in unsound for fault in error.faults]
    if faults:
        raise PlanError(tuple(dict.fromkeys(faults)))
    return CandidatesRead(tuple(_once(found)), tuple(dict.fromkeys(map(_skipped, unsound))))


def _skipped(error: PlanError) -> str:
    """What is said of a file that is left out."""
    first, *more = error.faults
    line = "" if first.line is None else f"line {first.line}: "
    place = f"{first.path}: " if first.path else ""
    others = f" (and {len(more)} more)" if more else ""
    return f"{first.file} is left out: {line}{place}{first.problem}{others}"


def same_curves(one: tuple[CurvePoints, ...], other: tuple[CurvePoints, ...]) -> bool:
    """Whether two pumps have the same measured curves, and draw the same watts."""
    return len(one) == len(other) and all(
        a.speed == b.speed
        and np.array_equal(a.curve.flow, b.curve.flow)
        and np.array_equal(a.curve.head, b.curve.head)
        and _same_power(a.curve, b.curve)
        for a, b in zip(one, other, strict=True)
    )


def _same_power(one: PumpCurve, other: PumpCurve) -> bool:
    if one.power is None or other.power is None:
        return one.power is other.power
    return np.array_equal(one.power, other.power)


def _named(words: Sequence[str]) -> Iterator[_Named]:
    """Each pump that the words name."""
    for word in words:
        path, files = Path(word), family_words(word)
        if path.is_dir() or (_is_pattern(word) and not path.exists()):
            for each in _paths(word):
                yield _Named(each.stem, [str(each)], outright=False)
        elif AT in word and not path.exists():
            yield _Named(Path(files[0].rpartition(AT)[0] or files[0]).stem, files, outright=True)
        else:
            yield _Named(Path(files[0]).stem, files, outright=True)


def _paths(word: str) -> list[Path]:
    """The files of a folder or pattern."""
    path = Path(word)
    if path.is_dir():
        tables = (file for file in sorted(path.iterdir()) if file.suffix.casefold() == ".csv")
        curves = [file for file in tables if is_curve(file)]
        if not curves:
            raise UsageError(
                f'the folder "{word}" holds no pump curve; a curve is a CSV file that begins with '
                f"{EXAMPLE}"
            )
        return curves
    matching = sorted(Path(path.anchor).glob(str(path.relative_to(path.anchor))))
    if not matching:
        raise UsageError(f'no file fits "{word}"')
    return matching


def _is_pattern(word: str) -> bool:
    return any(mark in word for mark in PATTERN_MARKS)


def _speeds(text: str) -> SpeedsGiven:
    if text.strip().casefold() == ONE_SPEED:
        return None
    try:
        low, high = parse_range(text, "speed ratio")
    except QuantityError as error:
        raise _no_speeds(text, error.problem) from error
    if not 0.0 < low <= high <= SPEED.most:
        raise _no_speeds(text, "that is no range from a lower to a higher speed")
    return low, high


def _no_speeds(text: str, problem: str) -> UsageError:
    return UsageError(
        f'--speeds "{text}": {problem}; write "40 %..100 %", or "{ONE_SPEED}" for pumps of one '
        "speed"
    )


def _candidate(
    name: str, curve: tuple[CurvePoints, ...], plan: Plan, given: tuple[SpeedsGiven] | None
) -> Candidate:
    known = [each for each in plan.candidates if same_curves(each.curve, curve)]
    if known:
        own = known[0]
    else:
        pump = next(iter(plan.running.values()), None)
        own = Candidate.model_construct(
            name=name,
            curve=curve,
            speed_range=_measured(curve) or (None if pump is None else pump.speed_range),
            speed_step=None if pump is None else pump.speed_step,
        )
    return own if given is None else own.model_copy(update={"speed_range": given[0]})


def _measured(curve: tuple[CurvePoints, ...]) -> SpeedsGiven:
    """Speeds between which a family was measured; of one curve none are known."""
    speeds = [points.speed for points in curve]
    return (min(speeds), max(speeds)) if len(speeds) > 1 else None


def _once(found: Sequence[Candidate]) -> Iterator[Candidate]:
    """Every pump once, however often it is named; two of one name told apart by number."""
    kept: list[Candidate] = []
    for each in found:
        if any(same_curves(each.curve, other.curve) for other in kept):
            continue
        names = [other.label for other in kept]
        name, count = each.label, 1
        while name in names:
            count += 1
            name = f"{each.label} ({count})"
        kept.append(each if name == each.label else each.model_copy(update={"name": name}))
    yield from kept


def arranged_as(
    candidates: Sequence[Candidate], ways: Sequence[Arrangement]
) -> tuple[Candidate, ...]:
    """Every candidate in each of some arrangements, once."""
    kept: list[Candidate] = []
    for each in candidates:
        if not any(
            same_curves(each.curve, other.curve) and each.speed_range == other.speed_range
            for other in kept
        ):
            kept.append(each)
    return tuple(
        candidate.model_copy(update={"arrangement": way})
        for candidate in kept
        for way in dict.fromkeys(ways)
    )
