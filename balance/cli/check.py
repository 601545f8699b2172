"""`balance check PLAN` says what the file describes, and what is doubtful."""

from __future__ import annotations

from balance.cli.options import AsJson, InUnits, PlanFile, print_json, read_plan
from balance.cli.outcome import ANSWER, NOT_MET


def check(plan: PlanFile, units: InUnits = None, json: AsJson = False) -> int:
    """Say what a plan describes, and what is doubtful.

    Ends with 1 if something is not safe: water would reach the floor.
    """
    from balance.questions.check import check as ask

    answer = ask(read_plan(plan, units))
    if json:
        print_json(answer.to_dict())
    else:
        from balance.show.check import show

        show(answer)
    return ANSWER if answer.safe else NOT_MET
