"""Levels over time, as answers give them."""

from __future__ import annotations

from dataclasses import dataclass

from balance.questions.record import Record, quantity


@dataclass(frozen=True, kw_only=True)
class Trace(Record):
    """The level of a vessel over the time of the answer [m]."""

    vessel: str
    level: tuple[float, ...] = quantity("length")
