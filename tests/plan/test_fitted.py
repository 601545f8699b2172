"""A fitted plan says what the plan said, in the same words, and what was learnt."""

from __future__ import annotations

import shutil
import tomllib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from balance.errors import BalanceError, PlanError, UnknownNameError, UsageError
from balance.plan import fitted
from balance.plan.fitted import REMARK, fitted_text, write_fitted
from balance.plan.learnt import LearntOf
from balance.plan.locate import statements
from balance.plan.model import Learnt, LearntNumber, Plan
from balance.plan.names import LEARNT_OF
from balance.plan.read import read, read_text
from tests.plan.plans import PLAN
from tests.plan.test_locate import Writer

DEMO = Path(__file__).parents[2] / "pump_curves_demo"
TABLE = '[learnt]\nreadings = "a.csv"\n\n[[learnt.numbers]]\nof = "mains"'


def number(
    of: LearntOf,
    name: str | None = None,
    *,
    value: float,
    sure: float,
    correlations: tuple[float, ...] = (),
) -> LearntNumber:
    return LearntNumber.model_construct(
        of=of, name=name, value=value, sure=sure, with_=correlations
    )


def learnt(*numbers: LearntNumber, readings: str | None = None) -> Learnt:
    return Learnt.model_construct(readings=readings, numbers=numbers)


SOME = learnt(
    number("pump", "main", value=0.97216, sure=0.0109),
    number("throttling", "carbon reactor", value=1.35, sure=0.21, correlations=(-0.310449,)),
    number("offset", "refugium", value=-0.02, sure=0.005, correlations=(0.0, 0.4)),
    number("offset", "main drain", value=0.05 / 6, sure=0.0),
    number("bucket", value=1.0, sure=0.012),
    readings='the "wet" readings.csv',
)


def test_the_table_as_it_is_written() -> None:
    assert fitted_text(PLAN, SOME, read_text(PLAN)) == (
        PLAN
        + "\n"
        + REMARK
        + """\
[learnt]
readings = "the \\"wet\\" readings.csv"

[[learnt.numbers]]
of = "pump"
name = "main"
value = "97.22 %"
sure = "1.09 %"

[[learnt.numbers]]
of = "throttling"
name = "carbon reactor"
value = "135 %"
sure = "21 %"
with = [-0.3104]

[[learnt.numbers]]
of = "offset"
name = "refugium"
value = "-1.8 deg"
sure = "0.45 deg"
with = [0, 0.4]

[[learnt.numbers]]
of = "offset"
name = "main drain"
value = "0.05 turns"
sure = "0 turns"

[[learnt.numbers]]
of = "bucket"
value = "100 %"
sure = "1.2 %"
"""
    )


def test_an_offset_of_a_valve_without_turns_is_in_percent_of_travel() -> None:
    text = PLAN.replace('open = "3 turns", turns = 6', 'open = "50 %"')
    new = fitted_text(
        text, learnt(number("offset", "main drain", value=-0.0123, sure=0.01)), read_text(text)
    )
    assert 'value = "-1.23 %"\nsure = "1 %"\n' in new


def test_a_long_row_of_correlations_goes_over_several_lines() -> None:
    """Three drivers of all: as many numbers as a demo plan may have."""
    plan = read(DEMO / "lagoon.toml")
    random = np.random.default_rng(3)
    names = [branch.name for branch in plan.branches if branch.to is not None]
    causes = random.normal(size=(2 * len(names), 3))
    causes /= np.linalg.norm(causes, axis=1, keepdims=True)
    rows = causes @ causes.T
    many = learnt(
        *(
            number(
                ("loss", "throttling")[at % 2],
                names[at // 2],
                value=1.0,
                sure=0.1,
                correlations=tuple(map(float, rows[at, :at])),
            )
            for at in range(2 * len(names))
        )
    )
    new = fitted_text((DEMO / "lagoon.toml").read_text(encoding="utf-8"), many, plan)
    table = new[new.index("[learnt]") :]
    assert "with = [\n  " in table
    assert max(map(len, table.splitlines())) <= 100
    found = read_text(new, folder=DEMO).learnt
    assert found is not None
    assert found.covariance() == pytest.approx(0.01 * rows, abs=1e-5)


@pytest.mark.parametrize("demo", ["lagoon.toml", "fish-room.toml"])
def test_a_demo_plan_and_its_fit_say_the_same_beside_what_was_learnt(
    demo: str, tmp_path: Path
) -> None:
    folder = tmp_path / "demo"
    shutil.copytree(DEMO, folder)
    plan = read(folder / demo)
    all_kinds = learnt(
        *(number("pump", name, value=0.97, sure=0.02) for name in plan.pumps),
        *(number("loss", branch.name, value=1.234, sure=0.1) for branch in plan.branches),
        *(number("throttling", ref.name, value=0.8765, sure=0.3) for ref in plan.valves()),
        *(number("offset", ref.name, value=-0.0123, sure=0.03) for ref in plan.valves()),
        number("mains", value=1.1, sure=0.2),
        number("bucket", value=1.01, sure=0.015),
        readings="readings.csv",
    )
    before = (folder / demo).read_bytes()
    write_fitted(folder / demo, folder / "fitted.toml", all_kinds, plan)
    assert (folder / demo).read_bytes() == before
    assert (folder / "fitted.toml").read_bytes().startswith(before)
    new = read(folder / "fitted.toml")
    assert said(new) == said(plan)
    assert new.learnt is not None
    assert new.learnt.readings == "readings.csv"
    assert [(n.of, n.name) for n in new.learnt.numbers] == [
        (n.of, n.name) for n in all_kinds.numbers
    ]
    for found, meant in zip(new.learnt.numbers, all_kinds.numbers, strict=True):
        assert found.value == pytest.approx(meant.value, rel=0.5e-3)
        assert found.sure == pytest.approx(meant.sure, rel=0.5e-3)


def said(plan: Plan) -> dict[str, str]:
    """All that a plan says but what was learnt; to the last digit, since arrays compare badly."""
    with np.printoptions(precision=17, threshold=1_000_000):
        return {key: repr(getattr(plan, key)) for key in Plan.model_fields if key != "learnt"}


@st.composite
def anything_learnt(draw: st.DrawFn) -> Learnt:
    plan = read_text(PLAN)
    named = {
        "pump": list(plan.pumps),
        "branch": [branch.name for branch in plan.branches],
        "valve": [ref.name for ref in plan.valves()],
    }
    owners: list[tuple[LearntOf, str | None]] = [
        (of, name)  # type: ignore[misc]
        for of, kind in LEARNT_OF.items()
        for name in (named[kind] if kind else [None])
    ]
    chosen = draw(st.lists(st.sampled_from(owners), unique=True, max_size=len(owners)))
    causes = np.array(
        draw(
            st.lists(
                st.lists(st.integers(-9, 9), min_size=2, max_size=2).filter(any),
                min_size=len(chosen),
                max_size=len(chosen),
            )
        ),
        dtype=float,
    ).reshape(-1, 2)
    causes /= np.linalg.norm(causes, axis=1, keepdims=True)
    rows = np.clip(causes @ causes.T, -1.0, 1.0)
    correlated = draw(st.integers(0, len(chosen)))  # the first so many
    return learnt(
        *(
            number(
                of,
                name,
                value=draw(st.floats(-1.0, 1.0) if of == "offset" else st.floats(0.1, 10.0)),
                sure=draw(st.floats(0.0, 1.0)),
                correlations=tuple(map(float, rows[at, :at])) if at < correlated else (),
            )
            for at, (of, name) in enumerate(chosen)
        ),
        readings=draw(st.none() | st.text(st.characters(exclude_categories=["Cs"]), max_size=20)),
    )


@settings(max_examples=25, deadline=None)
@given(anything_learnt())
def test_anything_learnt_is_read_as_it_was_meant(meant: Learnt) -> None:
    new = fitted_text(PLAN, meant, read_text(PLAN))
    assert new.startswith(PLAN)
    found = read_text(new).learnt
    assert found is not None
    assert found.readings == meant.readings
    assert [(n.of, n.name) for n in found.numbers] == [(n.of, n.name) for n in meant.numbers]
    for one, other in zip(found.numbers, meant.numbers, strict=True):
        assert one.value == pytest.approx(other.value, rel=0.501e-3, abs=1e-8)
        assert one.sure == pytest.approx(other.sure, rel=0.501e-3, abs=1e-8)
        assert one.with_ == pytest.approx(other.with_, abs=0.501e-4)


# The rest of the text


@settings(max_examples=40, deadline=None)
@given(st.data())
def test_the_rest_of_a_random_document_stays_to_the_letter(data: st.DataObject) -> None:
    writer = Writer(data.draw)
    writer.document()
    try:
        document = tomllib.loads(writer.text)
    except tomllib.TOMLDecodeError as error:  # two dotted keys met by chance
        if "Cannot" not in str(error):
            raise
        return
    new = fitted._with_table(writer.text, TABLE)
    assert new.startswith(writer.text.rstrip(" \t\r\n"))
    assert tomllib.loads(new) == document | {
        "learnt": {"readings": "a.csv", "numbers": [{"of": "mains"}]}
    }
    assert fitted._with_table(new, TABLE) == new

    # an earlier fit's table may stand anywhere between two tables, and remarks around it stay
    lines = writer.text.split("\n")
    headers = [s.first - 1 for s in statements(writer.text) if lines[s.first - 1].strip()[0] == "["]
    at = data.draw(st.sampled_from([*headers, len(lines) - 1]))
    end = "\r" if "\r\n" in writer.text else ""
    old = [
        line + end
        for line in [
            *REMARK.splitlines(),
            *["[learnt]", 'readings = """', "[x]", '"""', "# within", "[[learnt.numbers]]"],
            *["of = 'pump'", "", "with = [", "  1,", "] # beside", "[learnt.more]", "a.b = 1"],
        ]
    ]
    with_old = "\n".join([*lines[:at], *old, *lines[at:]])
    assert tomllib.loads(with_old)["learnt"]["more"] == {"a": {"b": 1}}
    assert fitted._with_table(with_old, TABLE) == new


@pytest.mark.parametrize(
    ("old", "kept"),
    [
        ('learnt = { readings = "x" }\na = 1\n', "a = 1\n"),
        ('a = 1\nlearnt.readings = "x" # mine\n# about b\nb = 2\n', "a = 1\n# about b\nb = 2\n"),
        ("a = 1\n['learnt']\n[b] # learnt\nlearnt = 2\n", "a = 1\n[b] # learnt\nlearnt = 2\n"),
        ("[learnt]\n\n# of b\n\n[b]\n# end\n", "\n# of b\n\n[b]\n# end\n"),
        ("[b]\nc = '''\n[learnt]\n'''\n", "[b]\nc = '''\n[learnt]\n'''\n"),
        ("# remark\n[learnt]\n# within\nreadings = 'x'\n# after\n", "# remark\n# after\n"),
    ],
)
def test_an_old_table_in_any_form_gives_way(old: str, kept: str) -> None:
    assert fitted._with_table(old, TABLE) == f"{kept}\n{REMARK}{TABLE}\n"


def test_an_empty_document() -> None:
    assert fitted._with_table("", TABLE) == f"{REMARK}{TABLE}\n"


def test_a_second_fit_writes_what_a_first_would() -> None:
    plan = read_text(PLAN)
    other = learnt(number("mains", value=0.9, sure=0.1), readings="later.csv")
    once = fitted_text(PLAN, other, plan)
    assert fitted_text(fitted_text(PLAN, SOME, plan), other, plan) == once
    assert once.count("[learnt]") == once.count(REMARK) == 1


def test_windows_line_ends_stay() -> None:
    text = PLAN.replace("\n", "\r\n")
    new = fitted_text(text, SOME, read_text(text))
    assert new.startswith(text)
    assert new.count("\n") == new.count("\r\n")
    assert fitted_text(new, SOME, read_text(new)) == new


def test_a_last_line_without_an_end() -> None:
    assert fitted_text(PLAN[:-1], SOME, read_text(PLAN)) == fitted_text(PLAN, SOME, read_text(PLAN))


# What is refused


def test_what_no_plan_takes_is_refused() -> None:
    with pytest.raises(
        PlanError, match=r"fitted plan:\d+: learnt > numbers\[1\] > value: \"10000 %"
    ):
        fitted_text(PLAN, learnt(number("mains", value=100.0, sure=0.1)), read_text(PLAN))
    with pytest.raises(UnknownNameError, match='no valve is called "carbon"'):
        fitted_text(PLAN, learnt(number("offset", "carbon", value=0.0, sure=0.1)), read_text(PLAN))


def test_a_text_that_would_say_something_else_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    plan = read_text(PLAN)
    monkeypatch.setattr(fitted, "_digits", lambda value: f"{value:.2g}")
    with pytest.raises(BalanceError, match="would not say what was learnt"):
        fitted_text(PLAN, SOME, plan)
    monkeypatch.undo()
    monkeypatch.setattr(fitted, "_with_table", lambda text, _: text.replace("9 in", "8 in", 1))
    with pytest.raises(BalanceError, match="would say something else than the plan"):
        fitted_text(PLAN, SOME, plan)


def a_plan(folder: Path, text: str = PLAN) -> tuple[Path, Plan]:
    file = folder / "plan.toml"
    file.write_bytes(text.encode())
    return file, read(file)


def names_in(folder: Path) -> list[str]:
    return sorted(entry.name for entry in folder.iterdir())


def test_no_file_is_written_over(tmp_path: Path) -> None:
    file, plan = a_plan(tmp_path)
    target = tmp_path / "fitted.toml"
    target.write_text("mine", encoding="utf-8")
    for taken in (file, target):
        with pytest.raises(
            UsageError, match=rf"{taken.name} is there already and stays as it is; choose another"
        ):
            write_fitted(file, taken, SOME, plan)
    assert target.read_text(encoding="utf-8") == "mine"
    assert file.read_text(encoding="utf-8") == PLAN
    assert names_in(tmp_path) == ["fitted.toml", "plan.toml"]


def test_not_even_a_link_that_leads_nowhere(tmp_path: Path) -> None:
    file, plan = a_plan(tmp_path)
    (tmp_path / "fitted.toml").symlink_to(tmp_path / "absent.toml")
    with pytest.raises(UsageError, match="is there already"):
        write_fitted(file, tmp_path / "fitted.toml", SOME, plan)
    assert names_in(tmp_path) == ["fitted.toml", "plan.toml"]


def test_a_fitted_plan_stands_beside_its_plan(tmp_path: Path) -> None:
    file, plan = a_plan(tmp_path)
    other = tmp_path / "other"
    other.mkdir()
    with pytest.raises(UsageError) as caught:
        write_fitted(file, other / "fitted.toml", SOME, plan)
    assert str(caught.value) == (
        f"{other / 'fitted.toml'} is not in the folder of {file}, from which names of curve files "
        f"count; choose {tmp_path / 'fitted.toml'}"
    )
    assert names_in(other) == []


def test_nothing_is_written_where_something_is_wrong(tmp_path: Path) -> None:
    file, plan = a_plan(tmp_path)
    with pytest.raises(PlanError):
        write_fitted(
            file, tmp_path / "fitted.toml", learnt(number("mains", value=100.0, sure=0.1)), plan
        )
    assert names_in(tmp_path) == ["plan.toml"]


def test_line_ends_of_a_file_stay(tmp_path: Path) -> None:
    file, plan = a_plan(tmp_path, PLAN.replace("\n", "\r\n"))
    write_fitted(file, tmp_path / "fitted.toml", SOME, plan)
    written = (tmp_path / "fitted.toml").read_bytes()
    assert written.startswith(file.read_bytes())
    assert written.count(b"\n") == written.count(b"\r\n")


def test_a_plan_that_was_changed_meanwhile_is_told(tmp_path: Path) -> None:
    file, plan = a_plan(tmp_path)
    file.write_text(PLAN.replace("carbon reactor", "charcoal"), encoding="utf-8")
    with pytest.raises(PlanError, match='there is no valve "carbon reactor"'):
        write_fitted(file, tmp_path / "fitted.toml", SOME, plan)
    assert names_in(tmp_path) == ["plan.toml"]
