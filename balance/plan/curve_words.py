"""Pump curves named on a command line: `pump.csv`, or a family `pump-100.csv pump-60.csv@60%`."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path

from balance.errors import Fault, PlanError, QuantityError
from balance.parts.families import CurvePoints
from balance.plan.curves import read_curve
from balance.plan.fields import SPEED
from balance.units import parse

AT = "@"


def split_word(word: str) -> tuple[Path, float | None]:
    """Split a word into a file and the speed at which its curve was measured.

    Parameters
    ----------
    word
        ``FILE`` or ``FILE@SPEED``, such as ``"x-60.csv@60 %"``. A file that is there by the whole
        word is that file; and what follows the last ``@`` is a speed only if it begins as a number
        or is nothing, so that names may hold an ``@``.

    Returns
    -------
    The file, and the speed as a ratio to full speed; None where the word has none.

    Raises
    ------
    QuantityError
        What follows the ``@`` is no speed, or no speed of a pump that turns.
    """
    file, at, text = word.rpartition(AT)
    text = text.strip()
    if not at or (text and not text[0].isdigit() and text[0] not in "+-.") or Path(word).exists():
        return Path(word), None
    remedy = f'write the speed at which it was measured, for example "{file or "pump.csv"}@60%"'
    if not file or not text:
        missing = "file" if not file else "speed"
        raise QuantityError(word, f'"{word}" has no {missing} beside its @', remedy)
    try:
        speed = parse(text, SPEED.dimension)
    except QuantityError as error:
        raise QuantityError(word, error.problem, remedy) from error
    if not 0.0 < speed <= SPEED.most:
        raise QuantityError(word, f'"{text}" is no speed of a pump that turns', remedy)
    return Path(file), speed


def curve_family(words: Sequence[str]) -> tuple[CurvePoints, ...]:
    """Read the curves of one pump, each measured at its speed, by falling speed.

    Parameters
    ----------
    words
        See `split_word`; a file without a speed was measured at full speed.

    Raises
    ------
    PlanError
        With every fault of all the words and files.
    """
    found: dict[float, CurvePoints] = {}
    words_at: dict[float, str] = {}
    faults: list[Fault] = []
    for word in words:
        try:
            file, speed = split_word(word)
        except QuantityError as error:
            faults.append(Fault(word, None, "", error.problem, error.remedy))
            continue
        n = 1.0 if speed is None else speed
        if n in words_at:
            faults.append(_same_speed(word, file, words_at[n], n))
            continue
        words_at[n] = word
        try:
            found[n] = CurvePoints(read_curve(file), n)
        except PlanError as error:
            faults += _of(file, error)
    if faults:
        raise PlanError(tuple(faults))
    return tuple(found[n] for n in sorted(found, reverse=True))


def _same_speed(word: str, file: Path, other: str, speed: float) -> Fault:
    return Fault(
        word,
        None,
        "",
        f'a second curve at {100 * speed:g} % speed, beside "{other}"',
        "several files are one pump measured at several speeds: write each with its own, for "
        f'example "{file}@60%"; another pump is asked for by itself',
    )


def _of(file: Path, error: PlanError) -> Iterator[Fault]:
    """The faults of a file, named as it was on the command line."""
    for fault in error.faults:
        gone = fault.line is None and not file.exists()
        yield replace(
            fault,
            file=str(file),
            remedy="file names count from the folder you are in" if gone else fault.remedy,
        )
