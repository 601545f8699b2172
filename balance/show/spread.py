"""How sure all this is, on one screen."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from textwrap import fill

from rich.text import Text

from balance.questions.spread import Spread
from balance.questions.spread.answer import Band, Matter, Outcome
from balance.show import cautions
from balance.show.page import Column, Page
from balance.show.terminal import page
from balance.show.words import NONE, bare, between, percent, tiny
from balance.units import SYSTEMS, UnitSystem, significant

TOLD = 0.03  # of a variance: what contributes less is left out; our own choice
COLUMNS = 5  # kinds of doubt in the table
NARROW = 10  # characters of a line in its headings
NEARLY = 0.99  # a chance above it is not rounded to certainty


def show(answer: Spread) -> None:
    """Print what `write` has to say."""
    with page() as to:
        write(to, answer)


def write(to: Page, answer: Spread) -> None:
    """Write the chance that all is well, bands, what contributes most, and what to do about it."""
    system = SYSTEMS[answer.plan.units]
    last = answer.before if answer.after is None else answer.after
    clogs = "".join(f", {each.name} losing {percent(each.more)} more" for each in answer.clogged)
    to.title(f"{answer.title or 'This plan'}: how sure all this is{clogs}")
    for line in _chances(answer):
        to.print(Text(line))
    to.print()
    if answer.after is None:
        _bands(to, answer.before, system)
    else:
        _before_and_after(to, answer.before, answer.after, system)
    _pumps(to, last, system)
    _sources(to, last)
    to.section("What matters most", _matters(last.matters))
    to.notes((*_remarks(answer), *answer.notes))
    to.beware("Beware", (cautions.MEASURE, cautions.ELECTRICITY, cautions.SCOPE))
    to.print()
    to.print(Text(_how(answer, last, system)), style="dim")


def _chances(answer: Spread) -> Iterator[str]:
    before, after = answer.before, answer.after
    if before.within_all is None:
        yield "No branch has a target, so there is no chance to tell of meeting any."
    else:
        what = _all(before.asked)
        said = f"Chance that {what} within tolerance: {_chance(before)}"
        yield (
            f"{said}." if after is None else f"{said} before the readings, {_chance(after)} after."
        )
    if before.within_limits is not None:
        said = f"Chance that no limit is broken: {_likely(before.within_limits)}"
        yield (
            f"{said}."
            if after is None
            else f"{said} before the readings, {_likely(after.within_limits)} after."
        )


def _all(asked: int) -> str:
    return "the one target is" if asked == 1 else f"all {asked} targets at once are"


def _chance(outcome: Outcome) -> str:
    """A chance with the standard deviation that the number of systems leaves it."""
    if outcome.within_all is None or outcome.within_all_error is None:
        return NONE
    error = significant(100.0 * outcome.within_all_error, 1)
    return f"{_likely(outcome.within_all)}, give or take {error}"


def _likely(chance: float | None) -> str:
    """A chance, empty where there is none to tell."""
    if chance is None:
        return ""
    return f"> {NEARLY:.0%}".replace("%", " %") if NEARLY < chance < 1.0 else percent(chance)


# Flows ------------------------------------------------------------------------------------------


def _bands(to: Page, outcome: Outcome, system: UnitSystem) -> None:
    flow = system.unit("flow")
    columns = (
        Column("", "words"),
        Column(f"flow\n{flow}", "decimal"),
        Column("5 % lie\nbelow", "decimal"),
        Column("half\nbelow", "decimal"),
        Column("95 %\nbelow", "decimal"),
        Column(f"wanted\n{flow}"),
        Column("chance\nto meet"),
        Column("breaks\nlimits"),
    )
    to.table(columns, (_row(band, system) for band in _told(outcome)))


def _told(outcome: Outcome) -> Iterator[Band]:
    """Branches that have water, and totals."""
    yield from (band for band in outcome.branches if band.has_water)
    yield from outcome.totals


def _row(band: Band, system: UnitSystem) -> tuple[str | Text, ...]:
    return (
        band.name,
        *(bare(system, flow, "flow") for flow in (band.flow, band.low, band.middle, band.high)),
        between(system, *band.wanted),
        _likely(band.within),
        _likely(band.beyond_limits),
    )


def _before_and_after(to: Page, before: Outcome, after: Outcome, system: UnitSystem) -> None:
    flow = system.unit("flow")
    columns = (
        Column("", "words"),
        Column(f"wanted\n{flow}"),
        Column(f"before: 90 %\nin {flow}"),
        Column("chance\nto meet"),
        Column(f"after: 90 %\nin {flow}"),
        Column("chance\nto meet"),
    )
    rows = (
        (
            now.name,
            between(system, *now.wanted),
            *(
                cell
                for band in (then, now)
                for cell in (_range(band, system), _likely(band.within))
            ),
        )
        for then, now in zip(
            (*before.branches, *before.totals), (*after.branches, *after.totals), strict=True
        )
        if then.has_water or now.has_water
    )
    to.table(columns, rows)


def _range(band: Band, system: UnitSystem) -> str:
    return f"{bare(system, band.low, 'flow')}..{bare(system, band.high, 'flow')}"


def _pumps(to: Page, outcome: Outcome, system: UnitSystem) -> None:
    to.section(
        "Pump" if len(outcome.pumps) == 1 else "Pumps",
        (
            f"{pump.name} moves {system.text(pump.flow, 'flow')}, in 90 % of the systems "
            f"{_range(pump, system)}"
            for pump in outcome.pumps
        ),
    )


# What contributes -------------------------------------------------------------------------------


def _sources(to: Page, outcome: Outcome) -> None:
    """What each flow's spread comes from: a row a branch, total or pump, a column a doubt."""
    listed = [band for band in (*_told(outcome), *outcome.pumps) if band.shares]
    if not listed:
        return
    shares = [{each.about: each.share for each in band.shares} for band in listed]
    kinds = sorted(shares[0], key=lambda kind: -sum(of[kind] for of in shares))[:COLUMNS]
    kinds = [kind for kind in kinds if any(of[kind] >= TOLD for of in shares)]
    columns = (
        Column("percent of the\nvariance of", "words"),
        *(Column(fill(kind, NARROW)) for kind in kinds),
        Column("all\nelse"),
    )
    to.print()
    to.heading("Where the spread comes from")
    to.table(
        columns,
        (
            (
                band.name,
                *(f"{100.0 * of[kind]:.0f}" for kind in kinds),
                f"{max(100.0 * (1.0 - sum(of[kind] for kind in kinds)), 0.0):.0f}",
            )
            for band, of in zip(listed, shares, strict=True)
        ),
    )


def _matters(matters: Sequence[Matter]) -> Iterator[str | Text]:
    """What to do about the largest doubts; those with the same remedy together."""
    by_advice: dict[str, list[Matter]] = {}
    for matter in matters:
        if matter.share >= TOLD or matter.most_in:
            by_advice.setdefault(matter.advice, []).append(matter)
    for advice, same in by_advice.items():
        what = _listed([f"{matter.about} ({percent(matter.share)})" for matter in same])
        most = [name for matter in same for name in matter.most_in]
        where = f", most of all in {_listed(most)}" if most else ""
        yield Text.assemble((what, "bold"), f"{where}: {advice}")


def _listed(names: Sequence[str]) -> str:
    *first, last = names
    return f"{', '.join(first)} and {last}" if first else last


def _remarks(answer: Spread) -> Iterator[str]:
    missed = (answer.before if answer.after is None else answer.after).missed
    if missed and answer.begins == "as it stands":
        yield (
            f"even without any doubt {_listed(missed)} {_verb(missed)} what is wanted as the "
            "handles stand: `balance settings` says where they go, and --settings begins there"
        )
    elif missed:
        yield f"even without any doubt {_listed(missed)} {_verb(missed)} what is wanted"


def _verb(names: Sequence[str]) -> str:
    return "misses" if len(names) == 1 else "miss"


def _how(answer: Spread, outcome: Outcome, system: UnitSystem) -> str:
    begins = "with handles as the plan has them"
    if answer.begins == "at the settings":
        begins = "with handles where `balance settings` puts them"
    return (
        f"{outcome.systems} systems drawn at random (seed {answer.seed}), {begins}; doubts as in "
        "[spread]. Shares are by squared correlation; what they leave of 100 % is joint and bent "
        "effects, and what is too small to tell. Flows balance within "
        f"{tiny(system, outcome.worst_imbalance, 'flow')} {system.unit('flow')}, heads close "
        f"within {tiny(system, outcome.worst_mismatch, 'head')} {system.unit('head')}, in every "
        "system."
    )
