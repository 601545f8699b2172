"""Walks as tables."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from tests.walks.walk import Walk

NEARS = (0.05, 0.075, 0.10)  # within which shares of systems are counted
HEAD = (
    "method",
    *(f"within {100 * near:g} %" for near in NEARS),
    "worst branch: median, 95 %",
    "moves: mean, most",
    "nudges",
    "readings: mean, most",
)


def table(walks: Sequence[Walk]) -> str:
    """How walks of systems that can give what is asked ended, a row a method."""
    possible = [walk for walk in walks if walk.possible]
    rows = [HEAD, *(_row(method, each) for method, each in _by_method(possible).items())]
    return _laid_out(rows)


def words(walks: Sequence[Walk], *, tolerance: float) -> list[str]:
    """What the table does not say: systems that cannot give it, and chances that were said."""
    found: list[str] = []
    for method, each in _by_method(walks).items():
        possible = [walk for walk in each if walk.possible]
        if not found:
            found.append(
                f"{len(each)} systems, of which {len(each) - len(possible)} cannot give what is "
                f"asked within {100 * tolerance:g} %"
            )
        said = [walk for walk in possible if walk.chance is not None]
        if said:
            chance = np.mean([walk.chance for walk in said if walk.chance is not None])
            right = np.mean([walk.worst <= tolerance for walk in said])
            found.append(
                f"{method}: said that it is done in {_percent(len(said) / len(possible))}, "
                f"with a chance of {_percent(float(chance))} in the mean, and was right in "
                f"{_percent(float(right))} of these"
            )
        impossible = [walk for walk in each if not walk.possible]
        if impossible and any(walk.chance is not None or walk.unmet for walk in each):
            told = sum(walk.unmet for walk in impossible)
            met = sum(walk.worst <= tolerance for walk in impossible)
            found.append(
                f"{method}: of the {len(impossible)} that cannot give it, "
                f"{told} were told so, and {met} ended within {100 * tolerance:g} %"
            )
    return found


def _by_method(walks: Sequence[Walk]) -> dict[str, list[Walk]]:
    found: dict[str, list[Walk]] = {}
    for walk in walks:
        found.setdefault(walk.method, []).append(walk)
    return found


def _row(method: str, walks: list[Walk]) -> tuple[str, ...]:
    worst = np.array([walk.worst for walk in walks])
    moves = [walk.moves for walk in walks]
    readings = [walk.readings for walk in walks]
    return (
        method,
        *(_percent(float((worst <= near).mean())) for near in NEARS),
        ", ".join(f"{100 * each:.1f} %" for each in np.quantile(worst, (0.5, 0.95))),
        f"{np.mean(moves):.1f}, {max(moves)}",
        f"{np.mean([walk.nudges for walk in walks]):.1f}",
        f"{np.mean(readings):.1f}, {max(readings)}",
    )


def _percent(share: float) -> str:
    return f"{100 * share:.1f} %"


def _laid_out(rows: Sequence[Sequence[str]]) -> str:
    """A table of Markdown."""
    wide = [max(len(row[column]) for row in rows) for column in range(len(rows[0]))]
    lines = [
        "| " + " | ".join(cell.ljust(width) for cell, width in zip(row, wide, strict=True)) + " |"
        for row in rows
    ]
    rule = "|" + "|".join("-" * (width + 2) for width in wide) + "|"
    return "\n".join((lines[0], rule, *lines[1:]))
