"""Bad input: each kind of fault has its line, its place in the writer's words, and the way out."""

from __future__ import annotations

from pathlib import Path

import pytest

from balance.errors import Fault, PlanError
from balance.plan.read import LARGEST, read, read_text
from tests.plan.plans import PLAN, line_of, spoilt


def faults(text: str) -> tuple[Fault, ...]:
    with pytest.raises(PlanError) as caught:
        read_text(text, file="plan.toml")
    return caught.value.faults


def the_fault(text: str) -> Fault:
    found = faults(text)
    assert len(found) == 1, [str(fault) for fault in found]
    return found[0]


# kind, text to replace, what stands there instead, path, part of the problem, part of the remedy
KINDS = [
    (
        "unknown key",
        'hose = "1/2 in", length = "3 ft"',
        'hose = "1/2 in", length = "3 ft", lenght = "3 ft"',
        'branches "carbon reactor" > parts[5] > lenght',
        "there is no key lenght here",
        "nearest: length",
    ),
    (
        "unknown key of the plan",
        'title = "Lagoon and seagrass system"',
        'tytle = "Lagoon"',
        "tytle",
        "there is no key tytle here",
        "nearest: title",
    ),
    (
        "unknown section",
        "[[drains]]",
        "[[drain]]",
        "drain",
        "there is no key drain here",
        "nearest: drains",
    ),
    (
        "missing unit",
        'level = "9 in"',
        "level = 9",
        'vessels "sump" > level',
        "the number 9 has no unit",
        'level = "9 in"',
    ),
    (
        "missing unit inside quotation marks",
        'level = "9 in"',
        'level = "9"',
        'vessels "sump" > level',
        '"9" has no unit',
        '"9 in"',
    ),
    (
        "wrong dimension",
        'length = "14 in"',
        'length = "14 gph"',
        'runs "riser" > parts[1] > length',
        '"14 gph" is a flow; a length is wanted',
        '"14 in"',
    ),
    (
        "negative length",
        'length = "14 in"',
        'length = "-14 in"',
        'runs "riser" > parts[1] > length',
        "may not be negative",
        '"14 in"',
    ),
    (
        "unknown fitting",
        "elbow 90",
        "elbo 90",
        'runs "riser" > parts[2] > fitting',
        'there is no fitting "elbo 90"',
        '"elbow 90"',
    ),
    (
        "unknown valve",
        'valve = "gate"',
        'valve = "gatte"',
        'drains "main drain" > parts[1] > valve',
        'there is no valve "gatte"',
        '"gate"',
    ),
    (
        "unknown pipe",
        "1 in sch 80",
        "1 in sch 60",
        'runs "riser" > parts[1] > pipe',
        '"1 in sch 60"',
        "1 in sch 80",
    ),
    (
        "branch to a vessel that is not there",
        'to = "SUMP"',
        'to = "sumpp"',
        'branches "carbon reactor" > to',
        'there is no vessel "sumpp"',
        'nearest: "sump"',
    ),
    (
        "a chain of like that returns to itself",
        'to = "SUMP"',
        'to = "SUMP"\nlike = "refugium"',
        'branches "refugium" > like',
        "returns to itself",
        "in full",
    ),
    (
        "joint with one end",
        'to = "cross"',
        'to = "crossing"',
        'runs "riser" > to',
        "one end only",
        'nearest: "Cross"',
    ),
    (
        "two unlocked valves in one stretch",
        '  { check = "swing", size = "1 in" },',
        '  { valve = "gate", size = "1 in" },',
        'branches "lagoon left" > parts[2]',
        "a second valve to turn in one stretch",
        "locked = true",
    ),
    (
        "a free outlet below its vessel's level",
        'outlet = "submerged", depth = "0.75 in", siphon_break = "0.25 in"',
        'outlet = "free", height = "57 in"',
        'branches "lagoon left" > parts[4] > height',
        "below the water surface",
        "submerged",
    ),
    (
        "a free outlet without height",
        'outlet = "submerged", depth = "0.75 in", siphon_break = "0.25 in"',
        'outlet = "free"',
        'branches "lagoon left" > parts[4]',
        "needs the height of its axis",
        'height = "62 in"',
    ),
    (
        "units below a table",
        'temperature = "25.5 degC"',
        'temperature = "25.5 degC"\nunits = "us"',
        "water > units",
        "counts as part of water",
        "top of the file",
    ),
    (
        "curve file missing",
        'points = ["0 gph at 13 ft, 35 W", "600 gph at 9 ft, 42 W", "1200 gph at 0 ft, 45 W"]',
        'curve = "nowhere.csv"',
        'pumps "main" > curve',
        "there is no such file",
        "plan's folder",
    ),
    (
        "absurd size",
        'length = "60 in"',
        'length = "1e30 in"',
        'vessels "lagoon" > length',
        '"1e30 in" is far beyond any plumbing',
        "check it",
    ),
    (
        "tank level above rim",
        'rim = "60 in"',
        'rim = "50 in"',
        'vessels "lagoon" > rim',
        "the level is above the rim",
        "raise rim",
    ),
    (
        "level below the bottom",
        'level = "58 in"',
        'level = "22 in"',
        'vessels "lagoon" > level',
        "below the bottom",
        "one datum",
    ),
    (
        "two runs of one name",
        "[[headers]]",
        '[[runs]]\nname = "Riser"\nfrom = "cross"\nto = "lagoon"\n\n[[headers]]',
        'runs "Riser" > name',
        'two runs are called "Riser"',
        "another name",
    ),
    (
        "two things of one name",
        'name = "spare 1"',
        'name = "lagoon"',
        'branches "lagoon" > name',
        "a vessel and a branch",
        "another name",
    ),
    (
        "limits the wrong way round",
        '["60 gph", "160 gph"]',
        '["160 gph", "60 gph"]',
        'branches "carbon reactor" > limits',
        "wrong way round",
        "lower limit first",
    ),
    (
        "a target beyond the limits",
        'target = "120 gph"',
        'target = "220 gph"',
        'branches "carbon reactor" > target',
        "above the branch's own limits",
        "change one",
    ),
    (
        "a range the wrong way round",
        'target = "120 gph"',
        'target = "130..110 gph"',
        'branches "carbon reactor" > target',
        "wrong way round",
        "lower",
    ),
    (
        "nan",
        "count = 2",
        "count = nan",
        'runs "riser" > parts[2] > count',
        "is not a whole number",
        "count = 2",
    ),
    (
        "inf where a unit is needed",
        'level = "9 in"',
        "level = inf",
        'vessels "sump" > level',
        "inf is not a length",
        'level = "36 in"',
    ),
    (
        "a number for text",
        'title = "Lagoon and seagrass system"',
        "title = 5",
        "title",
        "5 is not text",
        'title = "5"',
    ),
    (
        "a word that is none of those known",
        'role = "siphon"',
        'role = "syphon"',
        'drains "main drain" > role',
        "is not one of the words known",
        'nearest: "siphon"',
    ),
    (
        "a key missing",
        'level = "58 in"\n',
        "",
        'vessels "lagoon"',
        "level is missing",
        "add level = ",
    ),
    (
        "single brackets",
        "[[drains]]",
        "[drains]",
        "drains",
        "drains are a list",
        "[[drains]]",
    ),
    (
        "degrees on a gate valve",
        '"3 turns"',
        '"30 deg"',
        'drains "main drain" > parts[1] > open',
        "more than a quarter turn",
        "turns",
    ),
    (
        "more turns than it has",
        '"3 turns"',
        '"7 turns"',
        'drains "main drain" > parts[1] > open',
        "beyond full",
        "6 turns",
    ),
    (
        "turns of a valve whose turns are not said",
        '"3 turns", turns = 6',
        '"3 turns"',
        'drains "main drain" > parts[1] > open',
        "is not said",
        "turns = 6",
    ),
    (
        "a name with an equals sign",
        'name = "spare 1"',
        'name = "spare = 1"',
        'branches "spare = 1" > name',
        "may not hold '='",
        "letters",
    ),
    (
        "a tap of a branch that is not there",
        'branch = "spare 1"',
        'branch = "spare 2"',
        'headers "left header" > taps[3] > branch',
        'there is no branch "spare 2"',
        "spare 1",
    ),
    (
        "a branch that starts nowhere",
        '  { branch = "spare 1", after = "4 in" },\n',
        "",
        'branches "spare 1"',
        "starts nowhere",
        'branch = "spare 1"',
    ),
    (
        "an outlet before the end",
        '  { outlet = "submerged" },\n]',
        '  { outlet = "submerged" },\n  { hose = "1/2 in", length = "1 in" },\n]',
        'branches "carbon reactor" > parts[6]',
        "the last part",
        "to the end",
    ),
    (
        "a part that is none",
        '{ fitting = "union", size = "1 in" }',
        '{ size = "1 in" }',
        'runs "riser" > parts[3]',
        "which part it is",
        "fitting, valve",
    ),
    (
        "two parts in one",
        'check = "swing", size',
        'check = "swing", pipe = "1 in sch 40", size',
        'branches "lagoon left" > parts[2] > pipe',
        "cannot have pipe as well",
        "two parts",
    ),
    (
        "a device without loss",
        ', drop = "1.2 ft at 120 gph"',
        "",
        'branches "carbon reactor" > parts[4]',
        "nothing tells what the reactor loses, and there is no usual loss",
        'bed = { diameter = "4 in", depth = "8 in", grain = "1 mm" }',
    ),
    (
        "a run into a pump",
        'to = "cross"',
        'to = "main"',
        'runs "riser" > to',
        '"main" is a pump',
        "a vessel, or any new name",
    ),
]


@pytest.mark.parametrize(
    ("old", "new", "path", "problem", "remedy"),
    [kind[1:] for kind in KINDS],
    ids=[kind[0] for kind in KINDS],
)
def test_kind_of_fault(old: str, new: str, path: str, problem: str, remedy: str) -> None:
    text = spoilt(old, new)
    found = faults(text)
    match = [f for f in found if f.path == path and problem in f.problem]
    assert match, [str(fault) for fault in found]
    assert remedy in match[0].remedy
    if path:
        assert match[0].file == "plan.toml"
        assert match[0].line is not None


@pytest.mark.parametrize(
    ("old", "new", "line"),
    [
        ('level = "9 in"', "level = 9", "level = 9"),
        ('length = "14 in"', 'length = "-14 in"', '"-14 in"'),
        ('drop = "1.2 ft at 120 gph"', 'drop = "1.2 at 120 gph"', "1.2 at"),
        ('to = "SUMP"', 'to = "sumpp"', "sumpp"),
    ],
)
def test_one_slip_makes_one_fault_on_its_own_line(old: str, new: str, line: str) -> None:
    text = spoilt(old, new)
    assert the_fault(text).line == line_of(text, line)


def test_a_whole_message() -> None:
    text = spoilt('level = "9 in"', "level = 9")
    assert str(the_fault(text)) == (
        'plan.toml:11: vessels "sump" > level: the number 9 has no unit\n'
        '    write it with its unit in quotation marks: level = "9 in"'
    )


def test_all_faults_come_in_one_go_in_the_order_of_the_file() -> None:
    text = (
        PLAN.replace('level = "9 in"', "level = 9")
        .replace('to = "riser foot"', 'to = "riser feet"')
        .replace('"elbow 90"', '"elbo 90"')
        .replace('size = "3/4 in", open = "45 deg"', 'size = "3/4 in", opn = "45 deg"')
        .replace('role = "siphon"', 'role = "syphon"')
        .replace('{ check = "swing", size = "1 in" }', '{ valve = "ball", size = "1 in" }')
    )
    found = faults(text)
    lines = [fault.line for fault in found if fault.line is not None]
    assert lines == sorted(lines)
    told = " ".join(fault.problem for fault in found)
    for problem in ("no unit", "riser feet", "elbo 90", "opn", "syphon", "second valve"):
        assert problem in told, problem


def test_what_like_copied_is_told_once_where_it_was_written() -> None:
    text = spoilt('length = "4 ft"', 'length = "4"')
    fault = the_fault(text)
    assert fault.path == 'branches "carbon reactor" > parts[3] > length'
    assert fault.line == line_of(text, 'length = "4"')


def test_a_target_that_no_valve_and_no_speed_can_move() -> None:
    text = PLAN.replace('open = "45 deg"', "locked = true").replace(
        '{ valve = "ball", size = "1 in" }', '{ valve = "ball", size = "1 in", locked = true }'
    )
    read_text(text)  # the speed still moves
    text = text.replace('speed_range = ["40 %", "100 %"]\n', "")
    found = faults(text)
    assert [fault.path for fault in found] == [
        'branches "carbon reactor" > target',
        'branches "refugium" > target',
        'branches "lagoon left" > share',
    ]
    assert all("no valve and no pump speed can move" in fault.problem for fault in found)
    assert all("speed_range" in fault.remedy for fault in found)


def test_curly_quotes() -> None:
    text = spoilt('level = "9 in"', "level = “9 in”")
    fault = the_fault(text)
    assert "curly quotation marks" in fault.problem
    assert 'level = "9 in"' in fault.remedy
    assert fault.line == line_of(text, "“9 in”")


def test_brackets_without_end() -> None:
    fault = the_fault("title = 'x'\na = " + "[" * 5000 + "]" * 5000)
    assert "brackets inside brackets" in fault.problem
    assert fault.line == 2


def test_a_huge_whole_number() -> None:
    fault = the_fault("title = 'x'\na = " + "9" * 5000)
    assert "thousands of digits" in fault.problem
    assert fault.line == 2


@pytest.mark.parametrize("number", ["1e999", "-inf", "nan", "9" * 400, "true", "[]", "{}"])
def test_any_number_for_a_level(number: str) -> None:
    fault = the_fault(spoilt('level = "9 in"', f"level = {number}"))
    assert fault.path == 'vessels "sump" > level'
    assert len(str(fault)) < 400


def refusal(path: Path) -> Fault:
    with pytest.raises(PlanError) as caught:
        read(path)
    (fault,) = caught.value.faults
    return fault


def test_files_that_are_no_plan(tmp_path: Path) -> None:
    assert "no such file" in refusal(tmp_path / "absent.toml").problem
    assert "a folder" in refusal(tmp_path).problem
    picture = tmp_path / "picture.toml"
    picture.write_bytes(b"\x89PNG\r\n\x1a\n\0\0\xff\xfe")
    assert "not a text file" in refusal(picture).problem
    zeros = tmp_path / "zeros.toml"
    zeros.write_bytes(b"a = 1\n\0\0")
    assert "not a text file" in refusal(zeros).problem
    latin = tmp_path / "latin.toml"
    latin.write_bytes("a = 1\nname = 'café'\n".encode("latin-1"))
    assert "not saved as UTF-8" in refusal(latin).problem
    assert refusal(latin).line == 2
    wide = tmp_path / "wide.toml"
    wide.write_bytes(PLAN.encode("utf-16"))
    assert "UTF-16" in refusal(wide).problem


def test_a_file_of_50_megabytes_is_not_even_read(tmp_path: Path) -> None:
    large = tmp_path / "large.toml"
    with large.open("wb") as stream:
        stream.truncate(50_000_000)
    assert large.stat().st_size > LARGEST
    assert "50 MB, far too much for a plan" in refusal(large).problem


def test_a_byte_order_mark_and_windows_line_ends_do_no_harm(tmp_path: Path) -> None:
    file = tmp_path / "plan.toml"
    file.write_bytes(b"\xef\xbb\xbf" + PLAN.replace("\n", "\r\n").encode())
    assert read(file).title == "Lagoon and seagrass system"


def test_an_empty_file(tmp_path: Path) -> None:
    file = tmp_path / "plan.toml"
    file.write_text("", encoding="utf-8")
    assert "a plan needs a vessel" in refusal(file).problem
