"""The parts of a stretch of plumbing, as a plan writes them in ``parts = [ ... ]``.

Which part a ``{ ... }`` is shows in the key it has: ``pipe``, ``valve``, ``outlet`` and so on.
"""

from __future__ import annotations

from collections.abc import Callable
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
from balance.parts import checks, fittings, outlets, valves
from balance.plan.fields import (
    Bore,
    Count,
    Drop,
    Drops,
    Exponent,
    FrictionFactor,
    Head,
    Height,
    Hose,
    HoseSize,
    Length,
    LossCoefficient,
    Named,
    Percent,
    Pipe,
    Positive,
    Pressure,
    Roughness,
    Size,
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


class Table(BaseModel):
    """Base of everything a plan holds: frozen, and no key beyond those described."""

    model_config = ConfigDict(frozen=True, extra="forbid", arbitrary_types_allowed=True)


def one_of(value: str, known: tuple[str, ...], kind: str) -> str:
    """Give the known kind that this text names, whatever its case and spaces, or raise a fault."""
    by_fold = {name.casefold(): name for name in known}
    folded = " ".join(value.split()).casefold()
    if folded not in by_fold:
        near = nearest(folded, known)
        raise unknown_kind(UnknownNameError(kind, value, (near,) if near else (), known))
    return by_fold[folded]


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
    def bore_from(self) -> float:
        """Bore [m] at the side where the stretch comes in."""
        return self.bore

    @property
    def bore_to(self) -> float:
        """Bore [m] at the side where the stretch goes on."""
        return self.bore


class PipePart(StraightPart):
    """A length of rigid pipe."""

    pipe: Pipe = Field(description="`1 in sch 40`, `32 mm PN10` or `80 mm bore`")

    @property
    def bore(self) -> float:
        """Inside diameter [m]."""
        return self.pipe.bore


class HosePart(StraightPart):
    """A length of hose."""

    hose: Hose = Field(description="inside diameter by which the hose is sold")

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
    to: Size | None = Field(None, description="second size of a bushing or reducer")
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
    k: LossCoefficient | None = K


class DevicePart(SizedPart):
    """A reactor, steriliser, chiller: anything whose loss was measured or printed."""

    device: str = Field(description="what it is, in words", examples=["reactor"])
    drop: Drop | None = Field(None, description="head lost at one flow")
    points: Drops | None = Field(
        None,
        description="head lost at several flows",
        examples=[["0.3 ft at 60 gph", "1.2 ft at 120 gph"]],
    )
    k: LossCoefficient | None = Field(
        None, description="loss coefficient on the velocity in its bore, instead of `drop`"
    )
    exponent: Exponent = Field(2.0, description="power of flow to which the loss in `drop` rises")
    volume: Volume | None = Field(None, description="water it holds")
    fouled: Percent = Field(0.0, description="loss added by dirt at equal flow", examples=["30 %"])

    @model_validator(mode="after")
    def _has_a_loss(self) -> DevicePart:
        given = [name for name in ("drop", "points", "k") if getattr(self, name) is not None]
        if len(given) != 1:
            raise fault(
                "a device needs its loss"
                if not given
                else f"both {' and '.join(given)} give its loss",
                'write one: drop = "1.2 ft at 120 gph", or points, or k',
            )
        return self


class InletPart(SizedPart):
    """Where a stretch takes water from a vessel; first in its stretch."""

    inlet: Annotated[str, Named(_inlet_kind, "square")] = Field(
        description="kind of entrance; left out of a stretch that starts in a vessel: `square`"
    )
    k: LossCoefficient | None = K


class OutletPart(SizedPart):
    """Where a stretch gives water to a vessel or to the open air; last in its stretch."""

    outlet: Annotated[str, Named(_outlet_kind, "submerged")] = Field(
        description="kind of exit; left out of a stretch that ends in a vessel: `submerged`"
    )
    depth: Length | None = Field(None, description="below the water surface", examples=["0.75 in"])
    height: Height | None = Field(
        None, description="of the axis of a free outlet", examples=["62 in"]
    )
    siphon_break: Length | None = Field(
        None,
        description="depth at which a hole lets air in when the pump stops",
        examples=["0.25 in"],
    )
    k: LossCoefficient | None = K

    _pipe_bore: float = PrivateAttr(OF_THE_NEIGHBOURS)

    @property
    def bore_from(self) -> float:
        """Bore [m] of the pipe before it, where its own narrowing is part of its coefficient."""
        return self._pipe_bore or self.bore

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
