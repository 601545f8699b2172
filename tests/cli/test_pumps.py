"""`balance pumps`: a page that fits, an exit code that tells, and nothing but JSON where asked."""

from __future__ import annotations

import io
import json
import os
import pty
import subprocess
import sys
from contextlib import redirect_stderr
from pathlib import Path

import pytest

from balance.cli import progress
from tests.cli.conftest import changed
from tests.cli.session import Ran, run
from tests.cli.test_endings import ANSI, ROOT, spawned
from tests.cli.test_json import STORED, keys, leaves
from tests.test_demo import DEMO

STRONG = "flow_gph,head_ft,power_w\n0,14,30\n400,12.5,42\n800,9,50\n1300,0,54\n"
WEAK = "flow_gph,head_ft,power_w\n0,2.5,6\n100,2.2,8\n200,1.5,9\n320,0,10\n"
LONG = "a pump with a name that goes on and on and that nobody could fit into any table at all"


@pytest.fixture
def plan(starter: str, tmp_path: Path) -> str:
    """The starter plan with candidates beside it."""
    for name, text in {"strong": STRONG, "weak": WEAK, LONG: STRONG.replace("30", "31")}.items():
        (tmp_path / f"{name}.csv").write_text(text, encoding="utf-8")
    (tmp_path / "empty").mkdir()
    (tmp_path / "bad.csv").write_text("flow_gph,head_ft\n0,x\n", encoding="utf-8")
    return starter


def flat(ran: Ran) -> str:
    return " ".join(ran.out.split())


@pytest.mark.parametrize("units", ["us", "imperial", "metric"])
@pytest.mark.parametrize("columns", ["", "60", "100"])
def test_the_page_is_plain_text_as_wide_as_it_may_be(
    plan: str, monkeypatch: pytest.MonkeyPatch, units: str, columns: str
) -> None:
    if columns:
        monkeypatch.setenv("COLUMNS", columns)
    words = ["strong.csv", "weak.csv", f"{LONG}.csv", "--plot", "--units", units]
    ran = run("pumps", plan, *words, "--arrange", "single", "--arrange", "parallel")
    assert (ran.code, ran.err) == (0, "")
    assert not ANSI.search(ran.out)
    assert [line for line in ran.out.splitlines() if len(line) > int(columns or 80)] == []
    assert all(line == line.rstrip() for line in ran.out.splitlines())
    assert "nan" not in ran.out.casefold()
    assert {"us": "gph", "imperial": "imp gph", "metric": "L/h"}[units] in ran.out
    assert ("gph" in ran.out) == (units != "metric")


def test_the_page_says_what_matters(plan: str) -> None:
    told = flat(run("pumps", plan, "strong.csv", "weak.csv", "--speeds", "fixed", "--plot"))
    for said in (
        "My tank and its sump: which pump (fewest watts first)",
        "Why in this order",
        'weak: lifts no water to "return", ',
        "ft short of it; 2 more missed",
        "Valves as the plan has them, pumps at top speed",
        "where they cross",
        "ISO 9906 grade 3B",
        "Mains electricity stands beside salt water",
        "for its marks write it into the plan as the pump, and ask `balance settings`",
    ):
        assert said in told
    assert "nobody told the speeds" not in told
    for rank, said in (("margin", "most to spare first"), ("cost", "lowest cost first")):
        assert said in flat(run("pumps", plan, "strong.csv", "--rank", rank))


def test_of_a_folder_the_page_names_what_is_left_out(plan: str) -> None:
    ran = run("pumps", plan, str(Path(plan).parent), "--speeds", "fixed")
    assert (ran.code, ran.err) == (0, "")
    assert 'bad.csv is left out: line 2: column 2 (head_ft): "x" is not a number' in flat(ran)


def test_exit_codes(plan: str) -> None:
    assert run("pumps", plan, "strong.csv").code == 0
    greedy = changed(plan, 'target = "400 gph"', 'target = "4000 gph"')
    ran = run("pumps", greedy, "strong.csv", "weak.csv")
    assert (ran.code, ran.err) == (1, "")
    assert "comes closest, yet" in flat(ran)
    assert "ask `balance settings`" not in flat(ran)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["parallel"], 'write --arrange "parallel"'),
        (["gone.csv"], "gone.csv: there is no such file"),
        (["empty"], 'the folder "empty" holds no pump curve'),
        (["x*.csv"], 'no file fits "x*.csv"'),
        (["bad.csv"], "bad.csv:2: column 2 (head_ft)"),
        (["strong.csv@60"], '"60" has no unit'),
        (["strong.csv", "--speeds", "40 %"], '--speeds "40 %": "40 %" is not a range'),
        (["strong.csv", "--fouling", "30"], '--fouling "30": "30" has no unit'),
        (["strong.csv", "--fouling", "-10 %"], "fouling of -10% is none"),
        (["strong.csv", "--replace", "mian"], 'no pump is called "mian"'),
        (["strong.csv", "--rank", "beauty"], "'watts', 'margin', 'cost'"),
        (["strong.csv", "--arrange", "crosswise"], "both ends"),
        (["strong.csv", "--set", "retrn=30 deg"], 'try "return"'),
        (["strong.csv", "--units", "roman"], "roman"),
    ],
)
@pytest.mark.parametrize("json_too", [[], ["--json"]])
def test_bad_words_and_files_end_with_2(
    plan: str, words: list[str], said: str, json_too: list[str]
) -> None:
    ran = run("pumps", plan, *words, *json_too)
    assert (ran.code, ran.out) == (2, "")
    assert said in ran.err
    assert "Traceback" not in ran.err


def test_both_ends_of_headers_fed_in_the_middle_are_refused() -> None:
    ran = run("pumps", str(DEMO / "lagoon.toml"), "--arrange", "both ends")
    assert (ran.code, ran.out) == (2, "")
    assert "both ends: that takes one header, fed at one end" in ran.err


def test_all_faults_of_all_files_come_at_once(plan: str, tmp_path: Path) -> None:
    (tmp_path / "short.csv").write_text("flow_gph,head_ft\n0,3\n9,1\n", encoding="utf-8")
    ran = run("pumps", plan, "bad.csv", "strong.csv", "short.csv", "gone.csv")
    assert ran.code == 2
    for place in ("bad.csv:2: ", "short.csv:3: ", "gone.csv: "):
        assert place in ran.err


def test_a_plan_without_targets_is_refused(plan: str) -> None:
    text = Path(plan).read_text(encoding="utf-8")
    kept = [line for line in text.splitlines() if not line.startswith(("target", "tolerance"))]
    Path(plan).write_text("\n".join(kept), encoding="utf-8")
    ran = run("pumps", plan, "strong.csv")
    assert (ran.code, ran.out) == (2, "")
    assert "no branch has a target or a share" in ran.err


def test_json_has_the_keys_that_are_stored() -> None:
    ran = run("pumps", str(DEMO / "lagoon.toml"), "--json")
    assert (ran.code, ran.err) == (0, "")
    found = json.loads(ran.out)
    assert sorted(set(keys(found))) == json.loads(STORED.read_text(encoding="utf-8"))["pumps"]
    assert [trial["rank"] for trial in found["trials"]] == [1, 2, 3, 4, 5]


def test_units_of_the_page_change_no_number(plan: str) -> None:
    def numbers(*words: str) -> list[object]:
        found = json.loads(run("pumps", plan, "strong.csv", "weak.csv", "--json", *words).out)
        return [value for value in leaves(found) if not isinstance(value, str)]

    assert numbers() == numbers("--units", "metric")


def test_openings_of_the_command_line_move_the_curve_of_the_plumbing(plan: str) -> None:
    def head(*words: str) -> float:
        found = json.loads(run("pumps", plan, "strong.csv", "--json", *words).out)
        return float(found["system"]["head_m"][-1]) / float(found["system"]["flow_l_per_h"][-1])

    assert head("--set", "return=20 deg") > 1.5 * head()


def test_a_plot_draws_no_water_that_runs_back(plan: str) -> None:
    # The weak one cannot hold the water of the tank, which comes home through it.
    found = json.loads(run("pumps", plan, "weak.csv", "--speeds", "fixed", "--json").out)
    (weak,) = [trial for trial in found["trials"] if trial["name"] == "weak"]
    assert weak["crossing"]["flow_l_per_h"] < 0.0
    page = run("pumps", plan, "weak.csv", "--speeds", "fixed", "--plot").out
    assert "-500" not in page
    assert "where they cross" in page


def test_ascii_alone_where_the_stream_has_no_more(plan: str, tmp_path: Path) -> None:
    process = spawned(
        ["pumps", plan, "strong.csv", "weak.csv", "--plot"], tmp_path, PYTHONIOENCODING="ascii"
    )
    out, err = process.communicate(timeout=60)
    assert (process.returncode, err) == (0, b"")
    assert out.isascii()
    assert b"?" not in out.replace(b"known to ?20", b"")  # a sign of more or less
    assert b"... plumbing" in out


class Terminal(io.StringIO):
    """A stream that says it is a terminal."""

    def isatty(self) -> bool:
        return True


@pytest.fixture
def terminal(monkeypatch: pytest.MonkeyPatch) -> Terminal:
    for name in ("NO_COLOR", "FORCE_COLOR", "COLUMNS"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("TERM", "xterm-256color")
    return Terminal()


def test_a_bar_where_nobody_would_see_it_is_none() -> None:
    with redirect_stderr(io.StringIO()), progress.counting("pumps") as tell:
        assert tell is None


def test_a_bar_on_a_terminal_and_beside_the_answer_only(
    terminal: Terminal, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(progress, "PATIENCE", 0.0)
    with redirect_stderr(terminal), progress.counting("pumps") as tell:
        assert tell is not None
        tell(8, 24)
        tell(16, 24)
    assert "pumps" in terminal.getvalue()
    assert "16/24" in terminal.getvalue()
    assert capsys.readouterr().out == ""


def test_no_bar_for_what_takes_no_time(terminal: Terminal) -> None:
    with redirect_stderr(terminal), progress.counting("pumps") as tell:
        assert tell is not None
        tell(8, 24)
        tell(24, 24)
    assert terminal.getvalue() == ""


def on_a_terminal(plan: str, *words: str, **more: str) -> bytes:
    """What the command prints to a terminal of its own."""
    near, far = pty.openpty()
    process = subprocess.Popen(
        [sys.executable, "-m", "balance", "pumps", plan, *words],
        stdout=far,
        stderr=subprocess.DEVNULL,
        env={**os.environ, "PYTHONPATH": str(ROOT), "TERM": "xterm-256color", **more},
    )
    os.close(far)
    printed = b""
    while True:
        try:
            piece = os.read(near, 4096)
        except OSError:  # how Linux says that the other end is closed
            break
        printed += piece
    os.close(near)
    assert process.wait(timeout=60) == 0
    return printed


def test_colours_where_they_are_wanted(plan: str, monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("NO_COLOR", "FORCE_COLOR", "COLORTERM", "COLUMNS"):
        monkeypatch.delenv(name, raising=False)
    green = b"\x1b[32m"
    assert green in on_a_terminal(plan, "strong.csv")
    assert green not in on_a_terminal(plan, "strong.csv", NO_COLOR="1")
