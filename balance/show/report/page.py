"""The text of a report: one HTML file that needs nothing else, no network and no script."""

from __future__ import annotations

from importlib.resources import files

from balance.questions.survey import Survey
from balance.show.pictures.palette import DAY, NIGHT
from balance.show.report import wording
from balance.show.report.cards import cards
from balance.show.report.drawn import drawn
from balance.show.report.sections import report_of


def page(survey: Survey, *, plan_text: str, made_from: str) -> str:
    """Write a report.

    Parameters
    ----------
    survey : all answers of a plan
    plan_text : the file of the plan, as it was read, with what readings told of it
    made_from : which files it was made from, in a sentence

    The same survey gives the same text.  Whatever a user wrote is escaped.
    """
    import jinja2

    templates = files("balance.show.report") / "templates"
    environment = jinja2.Environment(
        loader=jinja2.FunctionLoader(lambda name: (templates / name).read_text(encoding="utf-8")),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    return environment.get_template("report.html").render(
        report=report_of(survey, tuple(drawn(survey))),
        cards=tuple(cards(survey)),
        plan_text=plan_text,
        made_from=made_from,
        wording=wording,
        day=DAY,
        night=NIGHT,
    )
