"""What flows, on one screen."""

from __future__ import annotations

from rich.text import Text

from balance.questions.flows import BranchState, Flows
from balance.show import pressures
from balance.show.page import Column
from balance.show.pressures import suction_lines
from balance.show.pumps import pump_lines
from balance.show.terminal import page
from balance.show.words import bare, between, percent, tiny
from balance.units import SYSTEMS, UnitSystem


def show(answer: Flows) -> None:
    """Prints branches, pumps, notes and residuals."""
    system = SYSTEMS[answer.plan.units]
    flow, speed, head = (system.unit(name) for name in ("flow", "velocity", "head"))
    columns = (
        Column("branch", "words"),
        Column("handle\nstands at"),
        Column(f"flow\n{flow}", "decimal"),
        Column(f"wanted\n{flow}"),
        Column("share\nof all"),
        Column(f"up to\n{speed}"),
        Column(f"at tap\n{head}"),
        Column("", "words"),
    )
    with page() as to:
        to.title(f"{answer.title or 'This plan'}: what flows as it stands")
        to.table(columns, (_row(state, system) for state in answer.branches))
        to.section(
            "Pump" if len(answer.pumps) == 1 else "Pumps",
            pump_lines(answer.pumps, answer.plan, system),
        )
        to.section("Suction", suction_lines(answer.suctions, system))
        pressures.show(to, answer.pressures, system)
        to.notes(answer.notes)
        to.print()
        to.print(
            f'"At tap" is head above the water that the pump draws from; "up to" the greatest '
            "velocity in pipe and hose. Flows balance within "
            f"{tiny(system, answer.worst_imbalance, 'flow')} {flow}, heads close within "
            f"{tiny(system, answer.worst_mismatch, 'head')} {head}.",
            style="dim",
        )


def _row(state: BranchState, system: UnitSystem) -> tuple[str | Text, ...]:
    return (
        state.branch,
        state.mark or "no valve",
        bare(system, state.flow, "flow"),
        between(system, state.low, state.high),
        percent(state.share),
        bare(system, state.velocity, "velocity"),
        bare(system, state.head_at_tap, "head"),
        _remark(state),
    )


def _remark(state: BranchState) -> Text:
    if not state.within_limits:
        least = state.limits[0]
        side = "below" if least is not None and state.flow < least else "above"
        return Text(f"{side} its limits", style="bold red")
    if state.met is None:
        return Text("")
    if state.met:
        return Text("met", style="green")
    short = state.low is not None and state.flow < state.low
    return Text("too little" if short else "too much", style="yellow")
