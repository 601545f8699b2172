"""The answer of `catalogue`: parts that a plan may use."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from balance.questions.record import Record, frame, quantity

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True, kw_only=True)
class KnownPart(Record):
    """A part that a plan may use.

    Attributes
    ----------
    kind : the key by which a plan tells it: pipe, hose, fitting, valve, check, ...
    name : of the part
    written : how a plan has it
    loss : what its loss depends on, in plain words
    bore : that its loss is stated for: its own, or that of pipe of the catalogue's size [m]
    flow : through that bore at the catalogue's velocity [m³/s]
    k : velocity heads in that bore that it loses at that flow, a valve full open; None where that
        is infinite, or where the plan states the loss
    k_half : the same of a valve at half its travel
    gradient : of pipe and hose, head lost along it at that flow [ratio]
    as_pipe : length of pipe of that bore that loses as much [m]
    opening_head : of a check valve [m]
    stands : gauge pressure that pipe and hose stand in water of a plan's usual temperature [Pa];
        zero where they are made for none, None where nothing is known of it
    spread : to either side of k, where print gives one [ratio]
    source : where its figures come from, with the place
    keys : of the sources named in that, see `Catalogue.sources`
    """

    kind: str
    name: str
    written: str
    loss: str
    bore: float | None = quantity("length")
    flow: float | None = quantity("flow")
    k: float | None
    k_half: float | None
    gradient: float | None = quantity("ratio")
    as_pipe: float | None = quantity("length")
    opening_head: float | None = quantity("head")
    stands: float | None = quantity("pressure")
    spread: float | None = quantity("ratio")
    source: str
    keys: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class Catalogue(Record):
    """Parts that a plan may use.

    Attributes
    ----------
    words : that were looked for
    size, pipe : in which losses are stated, of what comes in many sizes
    velocity : at which they are [m/s]
    temperature : in which pressures are [degC]
    parts : that the words fit, or all
    sources : their sources in full, by key
    units : in which they are to be shown
    """

    words: tuple[str, ...]
    size: str
    pipe: str
    velocity: float = quantity("velocity")
    temperature: float = quantity("temperature")
    parts: tuple[KnownPart, ...]
    sources: dict[str, str]
    units: str = field(metadata={"private": True})

    def to_frame(self) -> pd.DataFrame:
        """Parts as a pandas table."""
        return frame(self.parts)
