"""Logs of readings: what each row gives, and each fault told with its line, column and way out."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from balance.errors import Fault, PlanError
from balance.plan.log_sheet import COLUMNS, LARGEST
from balance.plan.model import Plan
from balance.plan.reading import GaugePlace, Readings, Turned
from balance.plan.readings import read_readings
from balance.units import G
from balance.water import density
from tests.plan.logs import STAND, VALVES, move, moves_of, plan_of_logs, readings

GALLON = 3.785411784e-3
HEAD = "branch,volume,seconds,flow,open,speed,head,at,watts,note\n"
FILL = "refugium,1 gal,30"


@pytest.fixture(scope="module")
def plan() -> Plan:
    return plan_of_logs()


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("logs")


def faults(folder: Path, text: str, plan: Plan) -> list[tuple[int | None, str, str, str]]:
    with pytest.raises(PlanError) as caught:
        readings(folder, text, plan)
    assert {fault.file for fault in caught.value.faults} == {"log.csv"}
    return [_told(fault) for fault in caught.value.faults]


def _told(fault: Fault) -> tuple[int | None, str, str, str]:
    return fault.line, fault.path, fault.problem, fault.remedy


# What a row gives


def test_a_fill_of_the_bucket(tmp_path: Path, plan: Plan) -> None:
    found = readings(tmp_path, HEAD + "REFUGIUM, 1 gal ,12.1 12.4 s 11.9,,,,,,,  so\n", plan)
    assert found.file == tmp_path / "log.csv"
    assert found.left_out == ()
    (row,) = found.rows
    assert (row.line, row.branch, row.seconds, row.note) == (
        2,
        "refugium",
        (12.1, 12.4, 11.9),
        "so",
    )
    assert row.volume == pytest.approx(GALLON, rel=1e-15)
    assert row.openings == pytest.approx(STAND, rel=1e-15)
    assert (row.turned, row.speeds) == ((), (0.85, 1.0))
    assert (row.flow, row.head, row.at, row.watts, row.pump) == (None,) * 5


def test_a_short_fill_and_a_flow_of_nothing_are_readings(tmp_path: Path, plan: Plan) -> None:
    rows = readings(tmp_path, HEAD + "refugium,1 L,0.8\nrefugium,,,0 gph\n", plan).rows
    assert [(row.seconds, row.flow) for row in rows] == [((0.8,), None), ((), 0.0)]


def test_columns_in_any_order_and_case_with_units(tmp_path: Path, plan: Plan) -> None:
    text = "\ufeffAt,HEAD_in,Flow_GPH,Branch,Watts\r\nriser,45,118,return,main=38\r\n"
    (row,) = readings(tmp_path, text, plan).rows
    assert row.head == pytest.approx(45 * 0.0254, rel=1e-15)
    assert row.flow == pytest.approx(118 * GALLON / 3600, rel=1e-15)
    assert (row.branch, row.watts, row.pump) == ("return", 38.0, "main")


def test_a_unit_in_the_cell_counts_before_that_of_the_heading(tmp_path: Path, plan: Plan) -> None:
    rows = readings(tmp_path, "branch,volume_gal,seconds\nreturn,2 L,9\nreturn,2,9\n", plan).rows
    assert [row.volume for row in rows] == pytest.approx([2e-3, 2 * GALLON], rel=1e-15)


def test_a_table_of_a_country_with_decimal_commas(tmp_path: Path, plan: Plan) -> None:
    text = (
        "branch;volume_l;seconds;open;note;;\r\n"
        'return;1,5;12,1 12,4;"gate=1,5 turns, return=+2,5 deg";1,5 times;;\r\n'
        "return;2;9;return=-2,5 deg\r\n"
    )
    first, second = readings(tmp_path, text, plan).rows
    assert first.volume == pytest.approx(1.5e-3, rel=1e-15)
    assert first.seconds == (12.1, 12.4)
    assert moves_of(first) == [move("gate", "mark", 0.3), move("return", "nudge", 62.5 / 90)]
    assert first.note == "1,5 times"
    assert second.openings[3] == pytest.approx(60 / 90)


def test_tabs_remarks_and_blank_lines(tmp_path: Path, plan: Plan) -> None:
    text = (
        '# a remark, first\n\nbranch\tvolume\tseconds\n"# a remark, quoted"\t\t\n\t\t\n'
        "  # another\n" + FILL.replace(",", "\t") + "\n"
    )
    (row,) = readings(tmp_path, text, plan).rows
    assert (row.line, row.seconds) == (7, (30.0,))


def test_a_name_that_begins_as_a_remark_does(tmp_path: Path, plan: Plan) -> None:
    first = plan.branches[-1].model_copy(update={"name": "#1"})
    marked = plan.model_copy(update={"branches": (*plan.branches[:-1], first)})
    (row,) = readings(tmp_path, 'branch,flow\n"#1",9 gph\n', marked).rows
    assert row.branch == "#1"


def test_small_moves_end_at_shut(tmp_path: Path, plan: Plan) -> None:
    """0.3 - 0.1 - 0.1 - 0.1 is less than nothing on a computer."""
    log = HEAD + f"{FILL},,stir; slow=30 %\n" + f"{FILL},,stir; slow=-10 %\n" * 3
    assert readings(tmp_path, log, plan).rows[-1].openings[2] == 0.0


def test_handles_move_from_row_to_row(tmp_path: Path, plan: Plan) -> None:
    rows = readings(
        tmp_path,
        HEAD
        + f"{FILL},,\n"
        + f"{FILL},,carbon  reactor=+2 deg; GATE = -1/8 turn\n"
        + f'{FILL},,"Carbon Reactor=+1 deg,refugium=−2.5 %, stir; slow=30 %"\n'
        + f"{FILL},,return=45 deg; return=-3 deg\n",
        plan,
    ).rows
    assert [row.openings[:4] for row in rows] == [
        pytest.approx(expected)
        for expected in (
            (35 / 90, 1.25 / 5, 0.5, 60 / 90),
            (37 / 90, 1.125 / 5, 0.5, 60 / 90),
            (38 / 90, 1.0 / 5, 0.3, 60 / 90),
            (38 / 90, 1.0 / 5, 0.3, 42 / 90),
        )
    ]
    assert [(one.valve, one.by) for row in rows for one in row.turned] == [
        ("Carbon reactor", "nudge"),
        ("gate", "nudge"),
        ("Carbon reactor", "nudge"),
        ("gate", "nudge"),
        ("stir; slow", "mark"),
        ("return", "mark"),
        ("return", "nudge"),
    ]
    assert [one.to for one in rows[3].turned] == pytest.approx([45 / 90, 42 / 90])


def test_all_and_as_planned(tmp_path: Path, plan: Plan) -> None:
    rows = readings(
        tmp_path,
        HEAD
        + f"{FILL},,all=full,main=40 %\n"
        + f"{FILL},,all=shut; gate=2 turns\n"
        + f"{FILL},,As  Planned\n"
        + f"{FILL},,as planned; return=50 deg,second=90 %\n"
        + f"{FILL},,all=+10 %\n",
        plan,
    ).rows
    stop = 80 / 90
    assert rows[0].openings == pytest.approx((1.0, 1.0, 1.0, stop, 1.0, 30 / 90))
    assert [one.valve for one in rows[0].turned] == list(VALVES[:5])
    assert rows[1].openings == pytest.approx((0.0, 0.4, 0.0, 15 / 90, 0.0, 30 / 90))
    assert [one for one in rows[1].turned if one.valve == "gate"] == [Turned("gate", "mark", 0.4)]
    assert rows[2].openings == pytest.approx(STAND)
    assert [one.valve for one in rows[2].turned] == list(VALVES[:4])
    assert moves_of(rows[3]) == [move("return", "mark", 50 / 90)]
    assert [row.speeds for row in rows] == [
        (0.4, 1.0),
        (0.4, 1.0),
        (0.85, 1.0),
        (0.85, 0.9),
        (0.85, 0.9),
    ]
    assert {one.by for one in rows[4].turned} == {"nudge"}
    assert rows[4].openings[4] == pytest.approx(0.1)


def test_speeds_stay_until_said_otherwise(tmp_path: Path, plan: Plan) -> None:
    rows = readings(
        tmp_path,
        f"{HEAD}{FILL},,,Second=40 %; main=60 %\n{FILL}\n{FILL},,,main=62.5 percent\n",
        plan,
    ).rows
    assert [row.speeds for row in rows] == [(0.6, 0.4), (0.6, 0.4), (0.625, 0.4)]


@pytest.mark.parametrize(
    ("at", "place"),
    [
        ("riser", GaugePlace("riser", 1)),
        ("RISER 3", GaugePlace("riser", 2)),
        ("riser part 2", GaugePlace("riser", 1)),
        ("second riser", GaugePlace("second riser", 1)),
        ("carbon reactor 2", GaugePlace("Carbon reactor", 1)),
    ],
)
def test_a_level_and_its_place(tmp_path: Path, plan: Plan, at: str, place: GaugePlace) -> None:
    (row,) = readings(tmp_path, f"head,at\n-3.5 in,{at}\n", plan).rows
    assert row.head == pytest.approx(-3.5 * 0.0254, rel=1e-15)
    assert (row.at, row.branch) == (place, None)


@pytest.mark.parametrize(("text", "pascals"), [("14 kPa", 14e3), ("-1 psi", -6894.757293168)])
def test_a_gauge_shows_the_level_of_water_above_it(
    tmp_path: Path, plan: Plan, text: str, pascals: float
) -> None:
    water = density(plan.water.temperature, salinity=plan.water.salinity)
    (row,) = readings(tmp_path, f"head,at\n{text},riser 3 @ 20 in\n", plan).rows
    assert row.head == pytest.approx(20 * 0.0254 + pascals / (water * G), rel=1e-12)
    fresh = plan.model_copy(update={"water": plan.water.model_copy(update={"density": 1000.0})})
    (row,) = readings(tmp_path, f"head,at\n{text},riser 3 @ 20 in\n", fresh).rows
    assert row.head == pytest.approx(20 * 0.0254 + pascals / (1000.0 * G), rel=1e-12)


# Faults of the file

READABLE = ", ".join(COLUMNS)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", [(None, "", "the file is empty", "begin it with branch,volume,seconds,open")]),
        (
            "# so\n,,\n",
            [(None, "", "the file is empty", "begin it with branch,volume,seconds,open")],
        ),
        (
            "refugium,1 gal,30\n",
            [
                (
                    1,
                    "",
                    '"refugium,1 gal,30" holds no column heading that is known here',
                    "the first row names the columns, for example branch,volume,seconds,open",
                )
            ],
        ),
        (
            "branch,volume,seconds\n# none yet\n",
            [
                (
                    1,
                    "",
                    "no reading stands below the headings",
                    "write one row for each thing that was measured",
                )
            ],
        ),
        (
            "branch,Branch,volume,volume_gal,secs,colour,flow_ft,watts_w,head_psi\n" + FILL,
            [
                (1, "column 2", "a second column of branch", "keep one"),
                (1, "column 4", "a second column of volume", "keep one"),
                (
                    1,
                    "column 5",
                    '"secs" is no column heading that is known here',
                    'nearest: "seconds"',
                ),
                (
                    1,
                    "column 6",
                    '"colour" is no column heading that is known here',
                    f"known: {READABLE}",
                ),
                (
                    1,
                    "column 7",
                    '"ft" is no unit of flow',
                    (
                        "write flow, and each unit in its cell; or such as volume_gal, flow_gph, "
                        "head_in"
                    ),
                ),
                (
                    1,
                    "column 8",
                    '"watts_w" is no column heading that is known here',
                    'nearest: "watts"',
                ),
            ],
        ),
    ],
)
def test_faults_of_the_headings(
    tmp_path: Path, plan: Plan, text: str, told: list[tuple[int | None, str, str, str]]
) -> None:
    assert faults(tmp_path, text, plan) == told
    with pytest.raises(PlanError):
        readings(tmp_path, text, plan, keep_going=True)


@pytest.mark.parametrize(
    ("content", "problem", "remedy"),
    [
        (b"\xff\xfeb\0", "this is not a text file", "save the table as CSV in UTF-8"),
        (b"branch\0", "this is not a text file", "save the table as CSV in UTF-8"),
        (b"open\n45\xb0\n", "this is not a text file", "save the table as CSV in UTF-8"),
        (b"branch\n" * (LARGEST // 7 + 1), "the file is far too large for readings", ""),
    ],
)
def test_files_that_are_no_table(
    tmp_path: Path, plan: Plan, content: bytes, problem: str, remedy: str
) -> None:
    file = tmp_path / "log.csv"
    file.write_bytes(content)
    with pytest.raises(PlanError) as caught:
        read_readings(file, plan)
    assert [_told(fault) for fault in caught.value.faults] == [(None, "", problem, remedy)]


def test_files_that_are_not_there(tmp_path: Path, plan: Plan) -> None:
    with pytest.raises(PlanError) as caught:
        read_readings(str(tmp_path / "absent.csv"), plan)
    (fault,) = caught.value.faults
    assert fault.problem == "there is no such file"
    assert fault.remedy == "check its name and the folder it is in"
    with pytest.raises(PlanError, match="this is a folder"):
        read_readings(tmp_path, plan)


# Faults of rows

SECONDS = 'write the seconds of each fill, a space between two: "12.1 12.4 11.9"'
ALIKE = (
    "fills of one bucket at one setting are nearly alike: look for a slip of the pen, or give "
    "each setting its own row"
)
STRAIGHT = 'write "riser 2", "riser 3"'


@pytest.mark.parametrize(
    ("cells", "path", "problem", "remedy"),
    [
        # what belongs together
        (
            {"note": "so"},
            "",
            "nothing was measured in this row",
            (
                "write branch with volume and seconds or with flow, head with at, or watts; what "
                "was turned may stand in the row of the next reading"
            ),
        ),
        (
            {"branch": "return", "watts": "main=38"},
            "branch",
            'nothing of "return" was measured',
            "write volume and seconds, or flow; where a level is read stands in `at`",
        ),
        ({"flow": "9 gph"}, "branch", "whose flow is this?", "write the name of a branch"),
        (
            {"branch": "return", "volume": "1 gal"},
            "seconds",
            "how long did the bucket take to fill?",
            SECONDS,
        ),
        (
            {"branch": "return", "seconds": "9"},
            "volume",
            "how much went into the bucket?",
            'write such as "1 gal" or "2 L"',
        ),
        (
            {"branch": "return", "seconds": "9", "volume": "1 gal", "flow": "9 gph"},
            "flow",
            "both flow and a fill of the bucket are given",
            "keep one of the two",
        ),
        ({"head": "45 in"}, "at", "where was this level read?", 'write a run or branch: "riser"'),
        ({"at": "riser"}, "head", "which level was read?", 'write such as "45 in" or "2.1 psi"'),
        # branch
        (
            {"branch": "refuge", "flow": "9 gph"},
            "branch",
            'there is no branch "refuge"',
            'nearest: "refugium"',
        ),
        (
            {"branch": "xyz", "flow": "9 gph"},
            "branch",
            'there is no branch "xyz"',
            'known: "Carbon reactor", "refugium", "stir; slow", "return", "spare 1", "held"',
        ),
        (
            {"branch": "spare 1", "flow": "9 gph"},
            "branch",
            '"spare 1" is capped: it has no `to` in the plan, so that nothing flows',
            "give it its end there",
        ),
        # volume, flow
        (
            {"branch": "return", "volume": "0 gal", "seconds": "9"},
            "volume",
            '"0 gal": a volume here must be more than zero',
            'for example "1 gal"',
        ),
        (
            {"branch": "return", "volume": "-1 gal", "seconds": "9"},
            "volume",
            '"-1 gal": a volume here must be more than zero',
            'for example "1 gal"',
        ),
        (
            {"branch": "return", "volume": "1", "seconds": "9"},
            "volume",
            '"1" has no unit',
            'write it with one of gal, qt, L, imp gal, m3: "1 gal"',
        ),
        (
            {"branch": "return", "flow": "-9 gph"},
            "flow",
            '"-9 gph": a flow here may not be negative',
            'for example "120 gph"',
        ),
        (
            {"branch": "return", "flow": "118 gpj"},
            "flow",
            '"gpj" is no unit of flow that is known here',
            (
                'did you mean "gpm" or "gph"? units: gph, gpm, imp gph, L/h, L/min, m3/h; for '
                'example "120 gph"'
            ),
        ),
        # seconds
        *(
            (
                {"branch": "return", "volume": "1 gal", "seconds": text},
                "seconds",
                f"{shown}: a fill takes more than no time",
                SECONDS,
            )
            for text, shown in (("0", '"0"'), ("12 -3", '"-3"'), ("1e-999", '"1e-999"'))
        ),
        *(
            (
                {"branch": "return", "volume": "1 gal", "seconds": text},
                "seconds",
                f"{shown} is not a number of seconds",
                SECONDS,
            )
            for text, shown in (
                ("nan", '"nan"'),
                ("inf 12", '"inf"'),
                ("1e999", '"1e999"'),
                ("12,1", '"12,1"'),
                ("1:05", '"1:05"'),
                ("s", '"s"'),
            )
        ),
        (
            {"branch": "return", "volume": "1 gal", "seconds": "12.1 121 12"},
            "seconds",
            "one fill took 121 s and another 12 s",
            ALIKE,
        ),
        # open
        (
            {"open": "carbon reactor 30 deg"},
            "open",
            '"carbon reactor 30 deg" is not a valve and its opening',
            'write "Carbon reactor=30 deg"',
        ),
        (
            {"open": "all="},
            "open",
            '"all=" is not a valve and its opening',
            'write "Carbon reactor=30 deg"',
        ),
        ({"open": "gat=1 turn"}, "open", 'there is no valve "gat"', 'nearest: "gate"'),
        (
            {"open": "riser=30 deg"},
            "open",
            'there is no valve "riser"',
            'known: "Carbon reactor", "gate", "stir; slow", "return", "spare 1", "held"',
        ),
        (
            {"open": "return=50 deg; return=40 deg"},
            "open",
            '"return" is set twice',
            "keep one of the two",
        ),
        (
            {"open": "return=50 deg; as planned"},
            "open",
            '"as planned" undoes what stands before it',
            "write it first, and after it what differs",
        ),
        (
            {"open": "return=50 deg; all=full"},
            "open",
            '"all=full" undoes what stands before it',
            "write it first, and after it what differs",
        ),
        (
            {"open": "held=40 deg"},
            "open",
            '"held" is locked in the plan, so that no hand turns it',
            "take out locked = true there, or this opening here",
        ),
        (
            {"open": "return=40"},
            "open",
            '"40" is not a valve opening',
            'write "45 deg", "30 %", "3 turns", "shut" or "full"',
        ),
        (
            {"open": "return=+full"},
            "open",
            '"+full" is not a move of a handle',
            'write "+2 deg", "-3 %" or "-1/8 turn"',
        ),
        (
            {"open": "return=full"},
            "open",
            '"return=full" is beyond its stops',
            "the plan lets it stand from 15 deg to 80 deg",
        ),
        (
            {"open": "carbon reactor=100 deg"},
            "open",
            '"100 deg" is beyond full',
            'the most is "90 deg", or "full"',
        ),
        (
            {"open": "carbon reactor=+60 deg"},
            "open",
            '"Carbon reactor" stood at 35 deg, and +60 deg goes beyond full',
            (
                "check this move and those above it; without a sign it is a mark to set: "
                '"Carbon reactor=full"'
            ),
        ),
        (
            {"open": "carbon reactor=+100 deg"},
            "open",
            '"Carbon reactor" stood at 35 deg, and +100 deg goes beyond full',
            (
                "check this move and those above it; without a sign it is a mark to set: "
                '"Carbon reactor=full"'
            ),
        ),
        (
            {"open": "carbon reactor=-1 turn"},
            "open",
            '"-1 turn": this valve opens by a quarter turn, 90 degrees',
            'write degrees from shut ("45 deg") or percent ("50 %")',
        ),
        (
            {"open": "gate=-1 3/8 turns"},
            "open",
            '"gate" stood at 1 1/4 turns, and -1 3/8 turns goes beyond shut',
            'check this move and those above it; without a sign it is a mark to set: "gate=shut"',
        ),
        (
            {"open": "return=- 50 deg"},
            "open",
            '"return" stood at 60 deg, and - 50 deg goes beyond its stop at 15 deg',
            (
                "check this move and those above it; without a sign it is a mark to set: "
                '"return=15 deg"'
            ),
        ),
        # speed, watts
        (
            {"speed": "60 %"},
            "speed",
            '"60 %": which pump?',
            'write "main=60 %" or "second=60 %"',
        ),
        ({"speed": "man=60 %"}, "speed", 'there is no pump "man"', 'nearest: "main"'),
        (
            {"speed": "fill=60 %"},
            "speed",
            'there is no pump "fill"',
            'known: "main", "second"',
        ),
        (
            {"speed": "main=60 %; MAIN=50 %"},
            "speed",
            '"main" has two speeds',
            "keep one of the two",
        ),
        (
            {"speed": "main=60"},
            "speed",
            '"60" has no unit',
            'write it with one of %: "60 %"',
        ),
        (
            {"speed": "main=300 %"},
            "speed",
            '"300 %" is more than any plumbing has (from 0 to 2 of full speed is taken)',
            'check the number and its unit; for example "85 %"',
        ),
        (
            {"watts": "38"},
            "watts",
            '"38": which pump?',
            'write "main=38" or "second=38"',
        ),
        (
            {"watts": "main=-38"},
            "watts",
            '"-38 W": a power here may not be negative',
            'for example "38 W"',
        ),
        # head, at
        (
            {"head": "45 in", "at": "risre"},
            "at",
            'there is no run or branch "risre"',
            'nearest: "riser"',
        ),
        (
            {"head": "45 in", "at": "header"},
            "at",
            '"header" is a header; levels are read in runs and branches',
            (
                'write one of "riser", "second riser", "riser 2", "bridge", "Carbon reactor", '
                '"refugium", "stir; slow", "return", "spare 1", "held"'
            ),
        ),
        (
            {"head": "45 in", "at": "siphon 1"},
            "at",
            '"siphon" is a drain; levels are read in runs and branches',
            (
                'write one of "riser", "second riser", "riser 2", "bridge", "Carbon reactor", '
                '"refugium", "stir; slow", "return", "spare 1", "held"'
            ),
        ),
        (
            {"head": "45 in", "at": "riser 4"},
            "at",
            '"riser" has 3 parts, and no part 4',
            STRAIGHT,
        ),
        (
            {"head": "45 in", "at": "riser 1"},
            "at",
            'part 1 of "riser" is no pipe and no hose',
            STRAIGHT,
        ),
        (
            {"head": "45 in", "at": "bridge"},
            "at",
            '"bridge" has no pipe and no hose, at whose middle a level could be read',
            "read it at another run or branch",
        ),
        (
            {"head": "45 in", "at": "riser 2"},
            "at",
            '"riser 2" is shut but for water changes',
            "read it elsewhere",
        ),
        (
            {"head": "45 in", "at": "spare 1"},
            "at",
            '"spare 1" is capped: it has no `to` in the plan',
            "read the level elsewhere, or give it its end there",
        ),
        (
            {"head": "2.1 psi", "at": "riser"},
            "head",
            '"2.1 psi" is a pressure: how high is the gauge?',
            'write its height above the datum in `at`: "riser @ 20 in"',
        ),
        (
            {"head": "45 in", "at": "riser @ 20 in"},
            "head",
            '"45 in" is a level above the datum, for which a gauge\'s height has no bearing',
            'leave out its height, or write the pressure that it shows: "2.1 psi"',
        ),
        (
            {"head": "2.1 psi", "at": "riser @ high"},
            "at",
            '"high" is not a length',
            'write a number and its unit: "14 in"',
        ),
        (
            {"head": "45", "at": "riser"},
            "head",
            '"45" has no unit',
            'write it with one of in, ft, mm, cm, m: "45 in"',
        ),
    ],
)
def test_a_fault_of_a_row(
    tmp_path: Path, plan: Plan, cells: dict[str, str], path: str, problem: str, remedy: str
) -> None:
    if not cells.keys() - {"open", "speed"}:
        cells |= {"branch": "refugium", "flow": "9 gph"}
    row = ",".join(f'"{cells.get(column, "")}"' for column in COLUMNS)
    assert faults(tmp_path, f"{HEAD}{row}\n", plan) == [(2, path, problem, remedy)]
    kept = readings(tmp_path, f"{HEAD}{row}\n", plan, keep_going=True)
    assert kept.rows == ()
    assert [_told(fault) for fault in kept.left_out] == [(2, path, problem, remedy)]


def test_faults_name_the_heading_as_it_is_written(tmp_path: Path, plan: Plan) -> None:
    text = "Branch,Flow_GPH\nrefugium,many\n"
    assert [fault[:2] for fault in faults(tmp_path, text, plan)] == [(2, "Flow_GPH")]


def test_rows_that_cannot_be_parted(tmp_path: Path, plan: Plan) -> None:
    text = f'branch,volume,seconds\n{FILL},so\n"refugium,1 gal,30\n"{"x" * 200_000}"\n{FILL},,\n'
    unclosed = (
        "",
        "a quotation mark is not closed on its line, or the line is far too long",
        "close it; a cell keeps to one line",
    )
    assert faults(tmp_path, text, plan) == [
        (
            2,
            "",
            "a cell stands below no heading: 4 cells, 3 headings",
            'put a cell that holds "," in quotation marks, "..."',
        ),
        (3, *unclosed),
        (4, *unclosed),
    ]


def test_all_faults_come_in_one_go(tmp_path: Path, plan: Plan) -> None:
    text = f"{HEAD}refugee,1 gla,-3\n{FILL},,gate=9 turns,man=3 %\n{FILL},,gate=+1 turn\nreturn,,\n"
    assert [fault[:2] for fault in faults(tmp_path, text, plan)] == [
        (2, "branch"),
        (2, "volume"),
        (2, "seconds"),
        (3, "open"),
        (3, "speed"),
        (5, "branch"),
    ]


def test_a_plan_without_pump_or_valve_to_turn(tmp_path: Path, plan: Plan) -> None:
    bare = plan.model_copy(update={"pumps": {}, "branches": (plan.branches[-1],)})
    assert faults(tmp_path, "branch,flow,speed,open\nheld,9 gph,3 %,x\n", bare) == [
        (2, "open", '"x" is not a valve and its opening', "this plan has no valve to turn"),
        (2, "speed", "this plan has no pump that runs", "leave the cell empty"),
    ]


# Going on beyond faults


def test_going_on_leaves_out_rows_but_not_what_they_turned(tmp_path: Path, plan: Plan) -> None:
    found = readings(
        tmp_path,
        f"{HEAD}{FILL}\nrefugium,1 gal,never,,gate=2 turns; return=+3 deg\n{FILL},,return=-1 deg\n",
        plan,
        keep_going=True,
    )
    assert [row.line for row in found.rows] == [2, 4]
    assert found.rows[1].openings[1] == pytest.approx(0.4)
    assert moves_of(found.rows[1]) == [
        move("gate", "mark", 0.4),
        move("return", "nudge", 63 / 90),
        move("return", "nudge", 62 / 90),
    ]
    assert [fault.line for fault in found.left_out] == [3]


RESTATED = "Carbon reactor=30 deg; gate=1 turn; stir; slow=40 %; return=40 deg; spare 1=shut"


@pytest.mark.parametrize("restated", ["as planned", "all=full", RESTATED])
def test_handles_that_are_not_known_take_the_rows_below_with_them(
    tmp_path: Path, plan: Plan, restated: str
) -> None:
    text = (
        f"{HEAD}{FILL},,gate=2 turns\n{FILL},,gate=3 tuns\n{FILL}\n{FILL},,gate=+1 turn\n"
        f"{FILL},,return=50 deg\n{FILL},,{restated}\n{FILL},,gate=-1/8 turn\n"
    )
    found = readings(tmp_path, text, plan, keep_going=True)
    assert [row.line for row in found.rows] == [2, 7, 8]
    assert [one.valve for one in found.rows[1].turned] == list(VALVES[:5])
    assert {one.by for one in found.rows[1].turned} == {"mark"}
    adrift = (
        "open",
        "where the handles stand is not known, since line 3 is left out",
        'mend that line; or write "as planned", "all=full", or a mark for each of them here',
    )
    assert [_told(fault) for fault in found.left_out[1:]] == [(line, *adrift) for line in (4, 5, 6)]
    assert (found.left_out[0].line, found.left_out[0].path) == (3, "open")
    assert [fault[0] for fault in faults(tmp_path, text, plan)] == [3]


def test_speeds_that_are_not_known_take_the_rows_below_with_them(
    tmp_path: Path, plan: Plan
) -> None:
    text = (
        f"{HEAD}{FILL},,,main=6O %\n{FILL},,,main=60 %\n{FILL},,,second=75 %\n"
        f"{FILL},,,main=x\n{FILL},,as planned\n"
    )
    found = readings(tmp_path, text, plan, keep_going=True)
    assert [(row.line, row.speeds) for row in found.rows] == [(4, (0.6, 0.75)), (6, (0.85, 1.0))]
    assert _told(found.left_out[1]) == (
        3,
        "speed",
        "how fast the pumps run is not known, since line 2 is left out",
        "mend that line; or write the speed of each of them here",
    )
    assert [fault.line for fault in found.left_out] == [2, 3, 5]


def test_what_may_have_meant_as_planned_makes_speeds_unknown_too(
    tmp_path: Path, plan: Plan
) -> None:
    text = f"{HEAD}{FILL},,,main=60 %\n{FILL},,as plan\n{FILL},,all=full\n"
    found = readings(tmp_path, text, plan, keep_going=True)
    assert [row.line for row in found.rows] == [2]
    assert [(fault.line, fault.path) for fault in found.left_out] == [(3, "open"), (4, "speed")]


def test_a_torn_row_may_have_turned_what_there_are_columns_for(tmp_path: Path, plan: Plan) -> None:
    torn = '"refugium,1 gal,30\n'
    found = readings(tmp_path, f"{HEAD}{torn}{FILL}\n", plan, keep_going=True)
    assert found.rows == ()
    assert [(fault.line, fault.path) for fault in found.left_out] == [(2, ""), (3, "open")]
    found = readings(
        tmp_path, f"{HEAD}{torn}{FILL},,all=full\n{FILL},,as planned\n", plan, keep_going=True
    )
    assert [(fault.line, fault.path) for fault in found.left_out] == [(2, ""), (3, "speed")]
    assert [row.line for row in found.rows] == [4]
    found = readings(tmp_path, f"branch,volume,seconds\n{torn}{FILL}\n", plan, keep_going=True)
    assert [row.line for row in found.rows] == [3]


# Anything at all

_PIECES = (
    *COLUMNS, "refugium", "1 gal", "12.1 12.4", "gate", "all", "as planned", "=", "+2 deg",
    "-1/8 turn", "full", "60 %", "main=", "riser 2", "@ 20 in", "2.1 psi", "38 W", ",", ",", ",",
    ";", "\n", "\n", "\r\n", '"', "#", "\t", " ", "é", "\0", "9" * 50, "_gph", "part",
)  # fmt: skip


@settings(max_examples=300, deadline=None)
@given(content=st.binary(max_size=300))
@example(content=b"branch\n\x85\n")
@example(content=b'open\n"\r"\n')
def test_any_bytes_are_read_or_refused(folder: Path, content: bytes) -> None:
    _is_read_or_refused(folder / "any.csv", content)


@settings(max_examples=300, deadline=None)
@given(
    pieces=st.lists(st.sampled_from(_PIECES) | st.text(max_size=4), max_size=60),
    head=st.sampled_from(["", HEAD, HEAD.replace(",", ";"), "open\tspeed\twatts\n", "at,head\n"]),
)
def test_any_words_of_a_log_are_read_or_refused(folder: Path, pieces: list[str], head: str) -> None:
    content = (head + "".join(pieces)).encode("utf-8", errors="replace")
    _is_read_or_refused(folder / "any.csv", content)


PLAN = plan_of_logs()


def _is_read_or_refused(file: Path, content: bytes) -> None:
    file.write_bytes(content)
    kept = _read_or_refused(file, keep_going=True)
    strict = _read_or_refused(file, keep_going=False)
    if isinstance(kept, PlanError):
        assert isinstance(strict, PlanError)
        assert str(strict) == str(kept)
    elif isinstance(strict, PlanError):
        assert set(strict.faults) <= set(kept.left_out)
        assert str(strict)
    else:
        assert (strict, strict.left_out) == (kept, ())
        assert strict.rows


def _read_or_refused(file: Path, *, keep_going: bool) -> Readings | PlanError:
    try:
        return read_readings(file, PLAN, keep_going=keep_going)
    except PlanError as error:
        return error
