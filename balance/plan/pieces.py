"""The parts of a stretch of plumbing, as a plan writes them in ``parts = [ ... ]``.

Which part a ``{ ... }`` is shows in the key it has: ``pipe``, ``valve``, ``outlet`` and so on.
"""

from __future__ import annotations

from collections.abc import Callable
from math import isfinite, pi
from typing import Annotated

from pydantic import (
    BaseModel,
    ConfigDict,
    Discriminator,
    Field,
    PrivateAttr,
    StrictBool,
    Tag,
    field_validator,
    model_validator,
)
from pydantic_core.core_schema import ValidationInfo

from balance.errors import QuantityError, UnknownNameError
from balance.parts import beds, checks, fittings, outlets, ports, valves
from balance.plan.fields import (
    Angle,
    Bore,
    Count,
    Drop,
    Drops,
    Ends,
    Exponent,
    Fouled,
    FrictionFactor,
    GrainDensity,
    Head,
    Height,
    Hose,
    HoseSize,
    Length,
    LossCoefficient,
    Named,
    Pipe,
    Positive,
    Pressure,
    Roughness,
    Side,
    Size,
    Slope,
    Sphericity,
    Voidage,
    Volume,
    fault,
    folder_of,
    nearest,
    quoted,
    unknown_kind,
)
from balance.plan.openings import Handle, fraction
from balance.plan.valve_tables import ValvePoint, read_valve_table, valve_points

OF_THE_NEIGHBOURS = 0.0
"""Stands for a bore until the reader has taken it from the pipe before or after."""

CHANGES_SIZE = ("bushing", "reducer")

TAPERED = "reducer"
"""The one of them with a cone between its two bores."""

UNDER_WATER = "submerged"
"""The outlet that lies under water even where its height is told."""

SLOT = "slot"
"""The outlet whose water leaves by a slit along its pipe."""

SLICES = 100
"""Ports by which the slit is reckoned."""

PORT_KEYS = ("holes", "hole", "slot_length", "slot_width")


class Table(BaseModel):
    """Base of everything a plan holds: frozen, and no key beyond those described."""

    # Built when first read: most plans use few of the tables.
    model_config = ConfigDict(
        frozen=True, extra="forbid", arbitrary_types_allowed=True, defer_build=True
    )


def one_of(value: str, known: tuple[str, ...], kind: str) -> str:
    """Give the known kind that this text names, whatever its case and spaces, or raise a fault."""
    by_fold = {name.casefold(): name for name in known}
    folded = " ".join(value.split()).casefold()
    if folded not in by_fold:
        near = nearest(folded, known)
        raise unknown_kind(UnknownNameError(kind, value, (near,) if near else (), known))
    return by_fold[folded]


def _a(words: str) -> str:
    """Put the article before some words."""
    return f"{'an' if words[0] in 'aeiou' else 'a'} {words}"


def _look_up(table: Callable[[str], object]) -> Callable[[str], str]:
    """Make a reader of kinds that returns the kind itself once its table knows it."""

    def kind(text: str) -> str:
        folded = text.casefold()
        table(folded)
        return folded

    return kind


_check_kind = _look_up(lambda kind: checks.check_valve(kind, bore=0.02))
_inlet_kind = _look_up(outlets.inlet)
_outlet_kind = _look_up(outlets.outlet)


class Part(Table):
    """What every part may carry."""

    count: Count = Field(1, description="how many in series (outlets: side by side)")
    stands: Pressure | None = Field(
        None, description="gauge pressure that the part stands", examples=["15 psi"]
    )

    @property
    def bore_from(self) -> float:
        """Bore [m] at the side where the stretch comes in."""
        raise NotImplementedError

    @property
    def bore_to(self) -> float:
        """Bore [m] at the side where the stretch goes on."""
        raise NotImplementedError

    @property
    def holds(self) -> float:
        """Water in it [m3]; none in fittings, valves and the like, which are short."""
        return 0.0


class StraightPart(Part):
    """What pipes and hoses share."""

    length: Length = Field(description="length, as `measured` says")
    roughness: Roughness | None = Field(
        None, description="height of the wall's roughness; left out: of its material"
    )
    friction_factor: FrictionFactor | None = Field(
        None, description="Darcy friction factor held fixed, as textbook problems state it"
    )

    @property
    def bore(self) -> float:
        """Inside diameter [m]."""
        raise NotImplementedError

    @property
    def holds(self) -> float:
        """Water in it [m3]."""
        return self.count * self.length * pi / 4 * self.bore**2

    @property
    def bore_from(self) -> float:
        """Bore [m] at the side where the stretch comes in."""
        return self.bore

    @property
    def bore_to(self) -> float:
        """Bore [m] at the side where the stretch goes on."""
        return self.bore


class PipePart(StraightPart):
    """A length of rigid pipe."""

    pipe: Pipe = Field(
        description="size and kind, such as `1 in sch 40`, `32 mm PN10` or `80 mm bore`"
    )
    ends: Ends | None = Field(
        None, description="`thread`: bought with a male thread at each end; left out: plain"
    )
    slope: Slope | None = Field(
        None,
        description="fall for each length, of a leg of a drain that runs nearly level",
        examples=["2 %"],
    )

    @field_validator("ends")
    @classmethod
    def _threaded_or_plain(cls, value: tuple[str, str] | None) -> tuple[str, str] | None:
        if value is not None and not set(value) <= {"thread", "male thread"}:
            raise fault(
                "pipe has plain ends or a male thread", 'write ends = "thread", or take it out'
            )
        return value

    @property
    def bore(self) -> float:
        """Inside diameter [m]."""
        return self.pipe.bore


class HosePart(StraightPart):
    """A length of hose."""

    hose: Hose = Field(
        description="inside diameter by which it is sold, and its kind; left out: vinyl"
    )

    @property
    def bore(self) -> float:
        """Inside diameter [m]."""
        return self.hose.bore


class SizedPart(Part):
    """What every part shares whose loss is a coefficient on the velocity in some bore."""

    size: Size | None = Field(
        None, description="nominal size; left out: of the pipe before it, else after"
    )
    bore: Bore = Field(
        OF_THE_NEIGHBOURS,
        description="bore to which its loss refers; left out: of `size`",
        examples=["15 mm"],
    )
    ends: Ends | None = Field(
        None,
        description="how it is joined: `socket` (cemented), `thread`, `male thread`, `spigot`; two "
        "in order of the water where they differ; left out: as its kind usually is",
    )
    socket: Length | None = Field(
        None,
        description="how far pipe goes into it, measured; left out: of its standard",
        examples=["7/8 in"],
    )
    take_out: Length | None = Field(
        None,
        description="from its centre to the bottom of its socket, where lengths are measured to "
        "centres; left out: as usual for its kind",
        examples=["11/16 in"],
    )

    @property
    def bore_from(self) -> float:
        """Bore [m] at the side where the stretch comes in."""
        return self.bore

    @property
    def bore_to(self) -> float:
        """Bore [m] at the side where the stretch goes on."""
        return self.bore


K = Field(None, description="loss coefficient on the velocity in the bore, instead of the table's")


class FittingPart(SizedPart):
    """A fitting: elbow, union, bushing, barb and the like."""

    fitting: str = Field(description="kind of fitting", examples=["elbow 90"])
    to: Size | None = Field(
        None,
        description="second size of a bushing or reducer; both left out: of the pipes beside it",
    )
    angle: Angle | None = Field(
        None, description="of a reducer's cone, from wall to wall; left out: 60 deg"
    )
    taper: Length | None = Field(
        None, description="length of a reducer's cone, instead of `angle`", examples=["25 mm"]
    )
    hose: HoseSize | None = Field(
        None, description="hose on a barb; left out: of the hose next to it"
    )
    k: LossCoefficient | None = K

    _sides: tuple[float, float] = PrivateAttr((OF_THE_NEIGHBOURS, OF_THE_NEIGHBOURS))
    _estimated: bool = PrivateAttr(False)

    @field_validator("fitting")
    @classmethod
    def _known(cls, value: str) -> str:
        return one_of(value, fittings.kinds(), "fitting")

    @model_validator(mode="after")
    def _only_a_reducer_has_a_cone(self) -> FittingPart:
        if self.angle is None and self.taper is None:
            return self
        if self.fitting != TAPERED:
            raise fault(
                f"angle and taper are of the cone in a reducer, and this is {_a(self.fitting)}",
                'take them out, or write fitting = "reducer"',
            )
        if self.angle is not None and self.taper is not None:
            raise fault("angle and taper both tell its cone", "keep one of the two")
        return self

    @property
    def cone_angle(self) -> float:
        """Angle of the cone between its two bores [deg]; 180, a sudden step, but for a reducer."""
        if self.fitting != TAPERED:
            return fittings.SUDDEN
        if self.taper is not None:
            return fittings.cone_angle(bores=self._sides, length=self.taper)
        return fittings.REDUCER_ANGLE if self.angle is None else self.angle

    @property
    def bore_from(self) -> float:
        """Bore [m] at the side where the stretch comes in."""
        return self._sides[0]

    @property
    def bore_to(self) -> float:
        """Bore [m] at the side where the stretch goes on."""
        return self._sides[1]

    @property
    def bore_is_estimate(self) -> bool:
        """Whether the bore of a barb was not given, so that a share of the hose stands for it."""
        return self._estimated

    @property
    def is_barb(self) -> bool:
        """Whether one side is pushed into a hose."""
        return self.fitting == "barb"

    def placed(
        self, *, bore: float, sides: tuple[float, float], estimated: bool = False
    ) -> FittingPart:
        """Give this fitting with its bores [m], that of the coefficient and those of its sides."""
        part = self.model_copy(update={"bore": bore})
        part._sides, part._estimated = sides, estimated  # noqa: SLF001  # as pydantic wants it
        return part


class ValvePart(SizedPart):
    """A valve that a hand can set."""

    turns: Positive | None = Field(
        None, description="turns from shut to full, of a valve with a spindle", examples=[6]
    )
    table: tuple[ValvePoint, ...] | None = Field(
        None,
        description="a valve of one's own: openings with `k`, `cv` or `kv`, or a CSV file of them",
        examples=[[["20 deg", "k 40"], ["45 deg", "cv 6"]]],
    )
    valve: str = Field(description="kind of valve; any name beside `table`", examples=["ball"])
    open: float = Field(
        1.0,
        description="how far open, from shut: degrees, percent of travel, turns, `shut` or `full`",
        examples=["45 deg"],
    )
    locked: StrictBool = Field(False, description="true: no answer turns it")
    true_union: StrictBool = Field(False, description="true: it has a union at each of its ends")
    stops: tuple[float, float] | None = Field(
        None,
        description="least and most opening that the handle has",
        examples=[["15 deg", "90 deg"]],
    )
    name: str | None = Field(
        None, description="left out: the name of its stretch", examples=["left gate"]
    )
    k: LossCoefficient | None = Field(
        None, description="loss coefficient when full open, instead of the table's"
    )

    @field_validator("table", mode="plain", json_schema_input_type=list[tuple[str, str]] | str)
    @classmethod
    def _points(cls, value: object, info: ValidationInfo) -> tuple[ValvePoint, ...]:
        if isinstance(value, str):
            value = read_valve_table(folder_of(info) / value)
        return valve_points(value, turns=info.data.get("turns"))

    @field_validator("valve")
    @classmethod
    def _known(cls, value: str, info: ValidationInfo) -> str:
        return value if info.data.get("table") else one_of(value, valves.kinds(), "valve")

    @field_validator("open", mode="plain", json_schema_input_type=str)
    @classmethod
    def _opening(cls, value: object, info: ValidationInfo) -> float:
        return _opening_of(value, info)

    @field_validator("stops", mode="plain", json_schema_input_type=tuple[str, str])
    @classmethod
    def _between(cls, value: object, info: ValidationInfo) -> tuple[float, float]:
        if not isinstance(value, list) or len(value) != 2:
            raise fault(
                f"{quoted(value)} is not a pair of openings",
                'write stops = ["15 deg", "90 deg"]',
            )
        low, high = (_opening_of(item, info) for item in value)
        if low >= high:
            raise fault(f"{quoted(value)} is the wrong way round", "write the lesser opening first")
        if "open" in info.data and not low - 1e-9 <= info.data["open"] <= high + 1e-9:
            raise fault("the valve stands outside its stops", "change open, or the stops")
        return low, high

    @property
    def handle(self) -> Handle:
        """How the handle is read."""
        return _handle(self.valve, self.turns)

    def measured(self, *, bore: float) -> tuple[tuple[float, float], ...] | None:
        """Give the table as pairs of opening and loss coefficient on the velocity in `bore` [m]."""
        if self.table is None:
            return None
        return tuple((point.opening, point.coefficient(bore=bore)) for point in self.table)


def _handle(kind: str, turns: float | None) -> Handle:
    if kind in valves.kinds():
        return valves.valve(kind, bore=0.02).handle
    return "degrees" if turns is None else "turns"


def _opening_of(value: object, info: ValidationInfo) -> float:
    if not isinstance(value, str):
        raise fault(
            f"{quoted(value)} is not an opening", 'write {key} = "45 deg", "30 %" or "full"'
        )
    if "valve" not in info.data:  # a fault of its own; read in any unit for now
        return fraction(value, handle="degrees", turns=info.data.get("turns", 1e9))
    turns = info.data.get("turns")
    try:
        return fraction(value, handle=_handle(info.data["valve"], turns), turns=turns)
    except QuantityError as error:
        raise fault(error.problem, error.remedy) from error


class CheckPart(SizedPart):
    """A check valve: lets water through one way."""

    check: Annotated[str, Named(_check_kind, "swing")] = Field(description="kind of check valve")
    opening: Head | None = Field(None, description="head that opens it; left out: of its kind")
    failed: StrictBool = Field(False, description="true: it stands open both ways")
    true_union: StrictBool = Field(False, description="true: it has a union at each of its ends")
    k: LossCoefficient | None = K


class MediaBed(Table):
    """A bed of grains in a reactor, from which its loss is reckoned.

    Whatever holds the grains, sponges and plates, is beside it: a part of its own.
    """

    diameter: Side = Field(description="of the bed, inside", examples=["4 in"])
    depth: Side = Field(description="of the bed along the flow", examples=["8 in"])
    grain: Bore = Field(description="diameter of its grains", examples=["1 mm"])
    voidage: Voidage = Field(beds.VOIDAGE, description="share of the bed that is water")
    sphericity: Sphericity = Field(
        beds.SPHERICITY, description="1 for balls, 0.8 for broken grains, 0.6 for sharp ones"
    )
    grain_density: GrainDensity | None = Field(
        None,
        description="of a wet grain, its pores full, in a bed that lies free and is fed from "
        "below, so that it may tumble; left out: the bed lies still",
    )

    @property
    def bed(self) -> beds.Bed:
        """The bed as its law wants it."""
        return beds.Bed(
            diameter=self.diameter,
            depth=self.depth,
            grain=self.grain,
            voidage=self.voidage,
            sphericity=self.sphericity,
        )

    @property
    def holds(self) -> float:
        """Water between its grains [m3]."""
        return self.bed.area * self.depth * self.voidage


class DevicePart(SizedPart):
    """A reactor, steriliser, chiller, heater, filter sock, skimmer, algae scrubber and the like.

    Its loss was measured or printed, or is reckoned from its bed of media; there is no usual one.
    """

    device: str = Field(
        description="what it is, in words: `reactor`, `steriliser`, `chiller`, `heater`, "
        "`filter sock`, `skimmer`, `algae scrubber` or any other",
        examples=["reactor"],
        min_length=1,
    )
    drop: Drop | None = Field(None, description="head lost at one flow")
    points: Drops | None = Field(
        None,
        description="head lost at several flows",
        examples=[["0.3 ft at 60 gph", "1.2 ft at 120 gph"]],
    )
    bed: MediaBed | None = Field(
        None,
        description="its bed of media",
        examples=[{"diameter": "4 in", "depth": "8 in", "grain": "1 mm"}],
    )
    k: LossCoefficient | None = Field(
        None, description="loss coefficient on the velocity in its bore, instead of `drop`"
    )
    exponent: Exponent = Field(
        2.0,
        description="power of flow to which the loss in `drop` rises: 2 in passages, toward 1 in "
        "fine media",
    )
    volume: Volume | None = Field(
        None, description="water it holds; left out: of its bed, else not counted"
    )
    fouled: Fouled = Field(
        0.0, description="loss added by dirt at equal flow, above 100 % too", examples=["30 %"]
    )

    @model_validator(mode="after")
    def _has_a_loss(self) -> DevicePart:
        given = [name for name in ("drop", "points", "bed", "k") if getattr(self, name) is not None]
        if len(given) != 1:
            raise fault(
                f"nothing tells what the {self.device} loses, and there is no usual loss"
                if not given
                else f"{' and '.join(given)} both give its loss",
                'write one, as printed or measured: drop = "1.2 ft at 120 gph", or points = '
                '["0.3 ft at 60 gph", ...], or k; or for media bed = { diameter = "4 in", '
                'depth = "8 in", grain = "1 mm" }',
            )
        if "exponent" in self.model_fields_set and self.drop is None:
            raise fault(
                f"exponent goes with drop, and here {given[0]} gives the loss", "take it out"
            )
        return self

    @property
    def holds(self) -> float:
        """Water in it [m3]; none where nothing tells."""
        if self.volume is not None:
            return self.count * self.volume
        return 0.0 if self.bed is None else self.count * self.bed.holds


class InletPart(SizedPart):
    """Where a stretch takes water from a vessel; first in its stretch."""

    inlet: Annotated[str, Named(_inlet_kind, "square")] = Field(
        description="kind of entrance; left out of a stretch that starts in a vessel: `square`"
    )
    k: LossCoefficient | None = K


class OutletPart(SizedPart):
    """Where a stretch gives water to a vessel or to the open air; last in its stretch.

    Under water it works both ways. `free`, and any other but `submerged` that has a `height`,
    pours or jets into the open air, and lets no water back.
    """

    outlet: Annotated[str, Named(_outlet_kind, "submerged")] = Field(
        description="kind of exit; left out of a stretch that ends in a vessel: `submerged`"
    )
    depth: Length | None = Field(None, description="below the water surface", examples=["0.75 in"])
    height: Height | None = Field(
        None,
        description="of the axis of an outlet above the water; of a `submerged` one, where it lies",
        examples=["62 in"],
    )
    siphon_break: Length | None = Field(
        None,
        description="depth at which a hole lets air in when the pump stops",
        examples=["0.25 in"],
    )
    holes: Count | None = Field(
        None, description="number of holes of a spray bar, or jets of a manifold", examples=[20]
    )
    hole: Bore | None = Field(None, description="bore of each of them", examples=["4 mm"])
    slot_length: Side | None = Field(
        None, description="length of a slot along its pipe", examples=["20 in"]
    )
    slot_width: Bore | None = Field(
        None, description="clear width of a slot, beside a screen in it", examples=["4 mm"]
    )
    drop: Drop | None = Field(
        None, description="head wanted before it at one flow, instead of its kind's loss"
    )
    points: Drops | None = Field(
        None,
        description="head wanted before it at several flows, as the table of an eductor has it",
        examples=[["3 ft at 200 gph", "12 ft at 400 gph"]],
    )
    k: LossCoefficient | None = Field(
        None,
        description="loss coefficient on the velocity in `bore`, its narrowing and the head of its "
        "jet among it, instead of its kind's",
    )

    _pipe_bore: float = PrivateAttr(OF_THE_NEIGHBOURS)

    @property
    def law(self) -> outlets.OutletLaw:
        """Loss of its kind."""
        return outlets.outlet(self.outlet)

    @property
    def is_free(self) -> bool:
        """Whether it ends in the open air: nothing comes back through it."""
        return self.outlet != UNDER_WATER and self.height is not None

    @property
    def has_a_throat(self) -> bool:
        """Whether it may narrow to a throat of its own, and its narrowing is part of its loss."""
        if self.k is not None:
            return True
        stated = (self.holes, self.slot_length, self.drop, self.points)
        return self.law.narrows and all(value is None for value in stated)

    @property
    def bore_from(self) -> float:
        """Bore [m] of the pipe before it, where its own narrowing is part of its coefficient."""
        return self._pipe_bore or self.bore

    def row(self) -> ports.Row | None:
        """Give the loss of its holes, jets or slot on the velocity in `bore`; None without any."""
        if self.law.ports is None or (self.holes is None and self.slot_length is None):
            return None
        across = pi / 4.0 * self.bore**2
        if self.holes is not None and self.hole is not None:
            area, number = self.holes * pi / 4.0 * self.hole**2, self.holes
        else:
            area, number = (self.slot_length or 0.0) * (self.slot_width or 0.0), SLICES
        return ports.row(area_ratio=area / across, ports=number, coefficient=self.law.ports)

    def placed(self, *, bore: float, pipe_bore: float) -> OutletPart:
        """Give this outlet with the bore [m] of its throat and that of the pipe before it."""
        part = self.model_copy(update={"bore": bore})
        part._pipe_bore = pipe_bore  # noqa: SLF001  # as pydantic wants it
        return part

    @model_validator(mode="after")
    def _free_has_a_height(self) -> OutletPart:
        if self.outlet == "free" and self.height is None:
            raise fault("a free outlet needs the height of its axis", 'add height = "62 in"')
        if self.depth is not None and self.height is not None:
            raise fault("depth and height both say where it is", "keep one of the two")
        return self

    @model_validator(mode="after")
    def _has_its_ports(self) -> OutletPart:
        slot, stated = self.outlet == SLOT, self.outlet
        keys = ("slot_length", "slot_width") if slot else ("holes", "hole")
        write = (
            'slot_length = "20 in", slot_width = "4 mm"' if slot else 'holes = 20, hole = "4 mm"'
        )
        given = [key for key in PORT_KEYS if getattr(self, key) is not None]
        if strange := [key for key in given if key not in keys or self.law.ports is None]:
            raise fault(
                f'outlet = "{stated}" has no {" and ".join(strange)}',
                'take it out, or write outlet = "spray bar", "multi-jet nozzle" or "slot"',
            )
        losses = [key for key in ("drop", "points", "k") if getattr(self, key) is not None]
        if len(losses) + bool(given) > 1:
            raise fault(
                f"both {' and '.join([*losses, *given[:1]])} give its loss", "keep one of them"
            )
        if 0 < len(given) < len(keys) or not (given or losses or isfinite(self.law.k)):
            raise fault(f"{_a(stated)} needs {' and '.join(keys)}", f"write {write}")
        return self


class LossPart(SizedPart):
    """A bare loss coefficient."""

    k: LossCoefficient = Field(description="loss coefficient on the velocity in `bore`")


KINDS: dict[str, type[Part]] = {
    # Order matters: a barb has `hose` too, and most parts may have `k`.
    "fitting": FittingPart,
    "valve": ValvePart,
    "check": CheckPart,
    "device": DevicePart,
    "inlet": InletPart,
    "outlet": OutletPart,
    "pipe": PipePart,
    "hose": HosePart,
    "k": LossPart,
}
"""The key that shows which part it is, and the part."""


def kind_of(part: object) -> str | None:
    """Give the key that shows which part this is, or None."""
    if not isinstance(part, dict):
        return None
    return next((kind for kind in KINDS if kind in part), None)


AnyPart = Annotated[
    Annotated[FittingPart, Tag("fitting")]
    | Annotated[ValvePart, Tag("valve")]
    | Annotated[CheckPart, Tag("check")]
    | Annotated[DevicePart, Tag("device")]
    | Annotated[InletPart, Tag("inlet")]
    | Annotated[OutletPart, Tag("outlet")]
    | Annotated[PipePart, Tag("pipe")]
    | Annotated[HosePart, Tag("hose")]
    | Annotated[LossPart, Tag("k")],
    Discriminator(
        kind_of,
        custom_error_type="fault",
        custom_error_message="{problem}",
        custom_error_context={
            "problem": "this does not say which part it is",
            "remedy": "a part has one of these keys: " + ", ".join(KINDS),
        },
    ),
]
