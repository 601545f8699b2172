"""Which answers and pictures stand where in a report."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from functools import partial
from typing import Literal, NamedTuple

from balance.questions.settings.answer import Settings
from balance.questions.survey import Survey
from balance.show import buy, check, close, cut, drains, fit, outage, settings, spread, which_pump
from balance.show.pictures.canvas import Picture
from balance.show.report import wording
from balance.show.report.record import Block, Grid, Heading, Line, Listing, Recorder, Words, record
from balance.show.report.sources import sources_of
from balance.show.words import speed

Size = Literal["small", "half", "natural", "desk", "phone", "wide"]


class Drawn(NamedTuple):
    """A picture with a name of its own, its size on the page, and what stands above it."""

    name: str
    picture: Picture
    size: Size
    heading: str = ""


@dataclass(frozen=True)
class Figure:
    """A picture on the page.

    Attributes
    ----------
    svg : to be put into the page as it is
    title : what it shows
    heading : what stands above it
    size : small ones stand four in a row, halves two; some are for a desk, some for a phone;
        natural and wide ones scroll where there is little room, wide ones fill what there is
    width : of the picture itself [px]
    """

    svg: str
    title: str
    heading: str
    size: Size
    width: float


@dataclass(frozen=True)
class Section:
    """A part of the page under a heading of its own.

    Attributes
    ----------
    key : that links lead to
    heading, lead : what it is about, in few words and in a sentence
    figures, blocks : what it shows
    aside : short lists that may stand side by side
    folded : what it shows when asked, and on paper; nothing that is bad
    more : what that is about
    reason : why it shows nothing, where it does not
    """

    key: str
    heading: str
    lead: str = ""
    figures: tuple[Figure, ...] = ()
    blocks: tuple[Block, ...] = ()
    aside: tuple[Block, ...] = ()
    folded: tuple[Block, ...] = ()
    more: str = ""
    reason: str = ""


@dataclass(frozen=True)
class Glance:
    """What a section says first, to be read at the top of the page."""

    key: str
    name: str
    lines: tuple[Words, ...]


@dataclass
class Report:
    """All that stands on the page, but for the valve cards.

    Attributes
    ----------
    title, job : what it is about
    answer : the main answer in a sentence
    glances : what the other answers say first
    sections : in their order
    """

    title: str
    job: str
    answer: Words
    glances: list[Glance] = field(default_factory=list)
    sections: list[Section] = field(default_factory=list)


_ANSWERS: tuple[tuple[str, Callable[..., None]], ...] = (
    ("settings", settings.write), ("fit", partial(fit.write, written=None)),
    ("spread", spread.write), ("close", close.write), ("pumps", which_pump.write),
    ("drains", drains.write), ("outage", outage.write), ("buy", buy.write), ("cut", cut.write),
    ("check", check.write),
)  # fmt: skip
_ORDER = (
    "settings", "fit", "drawing", "pump", "targets", "close", "travel", "pumps", "drains",
    "outage", "buy", "cut",
)  # fmt: skip
_FOLDS = frozenset({"fit", "targets", "close", "pumps", "drains", "outage", "assumptions"})
_LISTS = frozenset({"settings"})  # whose table short lists follow
_TOLD_BY = {"targets": "spread"}  # sections whose words an answer of another name has


def report_of(survey: Survey, drawn: Sequence[tuple[str, Drawn]]) -> Report:
    """Put a page together.

    Parameters
    ----------
    survey : all answers
    drawn : pictures, each with the key of its section
    """
    told = {
        name: record(write, answer)
        for name, write in _ANSWERS
        if (answer := getattr(survey, name)) is not None
    }
    report = Report(
        title=survey.title or wording.UNTITLED,
        job=_job(told.get("check")),
        answer=_answer(survey),
        glances=list(_glances(told)),
    )
    reasons = {each.question: each.reason for each in survey.unanswered}
    for key in _ORDER:
        name = _TOLD_BY.get(key, key)
        section = _section(
            key,
            told[name].blocks if name in told else (),
            figures=tuple(_figure(each) for place, each in drawn if place == key),
            reason=reasons.get(name, ""),
        )
        if section.figures or section.blocks or section.reason:
            report.sections.append(section)
    report.sections += [_cautions(told), _assumptions(survey, told)]
    return report


def _figure(drawn: Drawn) -> Figure:
    return Figure(
        svg=drawn.picture.inline(drawn.name),
        title=drawn.picture.title,
        heading=drawn.heading,
        size=drawn.size,
        width=drawn.picture.width,
    )


def _job(checked: Recorder | None) -> str:
    """What it is for, and what there is of it, which the check says first."""
    first = checked.blocks[0] if checked is not None and checked.blocks else None
    said = f" {first.words}" if isinstance(first, Line) else ""
    return f"{wording.JOB}{said}"


def _answer(survey: Survey) -> Words:
    found = survey.settings
    if found is None:
        reasons = [each.reason for each in survey.unanswered if each.question == "settings"]
        return Words(((f"{wording.WITHOUT_ANSWER} {' '.join(reasons)}", "bad"),))
    pumps = wording.AND.join(
        wording.PUMP_AT.format(pump.pump, speed(pump.speed))
        for pump in found.pumps
        if pump.speed_is_free
    )
    if not any(branch.asked for branch in found.branches) and not found.totals:
        return Words(((wording.ANSWER_UNASKED, "strong"),))
    if found.met:
        said = wording.ANSWER_MET.format(pumps=pumps or wording.NO_PUMPS)
        return Words(((said, "strong"),))
    said = wording.ANSWER_MISSED.format(
        pumps=wording.WITH_PUMPS.format(pumps) if pumps else "", missed=", ".join(_missed(found))
    )
    return Words(((said, "bad"),))


def _missed(found: Settings) -> Iterator[str]:
    for branch in found.branches:
        if not (branch.met and branch.within_limits):
            yield branch.branch
    for total in found.totals:
        if not total.met:
            yield total.group


def _glances(told: dict[str, Recorder]) -> Iterator[Glance]:
    """The lines with which answers open, before their first table or heading."""
    for name, heading in wording.GLANCES.items():
        lines: list[Words] = []
        for block in told[name].blocks if name in told else ():
            if not isinstance(block, Line):
                break
            lines.append(block.words)
        if lines:
            place = next((key for key, other in _TOLD_BY.items() if other == name), name)
            yield Glance(place, heading, tuple(lines))


def _cautions(told: dict[str, Recorder]) -> Section:
    """Every caution of every answer, once."""
    each = dict.fromkeys(caution for recorder in told.values() for caution in recorder.cautions)
    return _section("cautions", [Listing(tuple(Words(((text, ""),)) for text in each))])


def _assumptions(survey: Survey, told: dict[str, Recorder]) -> Section:
    """Notes of all answers, what the check tells and doubts, and the sources in print."""
    blocks: list[Block] = []
    for name, recorder in told.items():
        if recorder.remarks:
            blocks += [
                Heading((wording.HEADINGS | wording.NOTES)[name]),
                Listing(tuple(recorder.remarks)),
            ]
    if "check" in told:
        blocks += told["check"].blocks[1:]  # the first opens the page
    sources = tuple(Words(((text, ""),)) for text in sources_of(survey.plan))
    blocks += [Heading(wording.SOURCES), Listing(sources)]
    return _section("assumptions", blocks)


def _section(
    key: str, blocks: Sequence[Block], *, figures: tuple[Figure, ...] = (), reason: str = ""
) -> Section:
    shown, folded = _fold(blocks) if key in _FOLDS else (list(blocks), [])
    aside: list[Block] = []
    if key in _LISTS and any(isinstance(block, Heading) for block in shown):
        first = next(at for at, block in enumerate(shown) if isinstance(block, Heading))
        shown, aside = shown[:first], shown[first:]
    about = [block.text for block in folded if isinstance(block, Heading)]
    return Section(
        key=key,
        heading=wording.HEADINGS[key],
        lead=wording.LEADS.get(key, ""),
        figures=figures,
        blocks=tuple(shown),
        aside=tuple(aside),
        folded=tuple(folded),
        more=wording.MORE.format(", ".join(dict.fromkeys(about))) if about else wording.ALL_FIGURES,
        reason=reason,
    )


def _fold(blocks: Sequence[Block]) -> tuple[list[Block], list[Block]]:
    """Part what comes up to the first table, and all under a heading that is bad, from the rest.

    A chapter that is parted has its heading on both sides.
    """
    parts: list[list[Block]] = [[]]
    for block in blocks:
        after_first_table = len(parts) == 1 and any(isinstance(each, Grid) for each in parts[0])
        if isinstance(block, Heading) or after_first_table:
            parts.append([])
        parts[-1].append(block)
    shown, folded = list(parts[0]), list[Block]()
    chapter: list[Block] = []
    for part in parts[1:]:
        side = shown if any(map(_is_bad, part)) else folded
        if isinstance(part[0], Heading) and part[0].is_chapter:
            chapter = part[:1]
        elif chapter and chapter[0] not in side:
            side += chapter
        side += part
    return shown, folded


def _is_bad(block: Block) -> bool:
    if isinstance(block, Listing):
        return any(item.tone == "bad" for item in block.items)
    if isinstance(block, Grid):
        return any(cell.tone == "bad" for row in block.rows for cell in row)
    return isinstance(block, Line) and block.words.tone == "bad"
