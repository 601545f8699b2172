"""Pumps to compare, as words of a command line name them: files, folders, patterns, families."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path

import numpy as np

from balance.errors import Fault, PlanError, QuantityError, UsageError
from balance.parts.pumps import PumpCurve
from balance.plan.curve_words import AT, curve_family
from balance.plan.curves import EXAMPLE, is_curve
from balance.plan.fields import SPEED
from balance.plan.model import Arrangement, Candidate, CurvePoints, Plan
from balance.units import parse_range

FAMILY_MARK = "+"
"""Between the files of one family: ``slow.csv@60%+fast.csv@100%``."""

PATTERN_MARKS = "*?["

ONE_SPEED = "fixed"

SpeedsGiven = tuple[float, float] | None


def read_candidates(
    words: Sequence[str], *, plan: Plan, speeds: str | None = None
) -> tuple[Candidate, ...]:
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
        With every fault of every file.
    """
    given = None if speeds is None else (_speeds(speeds),)
    found: list[Candidate] = []
    faults: list[Fault] = []
    for name, files in _families(words):
        try:
            curve = curve_family(files)
        except PlanError as error:
            faults += error.faults
            continue
        found.append(_candidate(name, curve, plan, given))
    if faults:
        raise PlanError(tuple(dict.fromkeys(faults)))
    return tuple(_once(found))


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


def _families(words: Sequence[str]) -> Iterator[tuple[str, list[str]]]:
    """Each pump's name with the words of its files."""
    for word in words:
        if AT in word and not Path(word).exists() and not _is_pattern(word):
            files = [part.strip() for part in word.split(FAMILY_MARK)]
            yield Path(files[0].rpartition(AT)[0] or files[0]).stem, files
            continue
        for path in _paths(word):
            yield path.stem, [str(path)]


def _paths(word: str) -> list[Path]:
    """The curve files that a word names."""
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
    if path.exists() or not _is_pattern(word):
        return [path]
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
        pump = next(iter(plan.pumps.values()), None)
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
