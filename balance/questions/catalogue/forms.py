"""Every part that a plan may use, and how it is written there."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import get_args

import numpy as np

from balance.errors import BalanceError
from balance.parts import pipes, valves
from balance.parts.ratings import stands
from balance.parts.tables import rows
from balance.parts.valves import ValveLaw
from balance.plan.model import Joint, WaterSpec
from balance.plan.pieces import CHANGES_SIZE, SLOT, TAPERED
from balance.units import parse

HOSES = ("1/4 in", "3/8 in", "1/2 in", "5/8 in", "3/4 in", "1 in")
"""Sizes of hose that are shown where none is asked for; any other may be written."""

CALLED = {"check": "check valve", "k": "loss"}
"""What a kind is called, where that is not its key in a plan."""

ALSO = {
    "hose": "tube tubing",
    "check": "non-return nonreturn",
    "device": "reactor steriliser sterilizer ultraviolet uv chiller heater filter sock skimmer "
    "scrubber media",
    "inlet": "entrance",
    "outlet": "exit return",
    "k": "coefficient",
}
"""Other words of the trade for what a kind holds."""

STATED = ("device", "k")
"""Kinds whose loss a plan states itself."""

TEMPERATURE = WaterSpec().temperature
"""In which pressures are stated [degC]: that of a plan which does not say."""

_FRICTION = "friction: darcy-weisbach, with f of colebrook-1939"


@dataclass(frozen=True)
class Form:
    """One part as a plan has it.

    Attributes
    ----------
    kind : its key in a plan
    name : of the part
    written : how a plan has it
    loss : what its loss depends on, in plain words
    source : of its figures
    size : nominal, of pipe and hose [m]; None: the part is made in all sizes
    bore : of pipe and hose [m]
    stands : gauge pressure that pipe and hose stand [Pa]; zero where they are made for none, None
        where nothing is known of it
    leg : of a tee, "side" or "straight", that the loss is to
    """

    kind: str
    name: str
    written: str
    loss: str
    source: str
    size: float | None = None
    bore: float | None = None
    stands: float | None = None
    leg: str = ""


def forms(size: str) -> Iterator[Form]:
    """All parts, those that come in many sizes in the given one, such as "1 in"."""
    yield from _pipes(size)
    yield from _hoses(size)
    yield from _fittings(size)
    yield from _valves(size)
    yield from _checks(size)
    yield from _ends()
    yield from _tees()
    yield from _stated()


def pipe_of(size: str) -> pipes.PipeSize | None:
    """The pipe that fittings of a size are moulded to; None where there is none."""
    try:
        bore = pipes.nominal_bore(size)
    except BalanceError:
        return None
    return next(pipe for pipe in pipes.sizes() if pipe.bore == bore)


def bored(size: str) -> pipes.PipeSize:
    """A pipe with that bore."""
    return pipes.pipe(f"{1000.0 * parse(size, 'length'):g} mm bore")


def _pipes(size: str) -> Iterator[Form]:
    for pipe in pipes.sizes():
        yield _straight("pipe", pipe, nominal=_nominal(pipe.name))
    yield _straight("pipe", bored(size), nominal=None)


def _hoses(size: str) -> Iterator[Form]:
    named = {parse(name, "length"): name for name in (size, *HOSES)}
    for kind in pipes.hoses():
        for nominal, name in sorted(named.items()):
            yield _straight("hose", pipes.hose(f"{name} {kind}"), nominal=nominal)


def _straight(kind: str, pipe: pipes.PipeSize, *, nominal: float | None) -> Form:
    rough = next(row for row in rows("roughness") if row["material"] == pipe.material)
    length = "3 m" if "mm" in pipe.name else "10 ft"
    return Form(
        kind,
        pipe.name,
        f'{{ {kind} = "{pipe.name}", length = "{length}" }}',
        f"friction along it, by its bore and a roughness of {rough['roughness_mm']} mm",
        f"{pipe.source}; roughness: {rough['source']}; {_FRICTION}{_warmth(pipe)}",
        nominal,
        pipe.bore,
        stands(pipe, temperature=TEMPERATURE),
    )


def _warmth(pipe: pipes.PipeSize) -> str:
    """Source of what is left of its pressure in warm water."""
    found = [row["source"] for row in rows("derating") if row["material"] == pipe.material]
    return f"; pressure when warm: {found[0]}" if pipe.rating and found else ""


def _nominal(name: str) -> float:
    found = re.match(r".*? (?:in|mm)\b", name)
    return parse(found[0] if found else name, "length")


def _fittings(size: str) -> Iterator[Form]:
    for row in rows("fittings"):
        kind, more = row["kind"], ""
        if kind in CHANGES_SIZE:
            more = f', to = "{_smaller(size)}"'
        elif kind == "barb":
            more = f', hose = "{size}"'
        yield Form(
            "fitting",
            kind,
            f'{{ fitting = "{kind}", size = "{size}"{more} }}',
            _fitting_loss(row, steps=bool(more)),
            row["source"],
        )


def _fitting_loss(row: dict[str, str], *, steps: bool) -> str:
    if float(row["k"]) == float("inf"):
        return "nothing passes"
    if row["kind"] == TAPERED:
        return "a cone between its two bores, computed; 60 deg unless `angle` or `taper` is given"
    if steps:
        own = " and a short narrow passage" if float(row["k"]) else ""
        return f"steps in bore, computed{own}"
    return _velocity_heads(row)


def _velocity_heads(row: dict[str, str]) -> str:
    """How a loss of the form K1/Re + k (1 + a/D^p) goes with size and flow."""
    by_size = "fewer in larger sizes" if float(row["size_factor"]) else "the same in all sizes"
    at_rest = ", more at low flow" if float(row["k1"]) else ""
    return f"velocity heads, {by_size}{at_rest}"


def _smaller(size: str) -> str:
    """The next smaller size of the same series, or the next larger of the smallest."""
    own = pipe_of(size)
    if own is None:
        return size
    ending = own.name.removeprefix(size)
    series = sorted(
        (pipe for pipe in pipes.sizes() if pipe.name.endswith(ending)), key=lambda pipe: pipe.bore
    )
    place = next(place for place, pipe in enumerate(series) if pipe.name == own.name)
    return series[place - 1 if place else 1].name.removesuffix(ending)


def _valves(size: str) -> Iterator[Form]:
    for row in rows("valves"):
        law = valves.valve(row["kind"], bore=0.025)
        shut = (
            f"; nothing passes within {law.dead_band * law.travel:.2g} {law.handle} of shut"
            if law.travel is not None and law.dead_band > 1e-3
            else ""
        )
        yield Form(
            "valve",
            row["kind"],
            f'{{ valve = "{row["kind"]}", size = "{size}" }}',
            f"velocity heads by opening, the handle read in {law.handle}; at mid travel known to a "
            f"factor of {2.718281828459045**law.log_spread:.2g} until measured{shut}{_other(law)}",
            f"{row['source']}; between shut and open: {law.shape_source}",
        )


def _other(law: ValveLaw) -> str:
    """What the other family of print says of a valve that has one."""
    if law.other is None:
        return ""
    half = np.array(0.5)
    other = valves.valve(law.other, bore=0.025)
    ratio = float(other.loss_coefficient(half).k / law.loss_coefficient(half).k)
    return f'; other print, "{law.other}", has {ratio:.2g} times the loss half open'


def _checks(size: str) -> Iterator[Form]:
    for row in rows("checks"):
        yield Form(
            "check",
            row["kind"],
            f'{{ check = "{row["kind"]}", size = "{size}" }}',
            f"one way only, beyond the head that opens it; {_velocity_heads(row)}",
            row["source"],
        )


def _stated() -> Iterator[Form]:
    measured = "common practice, no source: measure it, or take what its maker prints"
    yield Form(
        "device",
        "from one reading",
        '{ device = "reactor", drop = "1.2 ft at 120 gph" }',
        "as stated at one flow, else with its square, or with `exponent`",
        measured,
    )
    yield Form(
        "device",
        "from several readings",
        '{ device = "reactor", points = ["0.3 ft at 60 gph", "1.2 ft at 120 gph"] }',
        "as stated, along a smooth curve through the readings",
        f"fritsch-butland-1984, the curve; of the readings {measured}",
    )
    yield Form(
        "device",
        "from its bed of media",
        '{ device = "reactor", bed = { diameter = "4 in", depth = "8 in", grain = "1 mm" } }',
        "in proportion to flow in fine grains, toward its square in coarse ones; no more than the "
        "weight of the grains where they may tumble, `grain_density`",
        "ergun-1952",
    )
    yield Form(
        "k",
        "bare coefficient",
        '{ k = 24.7, bore = "15 mm" }',
        "as many velocity heads in that bore as stated",
        "by definition",
    )


def _ends() -> Iterator[Form]:
    for row in rows("inlets"):
        yield Form(
            "inlet",
            row["kind"],
            f'{{ inlet = "{row["kind"]}" }}',
            "velocity heads in the pipe behind it",
            row["source"],
        )
    for row in rows("outlets"):
        more = ', height = "62 in"' if row["kind"] == "free" else ""
        if float(row["k"]) == float("inf"):
            more = ', holes = 20, hole = "4 mm"'
            if row["kind"] == SLOT:
                more = ', slot_length = "10 in", slot_width = "3 mm"'
        yield Form(
            "outlet",
            row["kind"],
            f'{{ outlet = "{row["kind"]}"{more} }}',
            _outlet_loss(row),
            row["source"],
        )


def _outlet_loss(row: dict[str, str]) -> str:
    if float(row["k"]) == float("inf"):
        return "velocity heads in the pipe before it, by its openings, one by one along it"
    loss, ratio = "velocity heads, that of the leaving water among them", float(row["bore_ratio"])
    if ratio != 1.0:
        loss += f"; unless `bore` is given, its throat is {ratio:g} of the pipe"
    return loss + ("; or by its jets, `holes` and `hole`" if row["ports"] else "")


def _tees() -> Iterator[Form]:
    source = (
        "crane-tp410, chapter 2, tees and wyes; idelchik, diagram 7-29, fed or emptied by the side "
        "leg"
    )
    for kind in get_args(Joint.model_fields["kind"].annotation):
        more = "" if kind == "tee" else f', kind = "{kind}"'
        for leg in ("side", "straight"):
            yield Form(
                "tee",
                f"{kind} {'to its side' if leg == 'side' else 'straight on'}",
                f'joints.tap = {{ side = "uv"{more} }}',
                "by how the water splits, and solved with it; here half goes into the side leg; "
                "the tap of a header makes a tee by itself",
                source,
                leg=leg,
            )
