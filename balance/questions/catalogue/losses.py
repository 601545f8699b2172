"""What parts lose, by the laws with which a plan is solved.

Each part is written into a plan, which is read as any other; no figure is known here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from math import isfinite, pi

import numpy as np
from numpy.typing import NDArray

from balance.network.arrays import Network, network_of
from balance.parts.pipes import PipeSize
from balance.parts.pumps import GRAVITY
from balance.plan.read import read_text
from balance.questions.catalogue.forms import STATED, Form

_VESSELS = '[vessels.above]\nlevel = "1 m"\n[vessels.below]\nlevel = "0 m"\n'
_IN, _OUT = '{ inlet = "ideal" }', '{ outlet = "ideal" }'
_HALF = 1  # of the two settings of all valves, full and half open


@dataclass(frozen=True)
class Loss:
    """What one part loses; None where it has no such figure.

    Attributes
    ----------
    bore : that the velocity is in [m]
    flow : [m³/s]
    k : velocity heads
    k_half : the same of a valve at half its travel
    gradient : of pipe and hose [ratio]
    as_pipe : length of the pipe it stands in that loses as much [m]
    opening_head : of check valves [m]
    """

    bore: float | None = None
    flow: float | None = None
    k: float | None = None
    k_half: float | None = None
    gradient: float | None = None
    as_pipe: float | None = None
    opening_head: float | None = None


@dataclass
class _Trial:
    """A plan in the making: runs with a flow each, and those along which each part loses.

    `ways` : for each part the names of its runs.
    """

    texts: list[str] = field(default_factory=lambda: [_VESSELS])
    joints: list[str] = field(default_factory=list)
    flows: dict[str, float] = field(default_factory=dict)
    ways: list[tuple[str, ...]] = field(default_factory=list)

    def run(self, *parts: str, flow: float, start: str = "above", end: str = "below") -> str:
        """Adds a run and gives its name."""
        name = f"run {len(self.flows)}"
        self.flows[name] = flow
        self.texts.append(
            f'[[runs]]\nname = "{name}"\nfrom = "{start}"\nto = "{end}"\n'
            f"parts = [{', '.join(parts)}]\n"
        )
        return name


def losses(forms: Sequence[Form], *, pipe: PipeSize, velocity: float) -> tuple[Loss, ...]:
    """Losses of parts, in their order.

    Parameters
    ----------
    pipe : that parts stand in which are neither pipe nor hose
    velocity : in it, or in the pipe or hose itself [m/s]
    """
    trial = _Trial()
    own = trial.run(_IN, _piece(pipe, "1 m"), _OUT, flow=_flow(pipe.bore, velocity))
    for form in forms:
        trial.ways.append(_way(trial, form, pipe, velocity))
    network = network_of(read_text("\n".join([*trial.texts, "[joints]", *trial.joints])))
    head, opening = _heads(network, trial.flows)
    along = float(head[network.row_of[own], 0])
    return tuple(
        _loss(form, pipe, velocity, head[rows].sum(axis=0), float(opening[rows].sum()), along)
        if (rows := [network.row_of[name] for name in way])
        else Loss()
        for form, way in zip(forms, trial.ways, strict=True)
    )


def _flow(bore: float, velocity: float) -> float:
    return velocity * pi / 4 * bore**2


def _piece(pipe: PipeSize, length: str) -> str:
    return f'{{ pipe = "{pipe.name}", length = "{length}" }}'


def _way(trial: _Trial, form: Form, pipe: PipeSize, velocity: float) -> tuple[str, ...]:
    """Writes a part into the plan, unless that is to state its loss."""
    own, flow = _piece(pipe, "0 m"), _flow(form.bore or pipe.bore, velocity)
    if form.kind in STATED:
        return ()
    match form.kind:
        case "tee":
            return _tee(trial, form, own, flow)
        case "pipe" | "hose":
            metre = f'{{ {form.kind} = "{form.name}", length = "1 m" }}'
            return (trial.run(_IN, metre, _OUT, flow=flow),)
        case "inlet":
            return (trial.run(form.written, own, _OUT, flow=flow),)
        case "outlet":
            return (trial.run(_IN, own, form.written, flow=flow),)
        case _:
            return (trial.run(_IN, own, form.written, _OUT, flow=flow),)


def _tee(trial: _Trial, form: Form, own: str, flow: float) -> tuple[str, ...]:
    """A tee whose side leg takes half of the flow."""
    joint = f"tee {len(trial.flows)}"
    before = trial.run(_IN, own, flow=flow, end=joint)
    legs = {leg: trial.run(own, _OUT, flow=flow / 2, start=joint) for leg in ("side", "straight")}
    written = form.written.partition(" = ")[2].replace('"uv"', f'"{legs["side"]}"')
    trial.joints.append(f'"{joint}" = {written}')
    return before, legs[form.leg]


def _heads(
    network: Network, flows: dict[str, float]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Heads lost with all valves full and half open (runs, 2), and opening heads (runs,) [m]."""
    openings = np.tile([1.0, 0.5], (len(network.valves), 1))
    laws, shut = network.at(openings, network.speeds)
    flow = np.array([[flows[run.name]] * 2 for run in network.layout.runs])
    head = np.where(shut, np.inf, laws(flow).head)  # what passes nothing loses without bound
    return head, np.broadcast_to(laws.constant[:, 0], len(flow))


def _loss(
    form: Form,
    pipe: PipeSize,
    velocity: float,
    head: NDArray[np.float64],
    opening: float,
    along: float,
) -> Loss:
    """From heads lost, full and half open, and that of a metre of the pipe [m]."""
    bore = form.bore or pipe.bore
    flow = _flow(bore, velocity)
    if form.bore is not None:
        return Loss(bore, flow, gradient=float(head[0]))
    full, half = (head - opening) / (velocity**2 / (2.0 * GRAVITY))
    if not isfinite(full):
        return Loss(bore, flow)
    return Loss(
        bore,
        flow,
        k=float(full),
        k_half=float(half) if form.kind == "valve" else None,
        as_pipe=float(head[0] - opening) / along,
        opening_head=opening if form.kind == "check" else None,
    )
