"""Single values of parts in print, one file in `values/` for each table or example.

A file names its print (`source`, its key or keys in docs/sources.md, `author`, `title`, `year`,
`place`, and how it was `seen`), the `law` that it speaks of, a key of LAWS, and its `values`. Of
each, `given` holds the arguments of that law in words of a plan, `is` what is printed, `within` how
far the law may be from it (a share of it, where that is a percentage) and `because` why so far. A
value that was seen in another way than the rest says so itself.
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy.optimize import brentq

from balance.parts import beds, cement, fittings, outlets, ports, supports
from balance.parts.checks import check_valve
from balance.parts.exchange import exchange_to_leave
from balance.parts.friction import friction, friction_law
from balance.parts.pipes import PipeSize, nominal_bore, pipe
from balance.parts.pumps import GRAVITY, PumpCurve, efficiency, head, power, pump_curve
from balance.parts.ratings import stands, temperature_factor
from balance.parts.sockets import Body, socket, take_out
from balance.parts.sources import sources
from balance.parts.tees import STRAIGHT_A, tee_bank, tee_table
from balance.parts.valve_shapes import ball_area, disc_area, gate_area
from balance.parts.valves import ValveLaw, k_from_cv, k_from_kv, valve
from balance.plan.openings import fraction
from balance.questions.heat import rise
from balance.units import dimension_of, parse
from balance.water import Water, atmosphere, water

HERE = Path(__file__).parent / "values"
FILES: dict[str, dict[str, Any]] = {
    path.stem: tomllib.loads(path.read_text("utf-8")) for path in sorted(HERE.glob("*.toml"))
}
VALUES = [
    pytest.param(case["law"], value, id=f"{name}-{index}")
    for name, case in FILES.items()
    for index, value in enumerate(case["values"])
]
LEAST = 421  # values that there must be
COOL_WATER = 1.0e-6  # m²/s, at 20 degC
PORTS = {"ball": ball_area, "butterfly": disc_area, "gate": gate_area}


def air_pressure(*, altitude: str) -> float:
    """Of the air at an altitude [Pa]."""
    return atmosphere(altitude=parse(altitude, "length"))


def bed_lifting_velocity(*, grain_density: str, density: str, viscosity: str, **bed: Any) -> float:
    """Over the whole section of the bed [m/s]."""
    found = _bed(**bed)
    flow = beds.lifting_flow(
        found,
        viscosity=parse(viscosity, "kinematic viscosity"),
        grain_density=parse(grain_density, "density"),
        density=parse(density, "density"),
    )
    return flow / found.area


def bed_pressure(*, velocity: str, density: str, viscosity: str, **bed: Any) -> float:
    """Lost in a bed that lies still [Pa]."""
    found = _bed(**bed)
    loss = beds.still(found, viscosity=parse(viscosity, "kinematic viscosity"))
    flow = np.array(parse(velocity, "velocity") * found.area)
    return float(beds.head_lost(flow, loss=loss).value) * parse(density, "density") * GRAVITY


def bed_weight(*, grain_density: str, density: str, **bed: Any) -> float:
    """Of the grains in the liquid, on the section of the bed [Pa]."""
    liquid = parse(density, "density")
    head = beds.floating_head(
        _bed(**bed), grain_density=parse(grain_density, "density"), density=liquid
    )
    return head * liquid * GRAVITY


def _bed(*, grain: str, voidage: str, sphericity: float, depth: str = "1 m") -> beds.Bed:
    return beds.Bed(
        diameter=1.0,
        depth=parse(depth, "length"),
        grain=parse(grain, "length"),
        voidage=parse(voidage, "percent"),
        sphericity=sphericity,
    )


def check_loss(*, check: str, bore: str) -> float:
    """K of an open check valve, fully turbulent, on the velocity in its bore."""
    return check_valve(check, bore=parse(bore, "length")).k


def cut_length(*, pipe: str, visible: str) -> float:
    """Of a pipe that is seen for so long between two fittings [m]."""
    return parse(visible, "length") + 2.0 * socket_depth(pipe=pipe, body="fitting")


def enlargement(*, area_ratio: float) -> float:
    """K of a sudden enlargement, on the velocity after it."""
    return fittings.step(bore_from=1.0, bore_to=area_ratio**0.5) * area_ratio**2


def entrance_loss(*, inlet: str) -> float:
    """K of an entrance, on the velocity in the pipe behind it."""
    return outlets.inlet(inlet).k


def fitting_bores(*, fitting: str, size: str, friction_factor: float) -> float:
    """Bores of pipe that lose as much as a fitting, fully turbulent."""
    return fittings.fitting(fitting, nominal_bore(size)).k / friction_factor


def fitting_length(*, fitting: str, size: str, velocity: str) -> float:
    """Length of smooth pipe that loses as much as a fitting, in water of 20 degC [m]."""
    bore = nominal_bore(size)
    reynolds = parse(velocity, "velocity") * bore / COOL_WATER
    smooth = friction(np.array([reynolds]), friction_law(0.0))
    friction_factor = float(smooth.y[0]) / reynolds**2
    return fitting_loss(fitting=fitting, size=size, velocity=velocity) * bore / friction_factor


def fitting_loss(*, fitting: str, size: str, velocity: str | None = None) -> float:
    """K of a fitting, on the velocity in its bore; fully turbulent, or in water of 20 degC."""
    bore = nominal_bore(size)
    loss = fittings.fitting(fitting, bore)
    if velocity is None:
        return loss.k
    return loss.k + loss.k_laminar * COOL_WATER / (parse(velocity, "velocity") * bore)


def friction_factor(*, reynolds: float, roughness: str, bore: str) -> float:
    """Darcy's."""
    relative = parse(roughness, "length") / parse(bore, "length")
    y = friction(np.array([reynolds]), friction_law(relative)).y[0]
    return float(y) / reynolds**2


def friction_head(*, pipe: str, length: str, flow: str) -> float:
    """Of fresh water at 20 degC in straight pipe [m]."""
    size, viscosity = _pipe(pipe), _water("20 degC", "0 g/kg").kinematic_viscosity
    reynolds = 4.0 * parse(flow, "flow") / (np.pi * size.bore * viscosity)
    y = friction(np.array([reynolds]), friction_law(size.roughness / size.bore)).y[0]
    return (
        float(y)
        * parse(length, "length")
        / size.bore
        * (viscosity / size.bore) ** 2
        / (2.0 * GRAVITY)
    )


def heater_time(*, power: str, mass: str, temperature: str, warmer: float) -> float:
    """Time in which a heater makes fresh water, weighed, warmer by so many K [s]."""
    medium = _water(temperature, "0 g/kg")
    volume = parse(mass, "mass") / medium.density
    return warmer / rise(parse(power, "power"), volume=volume, water=medium)


def jet_flow(*, outlet: str, bore: str, head: str) -> float:
    """Of a nozzle with a head before it [m³/s]."""
    velocity = (2.0 * GRAVITY * parse(head, "head") / outlets.outlet(outlet).k) ** 0.5
    return float(velocity * np.pi / 4.0 * parse(bore, "length") ** 2)


def joint_cure(*, size: str, temperature: str) -> float:
    """Before a cemented joint is pressed [s]."""
    return _cure(size, temperature).cure


def joint_set(*, size: str, temperature: str) -> float:
    """Before a cemented joint is moved [s]."""
    return _cure(size, temperature).set


def _cure(size: str, temperature: str) -> cement.Cure:
    found = cement.cure_times(size, temperature=parse(temperature, "temperature"))
    assert found is not None
    return found


def joints_of_cement(*, size: str, volume: str) -> float:
    """Made by a volume of solvent cement."""
    found = cement.joints_per_volume(size)
    assert found is not None
    return found.per_litre * parse(volume, "volume") * 1000.0


def mouthpiece_coefficient(*, inlet: str, outlet: str) -> float:
    """Discharge coefficient of an entrance and an outlet with nothing between them."""
    return float((outlets.inlet(inlet).k + outlets.outlet(outlet).k) ** -0.5)


def pipe_bore(*, pipe: str) -> float:
    """Inside diameter [m]."""
    return _pipe(pipe).bore


def pipe_pressure(*, pipe: str, temperature: str) -> float:
    """That a pipe with plain ends stands [Pa]."""
    found = stands(_pipe(pipe), temperature=parse(temperature, "temperature"))
    assert found is not None
    return found


def pipe_support(*, pipe: str, temperature: str) -> float:
    """Greatest distance between clamps of a level pipe [m]."""
    found = supports.support_spacing(_pipe(pipe), temperature=parse(temperature, "temperature"))
    assert found is not None
    return found.length


def pipe_warmth(*, material: str, temperature: str) -> float:
    """Share of its pressure that a material keeps."""
    return temperature_factor(material, temperature=parse(temperature, "temperature"))


def pipe_weight(*, pipe: str, length: str) -> float:
    """Of an empty length of pipe [kg]."""
    weight = supports.weight_empty(_pipe(pipe))
    assert weight is not None
    return weight * parse(length, "length")


def port_coefficient(*, edge: str) -> float:
    """Discharge coefficient of a hole from still water."""
    return ports.COEFFICIENTS[edge](0.0)


def pump_at_another_speed(*, of: str, rpm: float, to_rpm: float, **duty: str) -> float:
    """Flow [m³/s], head [m] or power [W] of a duty, or head at no flow, at another speed."""
    curve, n = _pump(**duty), to_rpm / rpm
    if of == "shut-off head":
        return float(head(curve, 0.0, n).value)
    if of == "flow":
        wanted = n**2 * curve.head[1]
        return brentq(lambda q: float(head(curve, q, n).value) - wanted, 0.0, n * curve.flow[2])
    at_duty = n * curve.flow[1]
    return float(head(curve, at_duty, n).value if of == "head" else power(curve, at_duty, n))


def pump_efficiency(*, cost: float, price: float, hours: float, **duty: str) -> float:
    """Wire to water, of a pump whose running at one duty costs so much."""
    curve = _pump(**duty, power=f"{cost / (price * hours)} kW")
    return float(efficiency(curve, curve.flow[1], 1.0))


def _pump(*, flow: str, head: str, dead_head: str | None = None, power: str = "1 kW") -> PumpCurve:
    """A pump through a duty; what is not asked of it elsewhere is of no matter."""
    at = parse(head, "head")
    return pump_curve(
        np.array([0.0, 1.0, 2.0]) * parse(flow, "flow"),
        np.array([1.2 * at if dead_head is None else parse(dead_head, "head"), at, 0.4 * at]),
        np.array([0.6, 1.0, 1.2]) * parse(power, "power"),
    )


def socket_depth(*, pipe: str, body: Body) -> float:
    """How far pipe goes in [m]."""
    found = socket(_pipe(pipe), body=body)
    assert found is not None
    return found.depth


def step_loss(*, bore_from: str, bore_to: str, angle: str = "180 deg") -> float:
    """K of a step in bore, on the velocity in the smaller bore."""
    return fittings.step(
        bore_from=parse(bore_from, "length"),
        bore_to=parse(bore_to, "length"),
        angle=parse(angle, "angle"),
    )


def take_out_length(*, pipe: str, kind: str) -> float:
    """From the centre of a part to the end of the pipe in it [m]."""
    found = take_out(_pipe(pipe), kind=kind)
    assert found is not None
    return found.length


def tee_loss(*, flow: str, leg: str, share: float, angle: str = "90 deg") -> float:
    """K of one way through a tee of equal bores, on the velocity in the leg that carries all.

    `share` : of the flow, that the side leg takes or brings.
    """
    table = tee_table(area_ratio=1.0, angle=parse(angle, "angle"))
    bank = tee_bank([table], [STRAIGHT_A], [1.0])
    into_b, into_side = {"divides": (share - 1.0, -share), "combines": (-1.0, share)}[flow]
    loss = bank.losses(np.array([[into_b]]), np.array([[into_side]]))
    run, to_side = float(loss.first[0, 0]), float(loss.second[0, 0])
    if leg == "run":
        return run
    return to_side if flow == "divides" else run - to_side


def tee_of_flows(*, run: str, side: str, **tee: Any) -> float:
    """As `tee_loss`, by the flows in two of its legs."""
    brought = parse(side, "flow")
    return tee_loss(share=brought / (brought + parse(run, "flow")), **tee)


def time_to_exchange(*, share: float, system: str, flow: str) -> float:
    """Until a share of what was in a tank is left, by an exchange at a flow [s]."""
    volume = exchange_to_leave(share, system=parse(system, "volume"))
    return float(volume) / parse(flow, "flow")


def valve_area(*, valve: str, at: str) -> float:
    """Open share of the port of a valve."""
    return float(PORTS[valve](np.array(_opening(_valve(valve), at))).value)


def valve_bores(*, valve: str, size: str, friction_factor: float) -> float:
    """Bores of pipe that lose as much as an open valve, fully turbulent."""
    return valve_open(valve=valve, size=size) / friction_factor


def valve_coefficient(*, bore: str, **coefficient: float) -> float:
    """K on the velocity in a bore of a valve with a Cv or Kv."""
    ((kind, number),) = coefficient.items()
    return {"cv": k_from_cv, "kv": k_from_kv}[kind](number, bore=parse(bore, "length"))


def valve_excess(*, valve: str, at: str) -> float:
    """K beyond that of the open valve, on the velocity in its port."""
    law = _valve(valve)
    return (_loss(law, at) - law.k_open) / law.scale


def valve_flow_share(*, valve: str, at: str) -> float:
    """Flow at equal head, as a share of that of the open valve."""
    law = _valve(valve)
    return float((law.k_open / _loss(law, at)) ** 0.5)


def valve_loss(*, valve: str, at: str) -> float:
    """K on the velocity in its bore, 1 in."""
    return _loss(_valve(valve), at)


def valve_open(*, valve: str, size: str) -> float:
    """K of an open valve, fully turbulent."""
    return _valve(valve, bore=nominal_bore(size)).k_open


def valve_pressure(*, cv: float, flow: str, density: str) -> float:
    """Lost in a valve of a flow coefficient [Pa]."""
    bore = 0.1  # of any pipe
    velocity = parse(flow, "flow") / (np.pi / 4.0 * bore**2)
    return float(k_from_cv(cv, bore=bore) * parse(density, "density") / 2.0 * velocity**2)


def vapour_pressure(*, temperature: str, salinity: str) -> float:
    """Of fresh or salt water [Pa]."""
    return _water(temperature, salinity).vapour_pressure


def water_density(*, temperature: str, salinity: str) -> float:
    """Of fresh or salt water [kg/m³]."""
    return _water(temperature, salinity).density


def water_specific_heat(*, temperature: str, salinity: str) -> float:
    """Of fresh or salt water [J/(kg K)]."""
    return _water(temperature, salinity).specific_heat


def water_viscosity(*, temperature: str, salinity: str) -> float:
    """Kinematic, of fresh or salt water [m²/s]."""
    return _water(temperature, salinity).kinematic_viscosity


def _water(temperature: str, salinity: str) -> Water:
    return water(
        temperature=parse(temperature, "temperature"), salinity=parse(salinity, "salinity")
    )


def _pipe(text: str) -> PipeSize:
    return pipe(text)


def _valve(kind: str, *, bore: float = 0.0254) -> ValveLaw:
    return valve(kind, bore=bore)


def _opening(law: ValveLaw, at: str) -> float:
    return fraction(at, handle=law.handle, turns=None)


def _loss(law: ValveLaw, at: str) -> float:
    return float(law.loss_coefficient(np.array(_opening(law, at))).k)


LAWS: dict[str, Callable[..., float]] = {
    "air pressure": air_pressure,
    "bed lifting velocity": bed_lifting_velocity,
    "bed pressure": bed_pressure,
    "bed weight": bed_weight,
    "check loss": check_loss,
    "cut length": cut_length,
    "enlargement": enlargement,
    "entrance loss": entrance_loss,
    "fitting bores": fitting_bores,
    "fitting length": fitting_length,
    "fitting loss": fitting_loss,
    "friction factor": friction_factor,
    "friction head": friction_head,
    "heater time": heater_time,
    "jet flow": jet_flow,
    "joint cure": joint_cure,
    "joint set": joint_set,
    "joints of cement": joints_of_cement,
    "mouthpiece coefficient": mouthpiece_coefficient,
    "pipe bore": pipe_bore,
    "pipe pressure": pipe_pressure,
    "pipe support": pipe_support,
    "pipe warmth": pipe_warmth,
    "pipe weight": pipe_weight,
    "port coefficient": port_coefficient,
    "pump at another speed": pump_at_another_speed,
    "pump efficiency": pump_efficiency,
    "socket depth": socket_depth,
    "step loss": step_loss,
    "take-out": take_out_length,
    "tee loss": tee_loss,
    "tee of flows": tee_of_flows,
    "time to exchange": time_to_exchange,
    "valve area": valve_area,
    "valve bores": valve_bores,
    "valve coefficient": valve_coefficient,
    "valve excess": valve_excess,
    "valve flow share": valve_flow_share,
    "valve loss": valve_loss,
    "valve open": valve_open,
    "valve pressure": valve_pressure,
    "vapour pressure": vapour_pressure,
    "water density": water_density,
    "water specific heat": water_specific_heat,
    "water viscosity": water_viscosity,
}


@pytest.mark.parametrize(("law", "value"), VALUES)
def test_value_in_print(law: str, value: dict[str, Any]) -> None:
    printed = number(value["is"])
    found = LAWS[law](**value["given"])
    assert found == pytest.approx(printed, rel=0, abs=limit(value["within"], printed))


def number(written: float | str) -> float:
    """A bare number, or a quantity in SI."""
    if not isinstance(written, str):
        return float(written)
    dimension = dimension_of(written)
    assert dimension is not None, f"{written} has no unit"
    return parse(written, dimension)


def limit(within: float | str, printed: float) -> float:
    share = isinstance(within, str) and within.endswith("%")
    return number(within) * (abs(printed) if share else 1.0)


@pytest.mark.parametrize("name", FILES)
def test_file_names_its_print(name: str) -> None:
    case = FILES[name]
    assert all(case[key].strip() for key in ("author", "title", "place", "seen"))
    assert 1840 <= case["year"] <= 2025
    assert not set(case["source"].split("; ")) - sources().keys()
    assert case.keys() - {"source"} <= {
        "author",
        "title",
        "year",
        "place",
        "seen",
        "note",
        "law",
        "values",
    }
    assert case["values"]


@pytest.mark.parametrize(("law", "value"), VALUES)
def test_value_says_how_near_and_why(law: str, value: dict[str, Any]) -> None:
    assert value["because"].strip()
    assert value.keys() <= {"given", "is", "within", "because", "seen"}
    assert limit(value["within"], number(value["is"])) > 0.0


def test_every_law_is_spoken_of() -> None:
    assert {case["law"] for case in FILES.values()} == LAWS.keys()
    assert list(LAWS) == sorted(LAWS)


def test_there_are_enough_of_them() -> None:
    assert len(VALUES) >= LEAST
