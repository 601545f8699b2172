"""Valve openings: what a hand reads off a handle, as a fraction of travel from shut."""

from __future__ import annotations

import re
from fractions import Fraction
from typing import Literal, Protocol

from balance.errors import QuantityError

Handle = Literal["degrees", "turns", "percent"]

QUARTER_TURN = 90.0
"""Degrees of travel of a handle that turns by a quarter."""

_RATIO = r"\d+/[1-9]\d*"
_NUMBER = (
    rf"(?P<whole>\d+)(?:\s+(?P<part>{_RATIO}))?|(?P<only>{_RATIO})|(?P<decimal>\d*\.\d+|\d+\.)"
)
_OPENING = re.compile(rf"(?:{_NUMBER})\s*(?P<unit>[a-z°%]+)", re.IGNORECASE)
_DEGREES = ("deg", "degree", "degrees", "°")
_TURNS = ("turn", "turns")
_PERCENT = ("%", "percent", "pct")


class HasHandle(Protocol):
    """What a valve tells about its handle."""

    @property
    def handle(self) -> Handle:
        """How the handle is read."""

    @property
    def turns(self) -> float | None:
        """Turns from shut to full, if known."""


def parse_opening(text: str, valve: HasHandle) -> float:
    """Read how far a valve is open.

    Parameters
    ----------
    text
        ``"45 deg"``, ``"30 %"`` of travel, ``"3 turns"``, ``"1 1/8 turns"``, ``"shut"`` or
        ``"full"``, all counted from shut.
    valve
        The valve (a part of a plan) whose handle it is.

    Returns
    -------
    float
        Fraction of the handle's travel, 0 (shut) to 1 (full).

    Raises
    ------
    QuantityError
        If the text is no opening, or none that this handle has.
    """
    return fraction(text, handle=valve.handle, turns=valve.turns)


def fraction(text: str, *, handle: Handle, turns: float | None) -> float:
    """Read an opening as `parse_opening` does, for a handle given by its kind and its turns."""
    folded = " ".join(text.split()).casefold()
    if folded in ("shut", "closed"):
        return 0.0
    if folded in ("full", "open"):
        return 1.0
    match = _OPENING.fullmatch(folded)
    if len(folded) > 40 or not match:
        raise QuantityError(
            text,
            f'"{text[:40]}" is not a valve opening',
            'write "45 deg", "30 %", "3 turns", "shut" or "full"',
        )
    return _within(match, text, handle=handle, turns=turns)


def offset(text: str, *, handle: Handle, turns: float | None) -> float:
    """Read a part of a handle's travel that may be negative: ``"-1.4 deg"``, ``"0.05 turns"``."""
    folded = " ".join(text.split()).casefold()
    sign = -1.0 if folded.startswith("-") else 1.0
    match = _OPENING.fullmatch(folded.removeprefix("-").lstrip())
    if len(folded) > 40 or not match:
        raise QuantityError(
            text,
            f'"{text[:40]}" is not a part of a handle\'s travel',
            'write "1.4 deg", "-2 %" or "0.05 turns"',
        )
    return sign * _within(match, text, handle=handle, turns=turns)


def parse_nudge(text: str, valve: HasHandle) -> float:
    """Read how far a handle is moved from where it stands, as a part of its travel.

    Parameters
    ----------
    text
        ``"+2 deg"``, ``"-1/8 turn"``: an opening with a sign before it.
    valve
        The valve whose handle it is.

    Raises
    ------
    QuantityError
        If the text is no such move. One that is longer than all of its travel is not refused.
    """
    folded = " ".join(text.split()).casefold()
    sign = -1.0 if folded.startswith(("-", "−")) else 1.0
    match = _OPENING.fullmatch(folded[1:].lstrip())
    if len(folded) > 40 or not match:
        raise QuantityError(
            text,
            f'"{text[:40]}" is not a move of a handle',
            'write "+2 deg", "-3 %" or "-1/8 turn"',
        )
    return sign * _share(match, text, handle=valve.handle, turns=valve.turns)


def _within(match: re.Match[str], text: str, *, handle: Handle, turns: float | None) -> float:
    """Give a share of travel as `_share` does, but none beyond full."""
    share = _share(match, text, handle=handle, turns=turns)
    if share > 1.0 + 1e-9:
        raise QuantityError(
            text,
            f'"{text}" is beyond full',
            f'the most is "{_full(match["unit"], turns)}", or "full"',
        )
    return min(share, 1.0)


def _share(match: re.Match[str], text: str, *, handle: Handle, turns: float | None) -> float:
    """Give how much of its travel a number of degrees, turns or percent takes a handle."""
    number = float(
        sum(
            Fraction(match[group]) for group in ("whole", "part", "only", "decimal") if match[group]
        )
    )
    return number / _travel(match["unit"], text, handle=handle, turns=turns)


def words_of(opening: float, valve: HasHandle) -> str:
    """An opening [ratio] as a hand reads it off the handle of a valve: "48 deg", "30 %"."""
    if valve.handle == "degrees":
        return opening_words(opening, handle="degrees", travel=QUARTER_TURN)
    if valve.handle == "turns" and valve.turns is not None:
        return opening_words(opening, handle="turns", travel=valve.turns)
    return opening_words(opening, handle="percent", travel=100.0)


def opening_words(opening: float, *, handle: Handle, travel: float) -> str:
    """An opening as a hand reads it: "48 deg", "3 1/8 turns", "30 %", "shut", "full".

    Parameters
    ----------
    opening
        Share of the travel, from shut.
    travel
        In the handle's unit.
    """
    if opening <= 0.0:
        return "shut"
    if opening >= 1.0 - 1e-9:
        return "full"
    amount = opening * travel
    if handle == "turns":
        return _turns(amount)
    return f"{amount:.3g} {'deg' if handle == 'degrees' else '%'}"


def _turns(amount: float) -> str:
    """Whole turns and their parts, down to a 32nd: "3 1/8 turns", "1/2 turn"."""
    parts = Fraction(round(amount * 32), 32)
    if abs(float(parts) - amount) > 1e-6:
        return f"{amount:.3g} turns"
    whole, part = divmod(parts, 1)
    said = " ".join(str(piece) for piece in (whole, part) if piece)
    return f"{said} turn" if parts <= 1 else f"{said} turns"


def _travel(unit: str, text: str, *, handle: Handle, turns: float | None) -> float:
    """Give how much of a unit takes the handle from shut to full."""
    if unit in _PERCENT:
        return 100.0
    if unit in _DEGREES:
        if handle == "degrees":
            return QUARTER_TURN
        raise QuantityError(
            text,
            f'"{text}": this valve opens by more than a quarter turn, which degrees do not tell',
            'write turns ("3 turns", with turns = 6 for all of its travel) or percent ("50 %")',
        )
    if unit in _TURNS:
        if turns is not None:
            return turns
        if handle == "degrees":
            raise QuantityError(
                text,
                f'"{text}": this valve opens by a quarter turn, 90 degrees',
                'write degrees from shut ("45 deg") or percent ("50 %")',
            )
        raise QuantityError(
            text,
            f'"{text}": how many turns open this valve in full is not said',
            "add turns = 6 (count them) to the valve, or write percent of travel",
        )
    raise QuantityError(
        text,
        f'"{text}": "{unit}" does not measure an opening',
        'write "45 deg", "30 %" of travel, "3 turns", "shut" or "full"',
    )


def _full(unit: str, turns: float | None) -> str:
    if unit in _PERCENT:
        return "100 %"
    return "90 deg" if unit in _DEGREES else f"{turns:g} turns"
