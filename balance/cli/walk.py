"""A walk at the terminal: one step a screen, few keys, every reading kept at once."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from balance.errors import QuantityError
from balance.plan.model import Plan
from balance.plan.openings import parse_opening
from balance.plan.reading import Reading, Turned
from balance.plan.readings import APART
from balance.plan.readings_text import save_readings
from balance.questions.buckets import Bucket
from balance.questions.tune import Advice, reading_of, speeds_after, tune
from balance.show import tune as show
from balance.units import dimension_of, parse

STOP, UNDO, SKIP, HELP = "q", "u", "s", "?"
WORDS = {
    **dict.fromkeys((STOP, "quit", "stop"), STOP),
    **dict.fromkeys((UNDO, "undo"), UNDO),
    **dict.fromkeys((SKIP, "skip"), SKIP),
    **dict.fromkeys((HELP, "help", "h"), HELP),
}
LEAST, MOST = 0.5, 7200.0  # [s] that a fill can take; beyond, it is a slip of a wet finger


@dataclass(frozen=True)
class Said:
    """What was typed: a reading, or where the handle stands in fact."""

    volume: float | None = None
    seconds: tuple[float, ...] = ()
    flow: float | None = None
    stands: str | None = None


@dataclass
class Walk:
    """A walk and where it is kept.

    Attributes
    ----------
    plan : as read
    file : that it was read from
    record : file of its readings
    rows : so far
    before : how many of them were taken before the walk
    as_they_stand : it begins with the handles as planned
    buckets : at hand; None: the usual ones
    """

    plan: Plan
    file: Path
    record: Path
    rows: list[Reading]
    before: int
    as_they_stand: bool
    buckets: tuple[Bucket, ...] | None
    speeds: tuple[float, ...] | None = None
    skipped: set[str] = field(default_factory=set)
    redo: Reading | None = None

    def go(self) -> bool:
        """Walks until it is done or is stopped; whether all targets are likely met."""
        step = self._next(None)
        if self.rows:
            print(f"Going on with {self.record.name}: {_count(self.rows)}.")
        elif not self._said_yes(show.opening(step)):
            return False
        while step.kind not in ("done", "stuck"):
            self._clear()
            print("\n".join(show.lines(step)))
            answered = self._answer(step)
            if answered is None:
                print(f"Stopped. {self._where()} goes on from here.")
                return False
            step = self._next(step if answered else None)
        show.end(step, skipped=sorted(self.skipped))
        print(
            f"\nKept in {self.record.name}. To write what was learnt into a plan:\n"
            f"    balance fit {self.file.name} {self.record.name}"
        )
        return step.kind == "done"

    def _next(self, near: Advice | None) -> Advice:
        return tune(
            self.plan,
            self.rows,
            before=self.before,
            as_they_stand=self.as_they_stand,
            speeds=self.speeds,
            buckets=self.buckets,
            skipped=frozenset(self.skipped),
            redo=self.redo,
            near=near,
        )

    def _where(self) -> str:
        return (
            f"{self.record.name} keeps {_count(self.rows)}; the same command"
            if self.rows
            else "Nothing was read; the same command"
        )

    def _answer(self, step: Advice) -> bool | None:
        """Takes what is typed at a step.

        Returns whether the next step follows from this one: not where something was undone or left
        out; None to stop.
        """
        turned: Sequence[Turned] = step.turned
        while True:
            typed = ask(show.ASK_DONE if step.kind == "speed" else show.ASK)
            typed = None if typed is None else WORDS.get(typed.lower(), typed)
            if typed is None or typed == STOP:
                return None
            if typed == HELP:
                print(show.HELP)
            elif typed == UNDO:
                return self._undo()
            elif typed == SKIP and step.kind != "speed":
                self.skipped.add(step.name if step.kind in ("move", "nudge") else step.branch)
                return False
            elif step.kind == "speed":
                try:
                    self.speeds = speeds_after(step, to=_speed(typed))
                except QuantityError as error:
                    print(f"  {error}")
                    continue
                return True
            else:
                try:
                    said = read(typed, step)
                    if said.stands is not None:
                        turned = self._corrected(step, said.stands)
                        continue
                except QuantityError as error:
                    print(f"  {error}")
                    continue
                self._keep(step, said, turned)
                return True

    def _undo(self) -> bool:
        """Takes the last reading back; what was turned for it has been turned."""
        if len(self.rows) > self.before:
            self.redo = self.rows.pop()
            self.speeds = self.redo.speeds
            self._save()
        else:
            self.skipped.clear()
        return False

    def _corrected(self, step: Advice, words: str) -> tuple[Turned, ...]:
        """What was turned in fact, where the handle stands elsewhere than it was to go."""
        if not step.name:
            raise QuantityError(words, "no handle was to be turned here", "type the seconds")
        ref = self.plan.valve(step.name)
        to = parse_opening(words, ref.part)
        print(f"  {step.name} stands at {words}. The seconds?")
        return tuple(replace(each, to=to) for each in step.turned)

    def _keep(self, step: Advice, said: Said, turned: Sequence[Turned]) -> None:
        self.rows.append(
            reading_of(
                step,
                self.rows,
                speeds=self.speeds,
                volume=said.volume if said.seconds else None,
                seconds=said.seconds,
                flow=said.flow,
                turned=turned,
            )
        )
        self.speeds = self.redo = None
        self._save()

    def _save(self) -> None:
        if self.rows:
            save_readings(self.record, self.plan, self.rows)
        else:
            self.record.unlink(missing_ok=True)  # a log without rows is a fault

    def _said_yes(self, lines: Sequence[str]) -> bool:
        self._clear()
        print("\n".join(lines))
        while True:
            typed = ask("Enter to begin (q stop)")
            if typed is None or typed.lower() in (STOP, "quit", "stop", "n", "no"):
                print("Nothing was begun.")
                return False
            if typed.lower() in ("", "y", "yes"):
                return True

    @staticmethod
    def _clear() -> None:
        if sys.stdout.isatty():
            print("\033[2J\033[H", end="")
        else:
            print()


def _count(rows: Sequence[Reading]) -> str:
    return f"{len(rows)} readings" if len(rows) != 1 else "one reading"


def ask(prompt: str) -> str | None:
    """What is typed; None at the end of what there is."""
    try:
        return input(f"{prompt}: ").strip()
    except EOFError:
        print()
        return None


def read(typed: str, step: Advice) -> Said:
    """What a line says at a step: seconds, a bucket and seconds, a flow, or where a handle stands.

    Raises
    ------
    QuantityError
        If it says none of these.
    """
    words = typed.split()
    if words and words[0].lower() == "at":
        return Said(stands=typed[2:].strip())
    if words == ["0"]:
        return Said(flow=0.0)
    if words and dimension_of(typed) == "flow":
        return Said(flow=parse(typed, "flow"))
    volume, rest = step.volume, words
    for count in (3, 2, 1):
        head = " ".join(words[:count])
        if len(words) > count and dimension_of(head) == "volume":
            volume, rest = _above_zero(parse(head, "volume"), head), words[count:]
            break
    if not rest:
        raise QuantityError(typed, "nothing was typed", "type the seconds, or ? for help")
    seconds = tuple(_seconds(word, typed) for word in rest)
    if max(seconds) > APART * min(seconds):
        raise QuantityError(
            typed,
            f"one fill took {max(seconds):g} s and another {min(seconds):g} s",
            "type them again",
        )
    return Said(volume=volume, seconds=seconds)


def _speed(typed: str) -> float | None:
    """A speed that was set in place of the one that was asked for; None for that."""
    words = typed.removeprefix("at ").strip()
    return parse(words, "speed ratio") if words else None


def _above_zero(value: float, text: str) -> float:
    if value <= 0.0:
        raise QuantityError(text, f'"{text}" is nothing', "type what was read")
    return value


def _seconds(word: str, typed: str) -> float:
    minutes, colon, rest = word.rpartition(":")
    try:
        time = float(rest.removesuffix("s").replace(",", "."))
        time += 60.0 * int(minutes) if colon else 0.0
    except ValueError:
        time = float("nan")
    if not LEAST <= time <= MOST:
        raise QuantityError(
            typed, f'"{word}" is no time of a fill', "type seconds such as 12.1 12.4, or ? for help"
        )
    return time
