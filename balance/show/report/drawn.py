"""The pictures of a report, each with the key of its section."""

from __future__ import annotations

from collections.abc import Iterator

from balance.questions.survey import Survey
from balance.show.pictures.drain_levels import drain_levels
from balance.show.pictures.duty import duty
from balance.show.pictures.matrix import closing_matrix
from balance.show.pictures.plumbing import plumbing
from balance.show.pictures.pump_costs import pump_comparison
from balance.show.pictures.targets import NARROW, targets
from balance.show.pictures.travel import travel
from balance.show.pictures.vessels import outage_course, outage_levels
from balance.show.report import wording
from balance.show.report.sections import Drawn


def drawn(survey: Survey) -> Iterator[tuple[str, Drawn]]:
    """Draw all that a survey has answers for."""
    if survey.flows is not None:
        yield "drawing", Drawn("plumbing", plumbing(survey.flows, survey.drains), "wide")
    if survey.duty_points is not None:
        for number, point in enumerate(survey.duty_points.pumps):
            picture = duty(survey.duty_points, point.pump)
            yield "pump", Drawn(f"duty-{number}", picture, "half", point.pump)
    if survey.settings is not None:
        # One for wide pages, and one that is read on a phone.
        yield "targets", Drawn("targets", targets(survey.settings, survey.spread), "desk")
        narrow = targets(survey.settings, survey.spread, width=NARROW)
        yield "targets", Drawn("targets-narrow", narrow, "phone")
    if survey.close is not None and survey.close.cases:
        yield "close", Drawn("matrix", closing_matrix(survey.close), "natural")
    if survey.travel is not None:
        for number, valve in enumerate(survey.travel.valves):
            picture = travel(survey.travel, valve.valve)
            yield "travel", Drawn(f"travel-{number}", picture, "small", valve.valve)
    if survey.pumps is not None:
        yield "pumps", Drawn("pumps", pump_comparison(survey.pumps), "natural")
    if survey.drains is not None:
        pictures = drain_levels(survey.drains)
        for number, (vessel, picture) in enumerate(
            zip(survey.drains.vessels, pictures, strict=True)
        ):
            yield "drains", Drawn(f"drains-{number}", picture, "half", vessel.vessel)
    if survey.outage is not None:
        levels = outage_levels(survey.outage)
        yield "outage", Drawn("outage", levels, "natural", wording.LEVELS)
        yield "outage", Drawn("outage-course", outage_course(survey.outage), "half", wording.COURSE)
