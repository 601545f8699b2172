"""Changes to try, from the words of a command line: `--set` and `--speed`."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING

from balance.errors import QuantityError, UsageError
from balance.units import parse

if TYPE_CHECKING:
    from balance.plan.model import Plan


def changed(plan: Plan, *, openings: Iterable[str], speeds: Iterable[str]) -> Plan:
    """The plan with valves and pumps set as some words say.

    Parameters
    ----------
    openings : such as "carbon reactor=30 deg", several in one joined by commas
    speeds : such as "main=70 %", or "70 %" where there is one pump

    Raises
    ------
    UsageError
        Words that make no sense.
    UnknownNameError
        With the nearest names.
    """
    return plan.with_openings(dict(openings_of(plan, openings))).with_speed(
        dict(_speeds(plan, speeds))
    )


def openings_of(plan: Plan, words: Iterable[str]) -> Iterator[tuple[str, float]]:
    """Valves by their names and the openings [ratio] that some words give them, as `changed`."""
    from balance.plan.openings import parse_opening

    for word in each(words):
        name, equals, text = word.partition("=")
        if not equals or not name.strip() or not text.strip():
            raise UsageError(f'--set "{word}" is not a valve and its opening; {_example(plan)}')
        ref = plan.valve_of(name.strip())
        try:
            yield ref.name, parse_opening(text.strip(), ref.part)
        except QuantityError as error:
            raise UsageError(f'--set "{word}": {error}') from error


def _example(plan: Plan) -> str:
    valves = plan.valves()
    return f'write --set "{valves[0].name}=30 deg"' if valves else "this plan has no valve"


def _speeds(plan: Plan, words: Iterable[str]) -> Iterator[tuple[str, float]]:
    for word in each(words):
        name, equals, text = word.partition("=")
        if not equals:
            name, text = _only_pump(plan, word), word
        try:
            yield name.strip(), parse(text.strip(), "speed ratio")
        except QuantityError as error:
            raise UsageError(f'--speed "{word}": {error}') from error


def _only_pump(plan: Plan, word: str) -> str:
    """The pump that is meant where no name is said; those for water changes are off."""
    running = list(plan.running)
    if not running:
        raise UsageError(f'--speed "{word}": this plan has no pump')
    if len(running) > 1:
        examples = " ".join(f'--speed "{name}={word}"' for name in running)
        raise UsageError(f'--speed "{word}": which pump? Write {examples}')
    return running[0]


def each(words: Iterable[str]) -> Iterator[str]:
    """Every word, several in one joined by commas."""
    for word in words:
        yield from (part.strip() for part in word.split(","))
