"""One candidate on the plan, its valves and speed at their best."""

from __future__ import annotations

from collections.abc import Iterator

from balance.network.arrays import Network, network_of
from balance.network.solve import solve
from balance.parts.pumps import GRAVITY, head
from balance.plan.model import Power
from balance.questions.aims import NO_FLOW, aims_of
from balance.questions.duty import PumpDuty, pump_duties
from balance.questions.head_lines import HeadLine, pump_line
from balance.questions.pumps.answer import HandleOpening, PumpTrial
from balance.questions.pumps.contenders import Contender
from balance.questions.pumps.dead_head import dead_head
from balance.questions.pumps.doubts import doubts_of
from balance.questions.pumps.margins import margins
from balance.questions.pumps.one_stopped import one_stopped
from balance.questions.pumps.shortfalls import shortfalls_of
from balance.questions.settings.search import Found, search
from balance.questions.speeds import speed_range

ONE_START = (0.6,)  # of the aims, from which a compromise begins: near enough to tell pumps apart


def try_out(
    contender: Contender, *, fouling: float, near: Found | None = None
) -> tuple[PumpTrial, Found]:
    """What a contender does, unranked, and where its search ended.

    Parameters
    ----------
    fouling : rise of losses at equal flow against which its margin is told [ratio]
    near : where the search of another contender on the same plan ended

    Raises SolveError, NoSolutionError.
    """
    network = network_of(contender.plan)
    found = search(
        network,
        starts=ONE_START,
        near=near,
        together=contender.pumps if contender.arrangement != "single" else (),
    )
    solution = solve(network, openings=found.openings, speeds=found.speeds, near=found.here.state)
    duties = pump_duties(solution, speeds=found.speeds)
    # Judged by what flows at these openings: a search that cannot have what is asked for may end at
    # flows that no opening gives.
    flow = solution.state.flow[found.space.branch_rows, 0]
    spare = margins(network, found, state=solution.state, fouling=fouling)
    shortfalls = shortfalls_of(network, found, flow)
    power, energy, cost = (
        _sum(each.power for each in duties),
        _sum(each.energy for each in duties),
        _sum(each.cost for each in duties),
    )
    backwards = tuple(each.pump for each in duties if each.flow < -NO_FLOW)
    idle = tuple(each.pump for each in duties if each.speed > 0.0 and abs(each.flow) <= NO_FLOW)
    hit = int(spare.fouled.argmin())
    trial = PumpTrial(
        rank=0,
        name=contender.name,
        arrangement=contender.arrangement,
        as_planned=contender.as_planned,
        own=contender.pumps,
        meets=not (shortfalls or backwards or idle),
        backwards=backwards,
        idle=idle,
        shortfalls=shortfalls,
        reach=spare.reach,
        speeds=tuple(duty.speed for duty in duties if duty.pump in contender.pumps),
        speed_is_free=any(duty.speed_is_free for duty in duties if duty.pump in contender.pumps),
        flow=float(network.topology.taken(solution.state.flow)[0]),
        pumps=duties,
        in_useful_range=_all_in_range(duties),
        power=power,
        efficiency=_efficiency(network, duties, power),
        heat=_sum(each.heat for each in duties),
        energy=energy,
        cost=cost,
        price=contender.price,
        total_cost=_total_cost(contender, cost),
        fouling_loss=1.0 - float(spare.fouled[hit]),
        fouling_hits=network.plan.branches[hit].name,
        fouled_reach=spare.fouled_reach,
        dead_head=dead_head(network),
        wide_open=spare.wide_open,
        one_stopped=one_stopped(network, found, state=solution.state),
        line=_line(network, contender),
        crossing=spare.crossing,
        handles=tuple(
            HandleOpening(valve=valve.name, opening=float(found.openings[place, 0]))
            for place, valve in enumerate(network.valves)
            if not valve.part.locked
        ),
        why="",
        doubts=tuple(doubts_of(network, duties, own=contender.pumps)),
    )
    return trial, found


def strength(contender: Contender) -> float:
    """About the head [m] that its pumps give at top speed when they carry what is asked for."""
    asked = sum(aim.aim or 0.0 for aim in aims_of(contender.plan) if not aim.group)
    count = len(contender.pumps)
    in_series = contender.arrangement == "series"
    pump = contender.plan.pumps[contender.pumps[0]]
    points = pump.curve[0]
    speed = (pump.speed if pump.speed_range is None else pump.speed_range[1]) / points.speed
    given = head(points.curve, asked / (1 if in_series else count), speed)
    return float(given.value) * (count if in_series else 1)


def _line(network: Network, contender: Contender) -> HeadLine | None:
    own = [machine for machine in network.machines if machine.name in contender.pumps]
    if contender.arrangement == "single" and len(network.machines) > 1:
        return None
    in_a_row = len(own) if contender.arrangement == "series" else 1
    top = speed_range(own[0])[1]
    return pump_line(own[0], top, side_by_side=len(own) // in_a_row, in_a_row=in_a_row)


def _sum(values: Iterator[float | None]) -> float | None:
    """The sum; None where one of them is not known."""
    total = 0.0
    for value in values:
        if value is None:
            return None
        total += value
    return total


def _all_in_range(duties: tuple[PumpDuty, ...]) -> bool | None:
    judged = [duty.in_useful_range for duty in duties if duty.in_useful_range is not None]
    return all(judged) if judged else None


def _efficiency(
    network: Network, duties: tuple[PumpDuty, ...], power: float | None
) -> float | None:
    """Work on the water over the power of all pumps."""
    if not power:
        return None
    lifted = sum(max(duty.flow * duty.head, 0.0) for duty in duties)
    return lifted * network.water.density * GRAVITY / power


def _total_cost(contender: Contender, cost: float | None) -> float | None:
    years = (contender.plan.power or Power()).years
    if cost is None or contender.price is None:
        return None
    return contender.price + years * cost
