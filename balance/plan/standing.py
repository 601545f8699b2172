"""Where handles and pumps stand while a log of readings is followed from top to bottom."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator

from balance.errors import QuantityError, UnknownNameError
from balance.plan.fields import SPEED, nearest, quoted
from balance.plan.model import Plan
from balance.plan.names import fold
from balance.plan.openings import parse_nudge, parse_opening, words_of
from balance.plan.reading import Turned

AS_PLANNED = "as planned"
ALL = "all"

_SIGNS = ("+", "-", "−")
_HAIR = 1e-9  # of travel: nearer to a stop is at it


class Standing:
    """Openings of all valves and speeds of all running pumps, None where not known any more."""

    def __init__(self, plan: Plan) -> None:
        """Begin as planned."""
        self.plan = plan
        self.valves = plan.valves()
        self.openings: list[float | None] = [ref.part.open for ref in self.valves]
        self.pumps = tuple(plan.running)
        self.speeds: list[float | None] = [pump.speed for pump in plan.running.values()]
        self.turned: list[Turned] = []
        """What was moved since this list was emptied."""
        self._places = {fold(ref.name): at for at, ref in enumerate(self.valves)}

    # Valves

    def turn(self, words: str) -> None:
        """Turn handles as some words say: ``"carbon reactor=30 deg; refugium=+2 deg"``.

        Raises
        ------
        QuantityError, UnknownNameError
            Of the first words that make no sense. What stands before them is done already.
        """
        marked: set[int] = set()
        for number, item in enumerate(_items(words, (ref.name for ref in self.valves))):
            name, equals, text = (piece.strip() for piece in item.partition("="))
            if fold(item) == AS_PLANNED or (fold(name) == ALL and text and ALL not in self._places):
                if number:
                    raise QuantityError(
                        item,
                        f"{quoted(item)} undoes what stands before it",
                        "write it first, and after it what differs",
                    )
                self._turn_all(text)
                continue
            if not equals or not name or not text:
                raise QuantityError(
                    item, f"{quoted(item)} is not a valve and its opening", self._example()
                )
            at = self.place(name)
            ref = self.valves[at]
            if ref.part.locked:
                raise QuantityError(
                    item,
                    f'"{ref.name}" is locked in the plan, so that no hand turns it',
                    "take out locked = true there, or this opening here",
                )
            if at in marked and not is_nudge(text):
                raise QuantityError(item, f'"{ref.name}" is set twice', "keep one of the two")
            marked.add(at)
            self._move(at, text, self.opening_after(at, text))

    def _turn_all(self, text: str) -> None:
        """Set all that a hand can turn; as planned, and pumps too, where there is no text."""
        if not text:
            self.speeds = [pump.speed for pump in self.plan.running.values()]
        for at, ref in enumerate(self.valves):
            if ref.part.locked:
                continue
            to = self.opening_after(at, text, as_far_as_it_goes=True) if text else ref.part.open
            if to != self.openings[at]:
                self._move(at, text, to)

    def _move(self, at: int, text: str, to: float | None) -> None:
        self.openings[at] = to
        name = self.valves[at].name
        if not is_nudge(text):  # where it stood before has no bearing on it any more
            self.turned = [turned for turned in self.turned if turned.valve != name]
        if to is not None:
            self.turned.append(Turned(name, "nudge" if is_nudge(text) else "mark", to))

    def opening_after(self, at: int, text: str, *, as_far_as_it_goes: bool = False) -> float | None:
        """Give the opening [ratio] of a valve after a mark or a nudge; None if that is not known.

        Parameters
        ----------
        at
            Its index among the valves of the plan.
        text
            ``"30 deg"``, or with a sign ``"+2 deg"``.
        as_far_as_it_goes
            Whether full and shut mean its stops.

        Raises
        ------
        QuantityError
            If it cannot stand there.
        """
        ref = self.valves[at]
        low, high = ref.part.stops or (0.0, 1.0)
        if not is_nudge(text):
            to = parse_opening(text, ref.part)
            if as_far_as_it_goes and to in (0.0, 1.0):
                return high if to else low
            if not low - _HAIR <= to <= high + _HAIR:
                raise QuantityError(
                    text,
                    f'"{ref.name}={text}" is beyond its stops',
                    f"the plan lets it stand from {words_of(low, ref.part)} to "
                    f"{words_of(high, ref.part)}",
                )
            return to
        move = parse_nudge(text, ref.part)
        stood = self.openings[at]
        if stood is None:
            return None
        to = stood + move
        if not low - _HAIR <= to <= high + _HAIR:
            end = high if move > 0.0 else low
            stop = "" if ref.part.stops is None else "its stop at "
            raise QuantityError(
                text,
                f'"{ref.name}" stood at {words_of(stood, ref.part)}, and {text} goes beyond '
                f"{stop}{words_of(end, ref.part)}",
                "check this move and those above it; without a sign it is a mark to set: "
                f'"{ref.name}={words_of(end, ref.part)}"',
            )
        return min(max(to, low), high)

    def place(self, name: str) -> int:
        """Give the index of a valve by its name, or by its stretch's where it is the free one.

        Raises
        ------
        UnknownNameError
            If there is none.
        """
        if fold(name) not in self._places:
            of_stretch = self.plan.valve_of(name).name
            self._places[fold(name)] = self._places[fold(of_stretch)]
        return self._places[fold(name)]

    def _example(self) -> str:
        free = [ref.name for ref in self.valves if not ref.part.locked]
        return f'write "{free[0]}=30 deg"' if free else "this plan has no valve to turn"

    # Pumps

    def run(self, words: str) -> None:
        """Run pumps as some words say: ``"60 %"`` where there is one, ``"main=60 %"``.

        Raises
        ------
        QuantityError, UnknownNameError
            Of the first words that make no sense. What stands before them is done already.
        """
        said: set[str] = set()
        for item in _items(words, self.pumps):
            name, text = self.pump_and(item)
            if name in said:
                raise QuantityError(item, f'"{name}" has two speeds', "keep one of the two")
            said.add(name)
            self.speeds[self.pumps.index(name)] = SPEED.read(text)

    def pump_and(self, item: str) -> tuple[str, str]:
        """Part ``"main=60 %"`` into the pump's name and what is said of it.

        Raises
        ------
        QuantityError, UnknownNameError
            If no pump is named where there are several, or one that does not run.
        """
        name, equals, text = (piece.strip() for piece in item.partition("="))
        if not self.pumps:
            raise QuantityError(item, "this plan has no pump that runs", "leave the cell empty")
        if not equals:
            if len(self.pumps) > 1:
                raise QuantityError(
                    item,
                    f"{quoted(item)}: which pump?",
                    "write " + " or ".join(f'"{pump}={item}"' for pump in self.pumps),
                )
            return self.pumps[0], name
        by_fold = {fold(pump): pump for pump in self.pumps}
        if fold(name) not in by_fold:
            near = nearest(name, self.pumps)
            raise UnknownNameError("pump", name, (near,) if near else (), self.pumps)
        return by_fold[fold(name)], text

    # What is not known

    def lose_handles(self) -> None:
        """Forget where all handles stand that a hand may have turned."""
        self.openings = [ref.part.open if ref.part.locked else None for ref in self.valves]

    def lose_speeds(self) -> None:
        """Forget how fast all pumps run."""
        self.speeds = [None for _ in self.speeds]


def is_nudge(text: str) -> bool:
    """Tell whether an opening has a sign, so that it counts from where the handle stood."""
    return text.startswith(_SIGNS)


def _items(words: str, names: Iterable[str]) -> Iterator[str]:
    """Part words at ``;`` and ``,`` but not inside names that hold one."""
    awkward = [re.escape(name) for name in names if ";" in name]
    for match in re.finditer("(?:" + "|".join([*awkward, "[^;,]"]) + ")+", words, re.IGNORECASE):
        if item := match[0].strip():
            yield item
