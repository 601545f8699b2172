"""What a plan holds: every table and key of the file, with its unit, its default and its meaning.

Values are SI floats (m, m3/s, kg/m3, W, heads in m of the system's water) once they are here. The
attribute of a key has the key's name, but for ``from``, which Python keeps for itself: ``from_``.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import pairwise
from math import pi
from pathlib import Path as FilePath
from typing import Annotated, Literal, Self, TypeVar

from pydantic import Field, PrivateAttr, StrictBool, field_validator, model_validator
from pydantic_core.core_schema import ValidationInfo

from balance.errors import Fault, PlanError, UnknownNameError, UsageError
from balance.parts.families import CurvePoints
from balance.parts.pipes import INCH, nominal_bore
from balance.plan.curves import curve_of_points, read_curve
from balance.plan.fields import (
    HEIGHT,
    SPEED,
    VOLUME,
    Altitude,
    Cooling,
    Count,
    Density,
    Drop,
    Flow,
    FrictionFactor,
    Height,
    HoursADay,
    Length,
    Lengths,
    NotNegative,
    Percent,
    PercentRange,
    Pipe,
    PipeName,
    Positive,
    Roughness,
    Salinity,
    Side,
    Size,
    Speed,
    SpeedRange,
    SpeedStep,
    Temperature,
    Time,
    Viscosity,
    Volume,
    WaterVolume,
    Watts,
    fault,
    faults_of_a_file,
    folder_of,
    nearest,
    quoted,
)
from balance.plan.learnt import Learnt, LearntNumber
from balance.plan.locate import Path
from balance.plan.names import valve_names
from balance.plan.openings import fraction
from balance.plan.pieces import (
    AnyPart,
    CheckPart,
    DevicePart,
    FittingPart,
    HosePart,
    InletPart,
    LossPart,
    MediaBed,
    OutletPart,
    Part,
    PipePart,
    SizedPart,
    Table,
    ValvePart,
)
from balance.plan.places import Places
from balance.plan.prices import read_prices
from balance.plan.targets import Limits, LimitsText, Target, TargetText

__all__ = [
    "OUTSIDE",
    "AnyPart",
    "Arrangement",
    "Branch",
    "Candidate",
    "Change",
    "CheckPart",
    "CurvePoints",
    "DevicePart",
    "Drain",
    "FittingPart",
    "Group",
    "Header",
    "Heat",
    "HosePart",
    "InletPart",
    "Joint",
    "Learnt",
    "LearntNumber",
    "LossPart",
    "MediaBed",
    "OutletPart",
    "Part",
    "PipePart",
    "Plan",
    "Power",
    "Pump",
    "PumpData",
    "Run",
    "Shop",
    "SizedPart",
    "SmallPump",
    "Spread",
    "Stretch",
    "Table",
    "Tap",
    "Target",
    "ValvePart",
    "ValveRef",
    "Vessel",
    "WaterSpec",
    "Weir",
]

T = TypeVar("T", bound=Table)

OUTSIDE = "outside"
"""The end that is always there: a floor drain, the open air."""

Arrangement = Literal["single", "parallel", "series", "both ends"]
"""How pumps of a kind stand in place of one."""

Parts = tuple[AnyPart, ...]
Name = Annotated[str, Field(min_length=1)]


class WaterSpec(Table):
    """The water in the system; the defaults are common practice, no source."""

    salinity: Salinity = Field(35.0, description="salt in the water", examples=["35 g/kg"])
    temperature: Temperature = Field(25.0, description="of the water", examples=["25 degC"])
    density: Density | None = Field(
        None, description="stated outright; left out: from salinity and temperature"
    )
    kinematic_viscosity: Viscosity | None = Field(
        None, description="stated outright; left out: from salinity and temperature"
    )
    altitude: Altitude = Field(
        0.0, description="of the place above the sea, for the pressure of the air on the water"
    )
    evaporation: Flow | None = Field(
        None, description="water that evaporates", examples=["0.5 gal/day"]
    )


class Vessel(Table):
    """A tank, a sump section, an overflow box: water with a surface.

    Its size by `length` and `width`, by `diameter` or by `table`; with none of them it is endless
    at its level.
    """

    bottom: Height | None = Field(None, description="height of its floor; left out: far below")
    level: Height = Field(description="height of the water surface while running")
    rim: Height | None = Field(None, description="height at which it spills")
    length: Side | None = Field(None, description="inside, seen from above", examples=["36 in"])
    width: Side | None = Field(None, description="inside, seen from above", examples=["18 in"])
    diameter: Side | None = Field(None, description="inside, of a round one", examples=["24 in"])
    table: tuple[tuple[float, float], ...] | None = Field(
        None,
        description="heights and the volumes below them, rising",
        examples=[[["36 in", "0 gal"], ["60 in", "150 gal"]]],
    )
    crest: Height | None = Field(
        None, description="height of the weir that sets its level", examples=["57 in"]
    )
    weir_length: Side | None = Field(None, description="length of that weir", examples=["10 in"])
    displaced: Volume = Field(0.0, description="volume that rock and sand take up")
    like: str | None = Field(
        None, description="another vessel, of which all not restated is copied"
    )

    @field_validator("table", mode="plain", json_schema_input_type=list[tuple[str, str]])
    @classmethod
    def _rising(cls, value: object) -> tuple[tuple[float, float], ...]:
        if not isinstance(value, list) or len(value) < 2:
            raise fault(
                f"{quoted(value)} is not a list of heights with volumes",
                'write table = [["36 in", "0 gal"], ["60 in", "150 gal"]]',
            )
        rows = []
        for row in value:
            if not isinstance(row, list) or len(row) != 2:
                raise fault(
                    f"{quoted(row)} is not a height with a volume", 'write ["36 in", "0 gal"]'
                )
            rows.append((HEIGHT.read(row[0]), VOLUME.read(row[1])))
        for low, high in pairwise(rows):
            if high[0] <= low[0] or high[1] <= low[1]:
                raise fault("heights or volumes do not rise from row to row", "sort by height")
        return tuple(rows)

    @field_validator("level")
    @classmethod
    def _above_the_bottom(cls, level: float, info: ValidationInfo) -> float:
        bottom = info.data.get("bottom")
        if bottom is not None and level < bottom:
            raise fault(
                "the water surface is below the bottom",
                "all heights count from one datum, not from the vessel's own floor",
            )
        return level

    @field_validator("rim")
    @classmethod
    def _above_the_level(cls, rim: float | None, info: ValidationInfo) -> float | None:
        level = info.data.get("level")
        if rim is not None and level is not None and rim < level:
            raise fault(
                "the level is above the rim, so it would be spilling",
                "lower level, or raise rim; all heights count from one datum",
            )
        return rim

    @model_validator(mode="after")
    def _one_shape(self) -> Vessel:
        if (self.length is None) != (self.width is None):
            missing = "width" if self.width is None else "length"
            raise fault(f"{missing} is missing", f'add {missing} = "18 in", or write diameter')
        shapes = [
            name for name in ("length", "diameter", "table") if getattr(self, name) is not None
        ]
        if len(shapes) > 1:
            raise fault(
                f"its size is given twice, by {' and by '.join(shapes)}", "keep one of them"
            )
        if (self.crest is None) != (self.weir_length is None):
            missing = "crest" if self.crest is None else "weir_length"
            raise fault(f"{missing} is missing", f'add {missing} = "10 in" for its weir')
        room = self._room()
        if room is not None and self.displaced >= room > 0.0:
            raise fault(
                "rock and sand take up all the room below its level",
                "displaced is their own volume, without the water between them",
            )
        return self

    def _room(self) -> float | None:
        """Room below its level, rock and sand among it [m3]; None where it is not told."""
        if self.table is not None:
            for (low, below), (high, above) in pairwise(self.table):
                if low <= self.level <= high:
                    return below + (above - below) * (self.level - low) / (high - low)
            return None
        area = pi / 4 * self.diameter**2 if self.diameter is not None else None
        if self.length is not None and self.width is not None:
            area = self.length * self.width
        return None if area is None or self.bottom is None else area * (self.level - self.bottom)


class CurveFile(Table):
    """One curve of a family."""

    file: str = Field(description="CSV file beside the plan")
    speed: Speed = Field(description="at which this curve was measured", examples=["60 %"])


def _curves(value: object, info: ValidationInfo) -> tuple[CurvePoints, ...]:
    """Read ``curve``: a file beside the plan, or a family of files each at its speed."""
    entries = value if isinstance(value, list) else [{"file": value, "speed": "100 %"}]
    found: list[CurvePoints] = []
    faults: list[Fault] = []
    for entry in entries:
        file = entry.get("file") if isinstance(entry, dict) else None
        if not isinstance(file, str) or not {"file", "speed"} >= entry.keys():
            raise fault(
                f"{quoted(value)} is neither a file nor a family of curves",
                'write curve = "pump.csv", or for a family '
                'curve = [{ file = "pump-60.csv", speed = "60 %" }, ...]',
            )
        speed = SPEED.read(entry.get("speed", "100 %"))
        if speed <= 0.0:
            raise fault("a curve measured at no speed", 'write speed = "60 %"')
        if not (folder_of(info) / file).exists():
            raise fault(
                f'there is no such file: "{file}"', "file names count from the plan's folder"
            )
        try:
            found.append(CurvePoints(read_curve(folder_of(info) / file), speed))
        except PlanError as error:
            faults += error.faults
    if faults:
        raise faults_of_a_file(faults)
    if len({points.speed for points in found}) < len(found) or not found:
        raise fault("two curves of the family have one speed", "give each its own speed")
    return tuple(sorted(found, key=lambda points: -points.speed))


class PumpData(Table):
    """What a pump is, wherever it stands: what its maker and a meter say of it."""

    curve: tuple[CurvePoints, ...] = Field(
        (),
        description="CSV file beside the plan with head against flow; or a family of them, each "
        "at its speed",
        examples=["demo.csv"],
    )
    points: tuple[CurvePoints, ...] = Field(
        (),
        description="the curve at full speed written in the plan itself, instead of `curve`",
        examples=[["0 gph at 13 ft, 35 W", "300 gph at 9 ft, 42 W", "600 gph at 0 ft, 45 W"]],
    )
    speed_range: SpeedRange | None = Field(
        None, description="speeds that an answer may set; left out: speed is fixed"
    )
    speed_step: SpeedStep | None = Field(None, description="step in which it can be set")
    speed_map: tuple[tuple[float, float], ...] | None = Field(
        None,
        description="percent on the controller and true shaft speed, rising",
        examples=[[["40 %", "52 %"], ["100 %", "100 %"]]],
    )
    useful_range: PercentRange | None = Field(
        None,
        description="of run-out flow at its speed, where it runs well; left out: 70 to 120 % of "
        "best-efficiency flow if the curve has power",
    )
    external: StrictBool = Field(
        False, description="true: stands in air, so that its motor's heat stays out of the water"
    )
    stopped: Drop | None = Field(
        None, description="head lost through it at rest, at a flow; left out: from its curve"
    )
    price: NotNegative | None = Field(None, description="what it costs, in `power.currency`")

    @field_validator("curve", mode="plain", json_schema_input_type=str | list[CurveFile])
    @classmethod
    def _files(cls, value: object, info: ValidationInfo) -> tuple[CurvePoints, ...]:
        return _curves(value, info)

    @field_validator("points", mode="plain", json_schema_input_type=list[str])
    @classmethod
    def _written(cls, value: object) -> tuple[CurvePoints, ...]:
        return (CurvePoints(curve_of_points(value, name="pump"), 1.0),)

    @field_validator("speed_map", mode="plain", json_schema_input_type=list[tuple[str, str]])
    @classmethod
    def _map(cls, value: object) -> tuple[tuple[float, float], ...]:
        example = 'write speed_map = [["40 %", "52 %"], ["100 %", "100 %"]]'
        if not isinstance(value, list) or len(value) < 2:
            raise fault(f"{quoted(value)} is not a list of two pairs of speeds or more", example)
        pairs = []
        for pair in value:
            if not isinstance(pair, list) or len(pair) != 2:
                raise fault(f"{quoted(pair)} is not a pair of speeds", example)
            pairs.append((SPEED.read(pair[0]), SPEED.read(pair[1])))
        for low, high in pairwise(pairs):
            if high[0] <= low[0] or high[1] <= low[1]:
                raise fault("the speeds do not rise from pair to pair", "sort them")
        return tuple(pairs)

    @model_validator(mode="after")
    def _one_curve(self) -> Self:
        if bool(self.curve) == bool(self.points):
            raise fault(
                "both curve and points are given" if self.curve else "a pump needs its curve",
                'write curve = "pump.csv" (flow_gph,head_ft,power_w), '
                'or points = ["0 gph at 13 ft", "300 gph at 9 ft", "600 gph at 0 ft"]',
            )
        if self.points:
            object.__setattr__(self, "curve", self.points)
        return self


class Pump(PumpData):
    """A pump, from a vessel or joint to a vessel or joint."""

    from_: Name = Field(alias="from", description="vessel or joint from which it draws")
    to: Name = Field(description="vessel or joint to which it pumps")
    speed: Speed = Field(1.0, description="speed as it stands; `0 %` is stopped")
    intake: Height | None = Field(
        None, description="height of its intake; serves its suction", examples=["2 in"]
    )
    strainer: Side | None = Field(None, description="diameter of its strainer", examples=["3 in"])
    wear: Percent = Field(0.0, description="head and flow lost to wear", examples=["5 %"])
    use: Literal["always", "change"] = Field(
        "always", description="`change`: off but for water changes"
    )


class Stretch(Table):
    """Plumbing from one end to the other without a side leg."""

    parts: Parts = Field((), description="what it is made of, in order of flow")
    high_point: Height | None = Field(
        None, description="its highest point; serves pressures and drain-back", examples=["64 in"]
    )


class Run(Stretch):
    """A stretch between two joints, or between a vessel and a joint."""

    name: Name = Field(description="what it is called")
    from_: Name = Field(alias="from", description="vessel or joint where it begins")
    to: Name = Field(description="vessel or joint where it ends")
    use: Literal["always", "change"] = Field(
        "always", description="`change`: shut but for water changes"
    )


class Tap(Table):
    """A tee along a header, with the pipe that leads to it."""

    branch: Name | None = Field(
        None, description="branch that starts here; left out: the pipe to the header's `to`"
    )
    after: Length = Field(0.0, description="length of header pipe before it", examples=["4 in"])
    side_size: Size | None = Field(
        None, description="size of the tee's side leg; left out: of the header"
    )
    parts: Parts = Field((), description="what else stands in the header before it")
    end: Literal["elbow", "cap"] | None = Field(
        None, description="last tap of a header that ends there; left out: `cap`"
    )

    @property
    def side_bore(self) -> float | None:
        """Bore [m] of the tee's side leg where the tap states its size."""
        return None if self.side_size is None else nominal_bore(self.side_size)


class Header(Table):
    """A pipe with tees along it."""

    name: Name = Field(description="what it is called")
    from_: Name = Field(alias="from", description="vessel or joint that feeds it")
    to: Name | None = Field(
        None, description="joint that feeds it at its other end too; `from` again: a ring"
    )
    pipe: Pipe = Field(description="what it is made of")
    roughness: Roughness | None = Field(None, description="left out: of its material")
    friction_factor: FrictionFactor | None = Field(None, description="Darcy, held fixed")
    height: Height | None = Field(
        None, description="of its axis; serves pressures and drain-back", examples=["20 in"]
    )
    taps: tuple[Tap, ...] = Field(description="its tees, in order", min_length=1)


class SmallPump(Table):
    """A pump of its own that a device had, or would need, and that its branch makes needless."""

    watts: Watts = Field(description="what one draws, in W", examples=[12])
    name: str | None = Field(None, description="what it is called", examples=["reactor pump"])
    count: Count = Field(1, description="how many")
    hours: HoursADay | None = Field(
        None, description="a day that it runs; left out: those of `[power]`", examples=[24]
    )


class Branch(Stretch):
    """A stretch whose flow is worth asking about, from a header's tap or from its own `from`."""

    name: Name = Field(description="what it is called")
    from_: Name | None = Field(
        None, alias="from", description="vessel or joint where it begins; left out: its tap"
    )
    to: Name | None = Field(
        None, description="vessel or joint where it ends; left out: a capped spare"
    )
    target: Annotated[Target, TargetText()] | None = Field(None, description="flow asked for")
    share: Positive | None = Field(
        None, description="of what is left: flow over share is equal among sharers", examples=[1]
    )
    weight: Positive = Field(1.0, description="how much its target counts beside others")
    tolerance: Percent | None = Field(
        None, description="what counts as met; left out: 10 %, for ranges and bounds 0 %"
    )
    limits: Annotated[Limits, LimitsText()] = Field(
        (None, None),
        description="least and most flow in every answer",
        examples=[["60 gph", "160 gph"]],
    )
    replaces: tuple[SmallPump, ...] = Field(
        (),
        description="small pumps whose work it does, below",
        examples=[[{"watts": 12, "name": "reactor pump"}]],
    )
    like: str | None = Field(
        None, description="another branch, of which all not restated is copied"
    )


class Drain(Stretch):
    """A stretch by gravity, back to the sump."""

    name: Name = Field(description="what it is called")
    from_: Name = Field(alias="from", description="vessel that it drains")
    to: Name = Field(description="vessel or joint where it ends")
    role: Literal["siphon", "trickle", "emergency", "open", "change"] = Field(
        "open",
        description="siphon (throttled, runs full), trickle, emergency, open (a plain standpipe) "
        "or change (for water changes)",
    )
    inlet: Height | None = Field(
        None, description="height at which water first enters", examples=["56.5 in"]
    )
    like: str | None = Field(None, description="another drain, of which all not restated is copied")


class Weir(Table):
    """An edge over which one vessel spills into another."""

    name: Name = Field(description="what it is called")
    from_: Name = Field(alias="from", description="vessel that spills")
    to: Name = Field(description="vessel that receives")
    crest: Height = Field(description="height of the edge", examples=["57 in"])
    length: Side = Field(description="length of the edge", examples=["10 in"])
    teeth: Percent = Field(0.0, description="share of the length that teeth take up")


class Joint(Table):
    """What there is to say of a joint beyond its name."""

    side: Name | None = Field(
        None, description="run, header, branch or pump that is the side leg of its tee"
    )
    kind: Literal["tee", "wye 45"] = Field("tee", description="tee or wye 45")
    height: Height | None = Field(None, description="serves pressures", examples=["20 in"])
    draw: Flow = Field(0.0, description="flow drawn off here", examples=["12 gpm"])


class Group(Table):
    """Branches that are looked at together."""

    branches: tuple[Name, ...] = Field(
        description="their names", min_length=1, examples=[["return left", "return right"]]
    )
    target: Annotated[Target, TargetText()] | None = Field(None, description="for their total")


class Power(Table):
    """What electricity costs; hours and years left out are our own choice."""

    price: NotNegative = Field(0.0, description="of one kWh, in `currency`", examples=[0.3])
    currency: str = Field("", description="as printed behind amounts", examples=["EUR"])
    hours: HoursADay = Field(24.0, description="a day")
    years: Positive = Field(5.0, description="over which pumps are compared")


class Heat(Table):
    """Where the heat of pumps goes."""

    volume: WaterVolume | None = Field(
        None,
        description="water that takes up the heat; left out: of the vessels at their levels",
    )
    chiller: Cooling | None = Field(
        None, description="heat that a chiller takes out, as its maker says"
    )


class Candidate(PumpData):
    """A pump to compare with the one that is there."""

    name: Name | None = Field(None, description="left out: the name of its curve file")
    arrangement: Arrangement = Field(
        "single",
        description="`parallel`: two side by side; `series`: one behind the other; `both ends`: "
        "one at each end of the header; each with a check valve",
    )

    @property
    def label(self) -> str:
        """What it is called."""
        return self.name or self.curve[0].curve.name


class Change(Table):
    """A water change by drain and pump."""

    from_: Name | None = Field(None, alias="from", description="vessel of the new water")
    volume: Volume = Field(description="water changed", examples=["20 gal"])
    drain: Name | None = Field(None, description="drain or run that takes the old water away")
    pump: Name | None = Field(None, description="pump that brings the new water")
    salinity: Salinity | None = Field(
        None, description="of the new water; left out: as in the system", examples=["35 g/kg"]
    )
    order: Literal["drain first", "fill first", "together"] = Field(
        "drain first", description="which goes first"
    )
    running: StrictBool = Field(
        True, description="false: the system's own pumps are stopped meanwhile"
    )


class Spread(Table):
    """How sure the data are, as standard deviations.

    The defaults are common practice, no source; those of fittings and valves are of the size of the
    spreads in edb, table 32, those of readings of what a hand, a bucket and a stopwatch do.
    """

    full_open: Percent = Field(0.25, description="valves full open, and elbows, each for itself")
    common: Percent = Field(0.20, description="one factor on all of them together")
    tees: Percent = Field(0.30, description="tees")
    barbs: Percent = Field(0.40, description="barbs")
    devices: Percent = Field(0.20, description="devices")
    ball: NotNegative = Field(0.5, description="ball valves at mid travel, in the logarithm of K")
    ball_offset: float = Field(
        3.0 / 90.0,
        description="where shut is on a ball valve's handle",
        examples=["3 deg"],
    )
    gate: NotNegative = Field(0.4, description="gate valves at mid travel, in the logarithm of K")
    hose_bore: Percent = Field(0.03, description="bore of hoses")
    pipe_bore: Percent = Field(0.01, description="bore of pipes")
    roughness: Percent = Field(0.5, description="roughness of all pipes and hoses together")
    pump_head: Percent = Field(0.05, description="head of pumps")
    pump_flow: Percent = Field(0.05, description="flow of pumps")
    speed: Percent = Field(0.03, description="speed of pumps")
    level: Length = Field(0.003, description="water levels", examples=["3 mm"])
    temperature: NotNegative = Field(1.0, description="water temperature, in K")
    mark: float = Field(
        2.0 / 90.0,
        description="a handle set to a mark",
        examples=["2 deg"],
    )
    bucket: Percent = Field(0.015, description="volume of the bucket, common to all readings")
    stopwatch: Time = Field(0.3, description="time of a fill", examples=["0.3 s"])

    @field_validator("ball_offset", "mark", mode="plain", json_schema_input_type=str)
    @classmethod
    def _angle(cls, value: object) -> float:
        if not isinstance(value, str):
            raise fault(f"{quoted(value)} is not an angle", 'write {key} = "3 deg"')
        return fraction(value, handle="degrees", turns=None)


class Shop(Table):
    """How pipe is bought and cut; the defaults are common practice, no source."""

    stock: Lengths | None = Field(
        None,
        description="lengths in which pipe is sold; left out: 10 ft of sizes in inches, 2 m of "
        "metric ones",
        examples=[["5 ft", "10 ft"]],
    )
    offcuts: dict[PipeName, Lengths] = Field(
        default_factory=dict,
        description="pipe that is there already, by its kind",
        examples=[{"1 in sch 40": ["27 in", "14 in"]}],
    )
    kerf: Length = Field(0.003, description="lost at each cut", examples=["1/8 in"])
    tolerance: Length = Field(
        INCH / 16, description="how near to its length a piece is cut", examples=["1/16 in"]
    )
    spare: Percent = Field(
        0.2,
        description="fittings bought beyond what is counted; of each elbow, tee and coupling one "
        "at least",
        examples=["20 %"],
    )
    prices: dict[str, NotNegative] = Field(
        default_factory=dict,
        description="of items as the list names them, in `power.currency`; or a CSV file beside "
        "the plan with the columns `item` and `price`",
        examples=[{"elbow 90, 1 in": 1.2}],
    )

    @field_validator("prices", mode="before")
    @classmethod
    def _of_a_file(cls, value: object, info: ValidationInfo) -> object:
        if not isinstance(value, str):
            return value
        if not (folder_of(info) / value).exists():
            raise fault(
                f'there is no such file: "{value}"', "file names count from the plan's folder"
            )
        try:
            return read_prices(folder_of(info) / value)
        except PlanError as error:
            raise faults_of_a_file(error.faults) from error


@dataclass(frozen=True)
class ValveRef:
    """A valve of a plan, and where it is."""

    name: str
    """Its own name, or that of its stretch."""
    stretch: str
    """Name of the stretch it is in; in a header, ``"<header> to <branch>"``."""
    index: int
    """Its index among the parts of the stretch."""
    part: ValvePart
    path: Path
    """Its place in the file."""


class Plan(Table):
    """Everything a plan file says, checked and in SI."""

    title: str = Field("", description="what the system is called")
    units: Literal["us", "imperial", "metric"] = Field("us", description="how answers are printed")
    measured: Literal["visible", "centre"] = Field(
        "visible",
        description="what lengths mean: pipe seen between fittings, or centre to centre",
    )
    water: WaterSpec = Field(WaterSpec(), description="the water in the system")
    vessels: dict[str, Vessel] = Field(default_factory=dict, description="water with a surface")
    pumps: dict[str, Pump] = Field(default_factory=dict, description="what moves the water")
    runs: tuple[Run, ...] = Field((), description="stretches between joints and vessels")
    headers: tuple[Header, ...] = Field((), description="pipes with tees along them")
    branches: tuple[Branch, ...] = Field((), description="stretches with a flow worth asking about")
    drains: tuple[Drain, ...] = Field((), description="stretches by gravity")
    weirs: tuple[Weir, ...] = Field((), description="edges between vessels")
    joints: dict[str, Joint] = Field(default_factory=dict, description="more about joints")
    groups: dict[str, Group] = Field(default_factory=dict, description="branches with one total")
    power: Power | None = Field(None, description="what electricity costs")
    heat: Heat | None = Field(None, description="where the heat of pumps goes")
    candidates: tuple[Candidate, ...] = Field((), description="pumps to compare")
    change: Change | None = Field(None, description="a water change")
    spread: Spread = Field(Spread(), description="how sure the data are")
    shop: Shop | None = Field(None, description="how pipe is bought")
    learnt: Learnt | None = Field(None, description="what readings told of it")

    _places: Places = PrivateAttr(default_factory=Places)
    _path: FilePath | None = PrivateAttr(None)

    def placed(self, places: Places) -> Plan:
        """Give the plan with the places of everything in its file."""
        plan = self.model_copy()
        plan._places = places  # noqa: SLF001  # pydantic has no other way to fill a private field
        return plan

    def read_from(self, path: FilePath) -> Plan:
        """Give the plan with the file that it was read from."""
        plan = self.model_copy()
        plan._path = path  # noqa: SLF001
        return plan

    @property
    def path(self) -> FilePath | None:
        """The file that was read."""
        return self._path

    @property
    def file(self) -> str:
        """Name of the file, as shown in faults and doubts."""
        return self._places.file

    def line_of(self, path: Path) -> int | None:
        """Give the line of a key, ``("branches", "refugium", "target")``, or of what holds it."""
        return self._places.line(path)

    def words(self, path: Path) -> str:
        """Give a path as the plan's writer would say it: ``branches "refugium" > target``."""
        return self._places.words(path)

    @property
    def running(self) -> dict[str, Pump]:
        """Pumps that run all the time; those for water changes are off but for these."""
        return {name: pump for name, pump in self.pumps.items() if pump.use == "always"}

    def with_new_pumps(self, pumps: dict[str, Pump]) -> Plan:
        """Give the plan with new pumps, of which nothing was learnt, under these names."""
        learnt = None if self.learnt is None else self.learnt.without("pump", pumps)
        return self.model_copy(update={"pumps": {**self.pumps, **pumps}, "learnt": learnt})

    def stretches(self) -> Iterator[Run | Branch | Drain]:
        """All runs, branches and drains; headers are separate."""
        yield from self.runs
        yield from self.branches
        yield from self.drains

    def valves(self) -> tuple[ValveRef, ...]:
        """All valves that a hand can set, in the order of runs, headers, branches and drains."""
        found: list[ValveRef] = []
        for index, run in enumerate(self.runs):
            found += _valves(run.name, run.parts, ("runs", index))
        for index, header in enumerate(self.headers):
            for at, tap in enumerate(header.taps):
                name = f"{header.name} to {tap.branch or header.to}"
                found += _valves(name, tap.parts, ("headers", index, "taps", at))
        for index, branch in enumerate(self.branches):
            found += _valves(branch.name, branch.parts, ("branches", index))
        for index, drain in enumerate(self.drains):
            found += _valves(drain.name, drain.parts, ("drains", index))
        return tuple(found)

    def valve(self, name: str) -> ValveRef:
        """Find a valve by its name, whatever the case.

        Raises
        ------
        UnknownNameError
            With the nearest names.
        """
        by_name = {ref.name.casefold(): ref for ref in self.valves()}
        if name.casefold() not in by_name:
            known = tuple(ref.name for ref in by_name.values())
            near = nearest(name, known)
            raise UnknownNameError("valve", name, (near,) if near else (), known)
        return by_name[name.casefold()]

    def valve_of(self, name: str) -> ValveRef:
        """Find a valve by its name, or by that of the stretch whose one free valve it is.

        Raises
        ------
        UnknownNameError
            With the nearest names of valves.
        """
        try:
            return self.valve(name)
        except UnknownNameError:
            of_stretch = [
                ref
                for ref in self.valves()
                if ref.stretch.casefold() == name.casefold() and not ref.part.locked
            ]
            if len(of_stretch) == 1:
                return of_stretch[0]
            raise

    def with_openings(self, openings: Mapping[str, float]) -> Plan:
        """Give the plan with valves set anew.

        Parameters
        ----------
        openings
            From the name of a valve to its opening as a fraction of travel, 0 (shut) to 1 (full);
            `balance.plan.openings.parse_opening` reads one from text. Locked valves are set too.

        Raises
        ------
        UnknownNameError
            If there is no such valve.
        UsageError
            If an opening is not from 0 to 1.
        """
        plan = self
        for name, opening in openings.items():
            ref = self.valve(name)
            if not 0.0 <= opening <= 1.0:
                raise UsageError(
                    f'"{ref.name}": {opening:g} is no opening; '
                    "give a fraction of travel from 0 (shut) to 1 (full)"
                )
            part = ref.part.model_copy(update={"open": float(opening)})
            plan = _with(plan, ref.path, part)
        return plan

    def with_speed(self, speeds: Mapping[str, float]) -> Plan:
        """Give the plan with pumps set to other speeds.

        Parameters
        ----------
        speeds
            From the name of a pump to its speed as a ratio to full speed; 0 is stopped.

        Raises
        ------
        UnknownNameError
            If there is no such pump.
        UsageError
            If a speed is below zero or above twice full speed.
        """
        by_name = {name.casefold(): name for name in self.pumps}
        pumps = dict(self.pumps)
        for given, speed in speeds.items():
            if given.casefold() not in by_name:
                near = nearest(given, self.pumps)
                raise UnknownNameError("pump", given, (near,) if near else (), tuple(self.pumps))
            if not 0.0 <= speed <= SPEED.most:
                raise UsageError(
                    f'"{given}": {speed:g} is no speed; give a ratio from 0 (stopped), 1 is full'
                )
            name = by_name[given.casefold()]
            pumps[name] = pumps[name].model_copy(update={"speed": float(speed)})
        return self.model_copy(update={"pumps": pumps})


def _valves(stretch: str, parts: tuple[Part, ...], path: Path) -> Iterator[ValveRef]:
    """Give the valves of a stretch, each with its name."""
    valves = [(index, part) for index, part in enumerate(parts) if isinstance(part, ValvePart)]
    names = valve_names(stretch, [(part.name, part.locked) for _, part in valves])
    for name, (index, part) in zip(names, valves, strict=True):
        yield ValveRef(name, stretch, index, part, (*path, "parts", index))


def _with(table: T, path: Path, part: Part) -> T:
    """Give a table with another part at the path, all around it copied."""
    section, index, *rest = path
    items = list(getattr(table, str(section)))
    items[int(index)] = _with(items[int(index)], tuple(rest), part) if rest else part
    return table.model_copy(update={str(section): tuple(items)})
