"""Pump curves named on a command line: `pump.csv`, or a family `pump-100.csv+pump-60.csv@60%`."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import chain
from pathlib import Path

from balance.errors import Fault, PlanError, QuantityError
from balance.parts.families import CurvePoints
from balance.plan.curves import read_curve
from balance.plan.fields import SPEED
from balance.units import parse

AT = "@"
BETWEEN = "+"
PLAN = ".toml"  # how the name of a plan file ends

_NEXT = re.compile(r"(\.csv\s*|@[^@+]+)\+", re.IGNORECASE)  # a + in a name ends no file


def family_words(word: str) -> list[str]:
    """Split a word that names the files of one pump, with ``+`` between them.

    A ``+`` counts where a file ends before it, with ``.csv`` or with its speed, so that names may
    hold one; a file that is there by the whole word is that file.
    """
    if Path(word).exists():
        return [word]
    return [part.strip() for part in _NEXT.sub(r"\1\n", word).split("\n")]


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
    if not word:
        raise QuantityError(word, "no file stands beside a +", 'write "full.csv+slow.csv@60%"')
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
        See `family_words` and `split_word`; a file without a speed was measured at full speed.

    Raises
    ------
    PlanError
        With every fault of all the words and files.
    """
    found: dict[float, CurvePoints] = {}
    words_at: dict[float, list[str]] = {}
    faults: list[Fault] = []
    for word in chain.from_iterable(map(family_words, words)):
        try:
            file, speed = split_word(word)
        except QuantityError as error:
            faults.append(Fault(word or BETWEEN, None, "", error.problem, error.remedy))
            continue
        n = 1.0 if speed is None else speed
        words_at.setdefault(n, []).append(word)
        if len(words_at[n]) > 1:
            continue
        try:
            found[n] = CurvePoints(read_curve(file), n)
        except PlanError as error:
            faults += _of(file, error)
    faults += [_same_speed(same, n) for n, same in words_at.items() if len(same) > 1]
    if faults:
        raise PlanError(tuple(faults))
    return tuple(found[n] for n in sorted(found, reverse=True))


def _same_speed(words: Sequence[str], speed: float) -> Fault:
    """The fault of files that are several pumps, or one without its speeds."""
    first, second, *more = words
    others = f" and {len(more)} more" if more else ""
    return Fault(
        second,
        None,
        "",
        f'a second curve at {100 * speed:g} % speed, beside "{first}"{others}',
        "several pumps are compared by `balance pumps PLAN FILE...`; several files of one pump are "
        f'written each with the speed at which it was measured: "{split_word(second)[0]}@60%"',
    )


def _of(file: Path, error: PlanError) -> Iterator[Fault]:
    """The faults of a file, named as it was on the command line."""
    if file.suffix.casefold() == PLAN and file.is_file():
        yield Fault(
            str(file),
            None,
            "",
            "this is a plan, and a pump curve is wanted",
            "name a CSV file such as pump.csv",
        )
        return
    for fault in error.faults:
        remedy = fault.remedy
        if file.is_dir():
            remedy = (
                "name a curve in it; all pumps of a folder are compared by "
                "`balance pumps PLAN FOLDER`"
            )
        elif fault.line is None and not file.exists():
            remedy = "file names count from the folder you are in"
        yield replace(fault, file=str(file), remedy=remedy)
