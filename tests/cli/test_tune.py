"""`balance tune` at the terminal: a person with wet hands, a few keys, a walk that can be left."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from balance.cli import walk
from balance.network.arrays import network_of
from balance.plan.read import read
from balance.plan.readings import read_readings
from balance.show import tune as show
from tests.cli.session import Ran, run
from tests.walks.person import Person
from tests.walks.systems import systems

DEMO = Path(__file__).parents[2] / "pump_curves_demo"
MOST_LINES = 8  # of a screen, its prompt among them

Typist = Callable[[str], str | None]


@pytest.fixture
def room(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    """The fish room in a folder of its own, in which the command runs."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("COLUMNS", raising=False)
    for name in ("fish-room.toml", "demo-ac-40.csv"):
        (tmp_path / name).write_bytes((DEMO / name).read_bytes())
    return "fish-room.toml"


def typing(monkeypatch: pytest.MonkeyPatch, lines: list[str | None]) -> None:
    """Types lines one after another, then nothing more."""
    left = iter([*lines, None])
    monkeypatch.setattr(walk, "ask", lambda _: next(left, None))


@pytest.fixture
def walked(room: str, monkeypatch: pytest.MonkeyPatch) -> tuple[Person, Ran]:
    """A whole walk through the fish room."""
    person = Person(systems(network_of(read(room)), 1, seed=11)[0])
    monkeypatch.setattr(show, "lines", person.sees)
    monkeypatch.setattr(walk, "ask", person.types)
    return person, run("tune", room)


def test_a_whole_walk_brings_every_branch_within_its_tolerance(
    walked: tuple[Person, Ran], room: str
) -> None:
    person, ran = walked
    assert ran.code == 0, ran.err
    plan = read(room)
    flow, network = person.system.flows(), person.system.network
    for branch in plan.branches:
        target = branch.target
        assert target is not None
        low, high = target.low or 0.0, target.high or float("inf")
        assert 0.9 * low <= flow[network.row_of[branch.name]] <= 1.15 * high
    assert "done, all targets met with a chance of" in ran.out
    assert "balance fit fish-room.toml fish-room-walk.csv" in ran.out
    rows = read_readings("fish-room-walk.csv", plan).rows
    assert len(rows) == sum("Fill" in "".join(s) or "take" in "".join(s) for s in person.screens)


def test_no_screen_has_more_than_eight_lines_of_eighty_characters(
    walked: tuple[Person, Ran],
) -> None:
    person, _ = walked
    assert {screen[2].split()[0] for screen in person.screens} >= {"Read", "Turn", "Nudge"}
    for screen in person.screens:
        assert len(screen) + 1 <= MOST_LINES
        assert max(map(len, screen)) < 80


def test_a_walk_is_kept_at_every_reading_and_goes_on_from_there(
    room: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    typing(monkeypatch, ["", "15.1 15.3", "14.8", "q"])
    ran = run("tune", room)
    assert ran.code == 1
    assert "Stopped. fish-room-walk.csv keeps 2 readings; the same command goes on" in ran.out
    text = Path("fish-room-walk.csv").read_text(encoding="utf-8")
    assert "feed 1,2 L,15.1 15.3" in text
    typing(monkeypatch, ["15", "q"])
    ran = run("tune", room)
    assert ran.out.startswith("Going on with fish-room-walk.csv: 2 readings.")
    assert "keeps 3 readings" in ran.out
    assert [row.branch for row in read_readings("fish-room-walk.csv", read(room)).rows][:2] == [
        "feed 1",
        "feed 2",
    ]


def test_undo_takes_the_last_reading_back_and_in_the_end_the_file(
    room: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    typing(monkeypatch, ["", "40", "41", "u", "q"])
    assert "keeps one reading;" in run("tune", room).out
    assert len(read_readings("fish-room-walk.csv", read(room)).rows) == 1
    typing(monkeypatch, ["u", "q"])
    run("tune", room)
    assert not Path("fish-room-walk.csv").exists()


def test_what_is_skipped_is_asked_no_more(room: str, monkeypatch: pytest.MonkeyPatch) -> None:
    typing(monkeypatch, ["", "s", "q"])
    out = run("tune", room).out
    assert out.count("Read feed 1,") == 1
    assert out.count("Read feed 2,") == 1


@pytest.mark.parametrize(
    ("typed", "column"),
    [
        ("12.1 12.4", "12.1 12.4"),
        ("12,1 12,4", "12.1 12.4"),
        ("12.1s 12.4s", "12.1 12.4"),
        ("2 L 12.1", "2 L,12.1"),
        ("1 1/2 gal 12.1", "12.1"),
        ("400 L/h", "400 L/h"),
        ("1:05", "65"),
        ("0", "0 L/h"),
    ],
)
def test_what_may_be_typed(
    room: str, monkeypatch: pytest.MonkeyPatch, typed: str, column: str
) -> None:
    typing(monkeypatch, ["", typed, "q"])
    assert run("tune", room).code == 1
    assert column in Path("fish-room-walk.csv").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("twelve", '"twelve" is no time of a fill'),
        ("0.2", '"0.2" is no time of a fill'),
        ("3 4 100", "one fill took 100 s and another 3 s"),
        ("12 -3", '"-3" is no time of a fill'),
        ("99999", '"99999" is no time of a fill'),
        ("nan", '"nan" is no time of a fill'),
        ("at 30 deg", "no handle was to be turned here"),
        ("0 gal 12", '"0 gal" is nothing'),
        ("", "type the seconds"),
    ],
)
def test_a_slip_of_a_wet_finger_is_told_and_asked_again(
    room: str, monkeypatch: pytest.MonkeyPatch, typed: str, said: str
) -> None:
    typing(monkeypatch, ["", typed, "q"])
    ran = run("tune", room)
    assert said in ran.out
    assert "Traceback" not in ran.out + ran.err
    assert not Path("fish-room-walk.csv").exists()


def test_where_the_handle_really_stands_is_kept(room: str, monkeypatch: pytest.MonkeyPatch) -> None:
    person = Person(systems(network_of(read(room)), 1, seed=3)[0])
    said: list[str] = []

    def types(prompt: str) -> str | None:
        step = person.step
        if step is None or step.kind != "move":
            return person.types(prompt)
        said.append(step.name)
        if len(said) == 1:
            return "at 44 deg"
        return person.types(prompt) if len(said) == 2 else None

    monkeypatch.setattr(show, "lines", person.sees)
    monkeypatch.setattr(walk, "ask", types)
    run("tune", room)
    rows = read_readings("fish-room-walk.csv", read(room)).rows
    marks = [each for row in rows[6:] for each in row.turned if each.by == "mark"]
    assert [each.valve for each in marks] == said[:1]
    assert marks[0].to == pytest.approx(44 / 90)


def test_help_and_the_end_of_input(room: str, monkeypatch: pytest.MonkeyPatch) -> None:
    typing(monkeypatch, ["", "?"])
    ran = run("tune", room)
    assert ran.code == 1
    assert show.HELP in ran.out
    assert len(show.HELP.splitlines()) <= MOST_LINES
    typing(monkeypatch, ["q"])
    assert run("tune", room).code == 1


def test_a_record_of_other_readings_or_with_faults_is_refused_and_stays(
    room: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    Path("before.csv").write_text("branch,volume,seconds\nfeed 1,5 L,40\n", encoding="utf-8")
    Path("fish-room-walk.csv").write_text(
        "branch,volume,seconds\nfeed 2,5 L,40\n", encoding="utf-8"
    )
    ran = run("tune", room, "before.csv")
    assert (ran.code, "begun with other readings" in ran.err) == (2, True)
    Path("fish-room-walk.csv").write_text("branch,volume,seconds\nfed 2,5 L,40\n", encoding="utf-8")
    ran = run("tune", room)
    assert ran.code == 2
    assert "fish-room-walk.csv:2: branch" in ran.err
    assert "feed 2" in ran.err
    assert "fed 2" in Path("fish-room-walk.csv").read_text(encoding="utf-8")
    assert run("tune", room, "--bucket", "much").code == 2
    assert run("tune", room, "missing.csv").code == 2


def test_earlier_readings_are_counted_and_kept_with_the_walk(
    room: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    lines = ["branch,volume,seconds,open"]
    lines += [f"feed {n},5 L,{30 + n},{'all=full' if n == 1 else ''}" for n in range(1, 7)]
    Path("before.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    typing(monkeypatch, ["", "20", "q"])
    ran = run("tune", room, "before.csv", "--record", "mine.csv")
    assert "6 read, 0 of 6 handles set" in ran.out
    rows = read_readings("mine.csv", read(room)).rows
    assert len(rows) == 7
    typing(monkeypatch, ["q"])
    assert "7 read" in run("tune", room, "before.csv", "--record", "mine.csv").out


@pytest.mark.parametrize("plan", ["fish-room.toml", "lagoon.toml"])
@pytest.mark.parametrize("units", ["us", "imperial", "metric"])
def test_the_sheet_fits_eighty_columns(
    monkeypatch: pytest.MonkeyPatch, plan: str, units: str
) -> None:
    monkeypatch.delenv("COLUMNS", raising=False)
    ran = run("tune", str(DEMO / plan), "--print", "--units", units)
    assert ran.code == 0
    assert max(map(len, ran.out.splitlines())) <= 80
    assert ran.out.count(show.BLANK) >= 12


def test_buckets_at_hand_are_the_only_ones_named(room: str) -> None:
    out = run("tune", room, "--print", "--bucket", "3 L, 9 L").out
    assert {"3 L", "9 L"} >= {size for size in ("3 L", "9 L", "5 L", "10 L") if f" {size} " in out}
    assert " 3 L " in out


def test_the_next_step_as_json(room: str) -> None:
    step = json.loads(run("tune", room, "--json").out)
    assert step["kind"] == "read"
    assert step["branch"] == "feed 1"
    assert step["seconds_s"] == pytest.approx(step["volume_l"] / step["flow_l_per_h"] * 3600)
    assert not Path("fish-room-walk.csv").exists()


def test_interrupted_from_the_keyboard_what_was_read_is_kept(
    room: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    left = iter(["", "40"])

    def types(_: str) -> str:
        for line in left:
            return line
        raise KeyboardInterrupt

    monkeypatch.setattr(walk, "ask", types)
    assert run("tune", room).code == 130
    assert len(read_readings("fish-room-walk.csv", read(room)).rows) == 1
