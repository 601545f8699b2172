"""Total head along the way: in each leg of a joint, and from part to part of a stretch.

The solver knows one head for a joint.  Its legs differ by the losses of its tee, and along a
stretch head falls from part to part; a gauge tells of one place in one pipe.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property
from math import isinf, pi

import numpy as np
from numpy.typing import NDArray

from balance.network.arrays import stretch_laws
from balance.network.layout import LaidRun, as_learnt
from balance.network.solve import Solution
from balance.network.stretch import PlacedValve, Stretch, stretch_of
from balance.parts.pumps import GRAVITY
from balance.plan.model import (
    OUTSIDE,
    Branch,
    HosePart,
    InletPart,
    OutletPart,
    Part,
    PipePart,
    Run,
)

Floats = NDArray[np.float64]
START, END = 0, 1  # the ends of a run


@dataclass(frozen=True)
class Section:
    """A cross-section of the water's way.

    Attributes
    ----------
    head : total, above the plan's datum [m]
    bore : [m]
    velocity : of the water there [m/s]
    """

    head: float
    bore: float
    velocity: float

    @property
    def standing(self) -> float:
        """Height to which water would stand in an open tube: total less velocity head [m]."""
        return self.head - self.velocity**2 / (2.0 * GRAVITY)


@dataclass(frozen=True)
class Along:
    """A solved network, to be asked for heads along the way."""

    solution: Solution

    @cached_property
    def heads(self) -> dict[str, float | None]:
        """Total head of each joint and vessel [m]; None where nothing ties a joint to a vessel."""
        network = self.solution.network
        isolated = network.topology.isolated(self.solution.state.held)[:, 0]
        heads: dict[str, float | None] = {
            name: self.solution.head(name) for name in network.node_of
        }
        heads.update({network.joint_names[joint]: None for joint in np.flatnonzero(isolated)})
        return heads

    def stretches(self) -> Iterator[Run | Branch]:
        """The runs and branches that water can flow through."""
        plan = self.solution.network.plan
        yield from (run for run in plan.runs if run.name in self.solution.network.row_of)
        yield from plan.branches

    def legs(self, joint: str) -> Iterator[tuple[LaidRun, Section]]:
        """The pipes that meet in a joint, each with its section right there.

        Pumps, and joints that nothing ties to a vessel, have none.
        """
        for row, run in enumerate(self.solution.network.layout.runs):
            bores = (run.stretch.bore_start, run.stretch.bore_end)
            for side, node in enumerate((run.start, run.end)):
                bore, head = bores[side], self.head_in(row, side)
                if node == joint and bore is not None and head is not None:
                    yield run, self._section(head, bore, row)

    def sections(self, stretch: Run | Branch) -> tuple[Section, ...]:
        """Both ends of each part of a stretch, in their order, inlet and outlet left out.

        What hangs between two shut valves is left out too.
        """
        row = self.solution.network.row_of[stretch.name]
        return tuple(
            self._section(head, bore, row)
            for (bore_from, bore_to), (before, after) in zip(
                _gauged(stretch.parts), self._heads(stretch, row), strict=True
            )
            for head, bore in ((before, bore_from), (after, bore_to))
            if head is not None and bore is not None
        )

    def heads_of_parts(
        self, stretch: Run | Branch
    ) -> tuple[tuple[float | None, float | None], ...]:
        """Total head before and after each part of a stretch [m]; None between two shut valves."""
        return tuple(self._heads(stretch, self.solution.network.row_of[stretch.name]))

    def _heads(self, stretch: Run | Branch, row: int) -> list[tuple[float | None, float | None]]:
        """Total head before and after each part of a stretch [m].

        Where something stops the water it stands level on either side.
        """
        network = self.solution.network
        last = network.row_of.get(f"{stretch.name}, second half", row)
        start, end = self.head_in(row, START), self.head_in(last, END)
        places = range(len(stretch.parts))
        stops = [
            place
            for place, part in enumerate(stretch.parts)
            if _stops(stretch_of((part,), water=network.water), self._flow(row))
        ]
        if stops:
            return [
                (
                    start if place <= stops[0] else end if place > stops[-1] else None,
                    end if place >= stops[-1] else start if place < stops[0] else None,
                )
                for place in places
            ]
        if end is None:
            return [(start, start) for _ in places]
        left = self._lost_after(stretch, row) + end
        return [(float(left[place, 0]), float(left[place, 1])) for place in places]

    def _lost_after(self, stretch: Run | Branch, row: int) -> Floats:
        """Head lost from before, and from after, each part to the end of a stretch, (parts, 2) [m].

        All that a stretch loses, less what it would lose if it ended there: so no part's loss is
        told twice, here and in its law.  Counted from the end, since at its start a stretch may
        lose more than its own parts do: in the elbow of a header's last tap.
        """
        network, parts = self.solution.network, stretch.parts
        water = network.water
        in_vessel = stretch.to in network.plan.vessels or stretch.to == OUTSIDE
        shorter = [
            piece
            for place, part in enumerate(parts)
            for piece in (
                stretch_of(parts[:place], water=water, bore_after=part.bore_from),
                stretch_of(parts[: place + 1], water=water),
            )
        ]
        pieces = [*shorter, stretch_of(parts, water=water, to_vessel=in_vessel)]
        if network.plan.learnt is not None:
            names = {id(ref.part): ref.name for ref in network.plan.valves()}
            run = network.layout.runs[row]
            pieces = [
                as_learnt(piece, network.plan.learnt, run=run, valves=names) for piece in pieces
            ]
        laws = stretch_laws([_with_valves(piece) for piece in pieces], medium=water)
        lost = laws(np.full((len(pieces), 1), self._flow(row))).head[:, 0]
        return np.reshape(lost[-1] - lost[:-1], (-1, 2))

    def _flow(self, row: int) -> float:
        return float(self.solution.state.flow[row, 0])

    def _section(self, head: float, bore: float, row: int) -> Section:
        return Section(head, bore, abs(self._flow(row)) / (pi / 4 * bore**2))

    def head_in(self, row: int, side: int) -> float | None:
        """Total head just inside an end of a run [m]; None where nothing ties it to a vessel."""
        run = self.solution.network.layout.runs[row]
        head = self.heads[run.end if side == END else run.start]
        return None if head is None else head - float(self._tee_losses[row, side])

    @cached_property
    def _tee_losses(self) -> Floats:
        """Head of a joint less that just inside each end of each run, (E, 2) [m]."""
        found = np.zeros((len(self.solution.network.layout.runs), 2))
        tees = self.solution.laws.tees
        if tees is None:
            return found
        flow = self.solution.state.flow
        into = (flow[tees.legs[:, leg]] * tees.into[:, leg, None] for leg in (0, 1))
        loss = tees.bank.losses(*into)
        for leg, head in enumerate((loss.first, loss.second)):
            side = np.where(tees.into[:, leg] > 0.0, END, START)
            found[tees.legs[:, leg], side] = (tees.share * head)[:, 0]
        return found


def _with_valves(stretch: Stretch) -> Stretch:
    """A stretch with the losses of its valves as they stand."""
    lost = sum(_k(valve) * valve.scale for valve in stretch.valves)
    return replace(
        stretch, forward=stretch.forward + lost, backward=stretch.backward + lost, valves=[]
    )


def _k(valve: PlacedValve) -> float:
    return float(valve.law.loss_coefficient(np.array(valve.part.open)).k)


def _stops(part: Stretch, flow: float) -> bool:
    """Whether no water passes: a cap, a shut valve, or one way only and the flow is not that."""
    shut = part.closed or any(isinf(_k(valve)) for valve in part.valves)
    return shut or (part.one_way and flow <= 0.0)


def _gauged(parts: tuple[Part, ...]) -> Iterator[tuple[float | None, float | None]]:
    """Bores before and after each part [m], as a gauge would be read.

    Its own, but of the pipe beside what is narrower; none for inlets and outlets.
    """
    for place, part in enumerate(parts):
        if isinstance(part, InletPart | OutletPart):
            yield None, None
        elif isinstance(part, PipePart | HosePart):
            yield part.bore_from, part.bore_to
        else:
            before = parts[place - 1].bore_to if place > 0 else 0.0
            after = parts[place + 1].bore_from if place + 1 < len(parts) else 0.0
            yield max(part.bore_from, before), max(part.bore_to, after)
