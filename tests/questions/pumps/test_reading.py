"""Pumps to compare, as words name them: what is read, what is left out, and what is refused."""

from __future__ import annotations

from pathlib import Path

import pytest

from balance.errors import PlanError, UsageError
from balance.plan.candidates import arranged_as, read_candidates
from balance.plan.model import Candidate, Plan
from balance.plan.read import read_text
from balance.questions.pumps import pumps
from tests.questions.pumps.invented import AS_IT_STANDS, LPH, TOP, bare

FULL = "flow_lph,head_m,power_w\n0,4,30\n2000,3,35\n4000,0,38\n"
DEARER = "flow_lph,head_m,power_w\n0,4,60\n2000,3,70\n4000,0,76\n"
SLOW = "flow_lph,head_m\n0,1.4\n1200,1.1\n2400,0\n"
OTHER = "flow_gph,head_ft\n0,11\n500,8\n1000,0\n"


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    for name, text in {
        "one/pump.csv": FULL,
        "one/notes.csv": "name,price\npump,3\n",
        "two/pump.csv": OTHER,
        "loud/LOUD.CSV": "# spelt by another system\n" + FULL,
        "at@home/pump.csv": FULL,
        "bad/short.csv": "flow_lph,head_m\n0,3\n2000,2\n",
        "bad/words.csv": "flow_lph,head_m\n0,3\n1000,much\n2000,0\n",
        "full.csv": FULL,
        "dearer.csv": DEARER,
        "slow.csv": SLOW,
    }.items():
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_text(text, encoding="utf-8")
    (tmp_path / "empty").mkdir()
    return tmp_path


@pytest.fixture
def plan() -> Plan:
    return bare(target="1000 L/h")


def labels(*words: str, plan: Plan, speeds: str | None = None) -> list[str]:
    return [each.label for each in read_candidates(words, plan=plan, speeds=speeds).candidates]


def test_files_folders_and_patterns(folder: Path, plan: Plan) -> None:
    assert labels("full.csv", plan=plan) == ["full"]
    assert labels("one", plan=plan) == ["pump"]  # notes.csv is no curve
    assert labels("loud", plan=plan) == ["LOUD"]
    assert labels("??*w.csv", str(folder / "two" / "*.csv"), plan=plan) == ["slow", "pump"]
    assert labels("at@home", plan=plan) == ["pump"]
    assert labels("at@home/pump.csv", plan=plan) == ["pump"]
    assert labels("at@home/*.csv", plan=plan) == ["pump"]


def test_every_pump_once_and_two_of_one_name_told_apart(folder: Path, plan: Plan) -> None:
    assert labels("full.csv", "one/pump.csv", "full.csv", plan=plan) == ["full"]
    assert labels("one", "two", plan=plan) == ["pump", "pump (2)"]


def test_two_pumps_that_differ_in_watts_alone_are_two(folder: Path, plan: Plan) -> None:
    assert labels("full.csv", "dearer.csv", plan=plan) == ["full", "dearer"]
    answer = pumps(plan, read_candidates(["full.csv", "dearer.csv"], plan=plan).candidates)
    power = {trial.name: trial.power for trial in answer.trials}
    assert power["dearer"] is not None
    assert power["full"] is not None
    assert power["dearer"] > 1.9 * power["full"]


def test_a_family_is_one_pump(folder: Path, plan: Plan) -> None:
    (found,) = read_candidates(["slow.csv@60%+full.csv@100%"], plan=plan).candidates
    assert found.label == "slow"
    assert [points.speed for points in found.curve] == [1.0, 0.6]
    assert found.speed_range == (0.6, 1.0)  # between what was measured
    (spaced,) = read_candidates(["full.csv + slow.csv@60 %"], plan=plan).candidates
    assert [points.speed for points in spaced.curve] == [1.0, 0.6]
    (bare,) = read_candidates(["full.csv+slow.csv@60%"], plan=plan).candidates
    assert [points.speed for points in bare.curve] == [1.0, 0.6]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["nowhere.csv"], "nowhere.csv: there is no such file"),
        (["full.csv+slow.csv"], "a second curve at 100 % speed"),
        (["empty"], 'the folder "empty" holds no pump curve'),
        (["none*.csv"], 'no file fits "none*.csv"'),
        (["slow.csv@60%+full.csv@60%"], "a second curve at 60 % speed"),
        (["slow.csv@60%+"], "+: no file stands beside a +"),
        (["slow.csv@"], "has no speed beside its @"),
        (["slow.csv@0 %"], "no speed of a pump that turns"),
        (["slow.csv@6 ft"], "slow.csv@6 ft"),
    ],
)
def test_words_that_name_no_pump(folder: Path, plan: Plan, words: list[str], said: str) -> None:
    with pytest.raises((PlanError, UsageError)) as raised:
        read_candidates(words, plan=plan)
    assert said in str(raised.value)


def test_all_faults_of_all_files_come_at_once(folder: Path, plan: Plan) -> None:
    with pytest.raises(PlanError) as raised:
        read_candidates(
            ["bad/short.csv", "bad/words.csv", "nowhere.csv", "full.csv", "slow.csv@60%+gone.csv"],
            plan=plan,
        )
    assert [(fault.file, fault.line) for fault in raised.value.faults] == [
        ("bad/short.csv", 3),
        ("bad/words.csv", 3),
        ("nowhere.csv", None),
        ("gone.csv", None),
    ]


def test_of_a_folder_the_unsound_are_left_out_and_said(folder: Path, plan: Plan) -> None:
    (folder / "bad" / "good.csv").write_text(OTHER, encoding="utf-8")
    few = "line 3: a curve needs at least three points, and here there are 2"
    expected = (
        f"bad/short.csv is left out: {few}",
        'bad/words.csv is left out: line 3: column 2 (head_m): "much" is not a number',
    )
    read = read_candidates(["bad", "full.csv"], plan=plan)
    assert [each.label for each in read.candidates] == ["good", "full"]
    assert read.skipped == expected
    assert read_candidates(["bad/*.csv"], plan=plan).skipped == expected
    assert pumps(plan, read.candidates, remarks=read.skipped).notes[:2] == expected


def test_a_folder_without_a_sound_curve_is_refused_with_all_faults(
    folder: Path, plan: Plan
) -> None:
    with pytest.raises(PlanError) as raised:
        read_candidates(["bad"], plan=plan)
    assert [fault.file for fault in raised.value.faults] == ["bad/short.csv", "bad/words.csv"]


def test_an_unsound_file_named_outright_stops_all_whatever_the_folder(
    folder: Path, plan: Plan
) -> None:
    with pytest.raises(PlanError) as raised:
        read_candidates(["bad", "two", "bad/short.csv"], plan=plan)
    assert [fault.file for fault in raised.value.faults] == ["bad/short.csv"]


@pytest.mark.parametrize(
    "speeds",
    ["100 %..40 %", "40 %", "0 %..100 %", "40..100", "40 %..900 %", ">= 40 %", "slow", ""],
)
def test_speeds_that_are_none(folder: Path, plan: Plan, speeds: str) -> None:
    with pytest.raises(UsageError, match=r'--speeds ".*": .*write "40 %..100 %", or "fixed"'):
        read_candidates(["full.csv"], plan=plan, speeds=speeds)


def told() -> Plan:
    """A plan that tells of a candidate, beside a pump whose speed is free."""
    free = AS_IT_STANDS.replace("[pumps.main]\n", '[pumps.main]\nspeed_range = ["30 %", "90 %"]\n')
    return read_text(
        f"""{TOP}{free}
[[branches]]
name = "a"
from = "foot"
to = "tank"
target = "1000 L/h"
parts = [{{ valve = "ball", size = "3/4 in" }}]

[[candidates]]
curve = "full.csv"
name = "the loud one"
speed_range = ["50 %", "100 %"]
price = 99

[[candidates]]
curve = "slow.csv"
arrangement = "parallel"
""",
        folder=Path.cwd(),
    )


def test_what_a_plan_says_of_a_curve_counts_for_the_same_curve(folder: Path) -> None:
    (known,) = read_candidates(["one/pump.csv"], plan=told()).candidates
    assert (known.label, known.price, known.speed_range) == ("the loud one", 99, (0.5, 1.0))
    (other,) = read_candidates(["dearer.csv"], plan=told()).candidates
    assert (other.label, other.price, other.speed_range) == ("dearer", None, (0.3, 0.9))
    (fixed,) = read_candidates(["full.csv"], plan=told(), speeds="fixed").candidates
    assert (fixed.label, fixed.price, fixed.speed_range) == ("the loud one", 99, None)
    (ranged,) = read_candidates(["full.csv"], plan=told(), speeds="45 %..80 %").candidates
    assert ranged.speed_range == pytest.approx((0.45, 0.8))


def test_speeds_that_nobody_told_are_said(folder: Path) -> None:
    plan = told()
    notes = pumps(plan, read_candidates(["two", "full.csv"], plan=plan).candidates).notes
    assert any('of pump nobody told the speeds: taken as those of "main"' in each for each in notes)
    told_of = pumps(plan, read_candidates(["two"], plan=plan, speeds="fixed").candidates).notes
    assert not any("nobody told" in each for each in told_of)


def test_of_the_pump_that_the_plan_has_the_speeds_are_told(folder: Path) -> None:
    own = "flow_lph,head_m\n0,4\n2000,3\n4000,0\n"
    (folder / "own.csv").write_text(own, encoding="utf-8")
    plan = told()
    answer = pumps(plan, read_candidates(["own.csv", "full.csv"], plan=plan).candidates)
    assert {trial.name for trial in answer.trials} == {"main", "the loud one"}
    assert not any("nobody told" in each for each in answer.notes)


def test_each_in_each_arrangement_once(folder: Path) -> None:
    plan = told()
    found = arranged_as([*plan.candidates, plan.candidates[1]], ["single", "series", "single"])
    assert [(each.label, each.arrangement) for each in found] == [
        ("the loud one", "single"),
        ("the loud one", "series"),
        ("slow", "single"),
        ("slow", "series"),
    ]


def test_of_one_curve_at_two_ranges_of_speed_there_are_two(folder: Path) -> None:
    (once,) = read_candidates(["full.csv"], plan=told()).candidates
    fixed = once.model_copy(update={"speed_range": None})
    assert len(arranged_as([once, fixed], ["parallel"])) == 2


def test_a_plan_without_a_pump_is_refused_by_the_question(folder: Path) -> None:
    plan = read_text(
        f"""{TOP}
[[branches]]
name = "a"
from = "tank"
to = "sump"
target = "1000 L/h"
parts = [{{ valve = "ball", size = "3/4 in" }}, {{ pipe = "3/4 in sch 40", length = "1 m" }}]
"""
    )
    found = read_candidates(["full.csv"], plan=plan).candidates
    assert [(each.label, each.speed_range) for each in found] == [("full", None)]
    with pytest.raises(UsageError, match="no pump that another could take the place of"):
        pumps(plan, found)


def two_pumps() -> Plan:
    return bare(
        target="1000 L/h",
        rest="""
[pumps.second]
points = ["0 L/h at 4 m", "2000 L/h at 3 m", "4000 L/h at 0 m"]
from = "sump"
to = "second foot"

[[runs]]
name = "second check"
from = "second foot"
to = "foot"
parts = [{ check = "swing", bore = "20 mm" }]
""",
    )


def test_what_cannot_be_asked(folder: Path, plan: Plan) -> None:
    (full,) = read_candidates(["full.csv"], plan=plan).candidates

    def refused(plan: Plan, *asked: Candidate, **options: object) -> str:
        with pytest.raises(UsageError) as raised:
            pumps(plan, list(asked), **options)  # type: ignore[arg-type]
        return str(raised.value)

    assert 'no pump is called "mian"; write one of main' in refused(plan, full, replaces="mian")
    assert "fouling of -30% is none" in refused(plan, full, fouling=-0.3)
    aimless = plan.model_copy(
        update={"branches": tuple(b.model_copy(update={"target": None}) for b in plan.branches)}
    )
    assert "no branch has a target or a share" in refused(aimless, full)
    (pair,) = arranged_as([full], ["parallel"])
    assert "(parallel) in place of 2 pumps" in refused(two_pumps(), pair)
    (ends,) = arranged_as([full], ["both ends"])
    assert "both ends: that takes one header, fed at one end" in refused(plan, ends)


def test_a_plan_without_candidates_is_judged_with_its_own_pump(plan: Plan) -> None:
    (only,) = pumps(plan).trials
    assert only.as_planned
    assert only.why.startswith("meets all targets")
    assert any("no other pump to compare with" in note for note in pumps(plan).notes)


def test_a_candidate_that_finds_no_place_is_passed_over_with_a_note(
    folder: Path, plan: Plan
) -> None:
    (full,) = read_candidates(["full.csv"], plan=plan).candidates
    answer = pumps(plan, arranged_as([full], ["both ends", "single"]))
    assert [trial.arrangement for trial in answer.trials] == ["single", "single"]
    assert any(note.startswith("full x2 ends is left out: both ends:") for note in answer.notes)


def test_in_place_of_one_of_two_or_of_both(folder: Path) -> None:
    plan = two_pumps()
    (full,) = read_candidates(["dearer.csv"], plan=plan).candidates
    (both,) = [trial for trial in pumps(plan, [full]).trials if not trial.as_planned]
    assert [duty.pump for duty in both.pumps] == ["main", "second"]
    assert all(duty.power is not None for duty in both.pumps)
    answer = pumps(plan, [full], replaces="Second")
    (one,) = [trial for trial in answer.trials if not trial.as_planned]
    assert [duty.power is None for duty in one.pumps] == [True, False]
    assert one.line is None  # unlike pumps work together
    assert answer.system is None
    assert {trial.name for trial in answer.trials} == {"second", "dearer"}


def test_a_name_that_the_plan_has_already_is_told_apart(folder: Path, plan: Plan) -> None:
    (full,) = read_candidates(["full.csv"], plan=plan).candidates
    named = full.model_copy(update={"name": "Main"})
    assert {trial.name for trial in pumps(plan, [named]).trials} == {"main", "Main (2)"}


def test_what_the_words_give_is_in_si(folder: Path, plan: Plan) -> None:
    (full,) = read_candidates(["full.csv"], plan=plan).candidates
    assert full.curve[0].curve.flow[-1] == pytest.approx(4000 * LPH)
