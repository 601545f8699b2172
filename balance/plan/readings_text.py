"""Logs of readings as text, in the form in which `balance.plan.readings` reads them."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import suppress
from decimal import Decimal
from functools import partial
from math import inf, nextafter
from pathlib import Path

from balance.errors import BalanceError, QuantityError, UsageError
from balance.plan.gauges import place
from balance.plan.log_sheet import COLUMNS
from balance.plan.model import Plan, ValvePart
from balance.plan.openings import QUARTER_TURN, words_of
from balance.plan.reading import GaugePlace, Reading, Turned
from balance.plan.standing import Standing
from balance.plan.whole import write_over
from balance.units import SYSTEMS, parse

_UNITS = {
    "volume": ("L", "gal", "imp gal", "qt", "m3"),
    "flow": ("gph", "L/h", "imp gph", "L/min", "gpm", "m3/s"),
    "length": ("in", "mm", "m"),
}
"""Units in which a number of few digits may have been written; in the last every number has one."""

_ENOUGH = 17  # digits, which tell any number from its neighbours
_LONGEST = 18  # characters of a number without exponent
_SAME = 1e-9  # of travel


def readings_text(plan: Plan, rows: Iterable[Reading]) -> str:
    """Write a log of readings; to read it gives the same rows.

    Quantities stand in the plan's units, or in others where those need fewer digits.

    Raises
    ------
    UsageError
        If the openings of a row do not follow from those above it and from what it turned.
    """
    standing = Standing(plan)
    lines = [",".join(COLUMNS)]
    for number, row in enumerate(rows, start=1):
        cells = {
            "branch": row.branch,
            "volume": _quantity(plan, row.volume, "volume"),
            "seconds": " ".join(_seconds(each) for each in row.seconds),
            "flow": _quantity(plan, row.flow, "flow"),
            "open": "; ".join(_turns(standing, row.turned)),
            "speed": "; ".join(_speeds(standing, row.speeds)),
            "head": _quantity(plan, row.head, "length"),
            "at": row.at and _place(plan, row.at),
            "watts": _watts(standing, row),
            "note": row.note,
        }
        _check(standing, row, number)
        lines.append(",".join(_cell(cells[column] or "") for column in COLUMNS))
    return "\n".join(lines) + "\n"


def save_readings(file: Path | str, plan: Plan, rows: Iterable[Reading]) -> None:
    """Write a log of readings to a file, whole or not at all, in place of what it held.

    Raises
    ------
    UsageError
        As `readings_text`; or if the file cannot be written, and then it is as it was.
    """
    write_over(Path(file), readings_text(plan, rows))


def _check(standing: Standing, row: Reading, number: int) -> None:
    """Insist that handles stand where the row says that they do."""
    for ref, opening, stands in zip(standing.valves, row.openings, standing.openings, strict=True):
        if stands is None or abs(opening - stands) > _SAME:
            raise UsageError(
                f'reading {number}: "{ref.name}" stands at {words_of(opening, ref.part)}, which '
                "does not follow from the readings above it and from what this one turned"
            )


def _seconds(value: float) -> str:
    return _of_fewest_digits(value, {"": 1.0}, lambda text: float(text) == value)


def _quantity(plan: Plan, value: float | None, dimension: str) -> str:
    if value is None:
        return ""
    units = (SYSTEMS[plan.units].unit(dimension), *_UNITS[dimension])
    return _shortest(value, units, dimension)


def _shortest(value: float, units: Iterable[str], dimension: str) -> str:
    """Write a value with fewest digits."""
    sizes = {unit: parse(f"1 {unit}", dimension) for unit in units}
    return _of_fewest_digits(value, sizes, lambda text: parse(text, dimension) == value)


def _of_fewest_digits(
    value: float, sizes: Mapping[str, float], is_it: Callable[[str], bool]
) -> str:
    """Give the number of fewest digits, with its unit, that is read as a value."""
    text = ""
    for digits in range(1, _ENOUGH + 1):
        for unit, size in sizes.items():
            text = f"{_digits(value / size, digits)} {unit}".strip()
            with suppress(QuantityError):
                if is_it(text):
                    return text
    for unit, size in sizes.items():  # a neighbour, where the change of units has blurred it
        for toward in (-inf, inf):
            near = f"{_digits(nextafter(value / size, toward), _ENOUGH)} {unit}".strip()
            with suppress(QuantityError):
                if is_it(near):
                    return near
    return text


def _digits(number: float, digits: int) -> str:
    scientific = f"{number:.{digits - 1}e}"
    text = f"{Decimal(scientific):f}"
    return text if len(text) <= _LONGEST else scientific


def _turns(standing: Standing, turned: Iterable[Turned]) -> Iterator[str]:
    """Say what was turned, and turn it."""
    for one in turned:
        at = standing.place(one.valve)
        sign, share = "", one.to
        if one.by == "nudge":
            move = one.to - (standing.openings[at] or 0.0)
            sign, share = "-" if move < 0.0 else "+", abs(move)
        is_it = partial(_brings, standing, at, sign, one.to)
        text = sign + _opening(share, standing.valves[at].part, is_it)
        words = f"{_name(one.valve)}={text}"
        standing.turn(words)
        yield words


def _brings(standing: Standing, at: int, sign: str, to: float, share: str) -> bool:
    """Tell whether a mark, or with a sign a nudge, brings a valve to an opening."""
    return standing.opening_after(at, sign + share) == to


def _opening(share: float, part: ValvePart, is_it: Callable[[str], bool]) -> str:
    """Write a share of travel as a hand reads it off the handle, if that is all of it."""
    with suppress(QuantityError):
        if is_it(words := words_of(share, part)):
            return words
    sizes = {"%": 0.01}
    if part.handle == "degrees":
        sizes = {"deg": 1.0 / QUARTER_TURN, **sizes}
    elif part.turns is not None:
        sizes = {"turns": 1.0 / part.turns, **sizes}
    text = _of_fewest_digits(share, sizes, is_it)
    return f"{100.0 * share:.17f} %" if "e-" in text else text


def _speeds(standing: Standing, speeds: tuple[float, ...]) -> Iterator[str]:
    """Say which speeds were changed, and change them."""
    alone = len(speeds) == 1
    for at, (pump, speed) in enumerate(zip(standing.pumps, speeds, strict=True)):
        if speed != standing.speeds[at]:
            text = _shortest(speed, ("%",), "speed ratio")
            standing.run(words := text if alone else f"{_name(pump)}={text}")
            yield words


def _watts(standing: Standing, row: Reading) -> str:
    if row.watts is None or row.pump is None:
        return ""
    text = _shortest(row.watts, ("W",), "power")
    return text if len(standing.pumps) == 1 else f"{_name(row.pump)}={text}"


def _place(plan: Plan, at: GaugePlace) -> str:
    """Write a place so that no name of another stretch is read instead of it."""
    name, number = _name(at.stretch), at.part + 1
    for text in (name, f"{name} {number}"):
        with suppress(BalanceError):
            if place(plan, text) == at:
                return text
    return f"{name} part {number}"


def _name(name: str) -> str:
    return " ".join(name.split())


def _cell(text: str) -> str:
    """Put a cell in quotation marks where it needs them; it keeps to one line."""
    text = "".join(each if each.isprintable() else " " for each in text).strip()
    if "," in text or '"' in text or text.startswith("#"):
        return '"' + text.replace('"', '""') + '"'
    return text
