"""The pictures of a report, each with the key of its section."""

from __future__ import annotations

from collections.abc import Iterator

from balance.questions.survey import Survey
from balance.show.pictures.duty import duty
from balance.show.pictures.targets import NARROW, targets
from balance.show.pictures.travel import travel
from balance.show.report.sections import Drawn


def drawn(survey: Survey) -> Iterator[tuple[str, Drawn]]:
    """Draw all that a survey has answers for."""
    if survey.duty_points is not None:
        for number, point in enumerate(survey.duty_points.pumps):
            picture = duty(survey.duty_points, point.pump)
            yield "pump", Drawn(f"duty-{number}", picture, "half", point.pump)
    if survey.settings is not None:
        # One for wide pages, and one that is read on a phone.
        yield "targets", Drawn("targets", targets(survey.settings, survey.spread), "desk")
        narrow = targets(survey.settings, survey.spread, width=NARROW)
        yield "targets", Drawn("targets-narrow", narrow, "phone")
    if survey.travel is not None:
        for number, valve in enumerate(survey.travel.valves):
            picture = travel(survey.travel, valve.valve)
            yield "travel", Drawn(f"travel-{number}", picture, "small", valve.valve)
