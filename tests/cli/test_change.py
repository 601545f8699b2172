"""`balance change`, from the words of the command line to its exit code."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from tests.cli.conftest import changed
from tests.cli.session import run
from tests.questions.change.plans import RETURN


def asked(*words: str) -> Any:
    return json.loads(run("change", *words, "--json").out)


@pytest.mark.parametrize(
    ("words", "code"),
    [
        ((), 0),
        (("--volume", "80 L"), 0),
        (("--volume", "80 L", "--order", "fill first"), 1),  # over the rim
        (("--set", "way out=shut"), 1),
        (("--stopped",), 0),
        (("--volume", "500 L"), 2),
        (("--volume", "80"), 2),
        (("--volume", "80 kg"), 2),
        (("--salinity", "1.5 sg"), 2),
        (("--order", "drain"), 2),
        (("--stuck", "never"), 2),
        (("--stuck", "0 min"), 2),
        (("--set", "way in=shut"), 2),
        (("--set", "way out"), 2),
        (("--speed", "change pump=much"), 2),
    ],
)
def test_exit_codes(tank: str, words: tuple[str, ...], code: int) -> None:
    ran = run("change", tank, *words)
    assert ran.code == code
    assert bool(ran.err) == (code == 2)


def test_bad_words_are_named_with_their_option(tank: str) -> None:
    assert run("change", tank, "--volume", "80 kg").err.startswith('balance: --volume "80 kg": ')
    assert '--stuck "10 min"' in run("change", tank, "--stuck", "0 min").err
    assert run("change", tank, "--volume", "500 L").err.startswith("balance: --volume: ")


def test_a_plan_without_a_change_says_how_to_write_one(starter: str) -> None:
    ran = run("change", starter)
    assert ran.code == 2
    assert 'write [change] and below it volume = "20 gal"' in ran.err


def test_options_stand_in_place_of_the_plan(tank: str) -> None:
    answer = asked(tank, "--volume", "30 L", "--order", "together", "--salinity", "30 g/kg")
    assert answer["volume_l"] == pytest.approx(30.0)
    assert answer["order"] == "together"
    assert answer["salt"]["salinity_g_per_kg"] == pytest.approx(30.0)
    (throttled,) = (
        each for each in asked(tank, "--set", "way out=30 deg")["handles"] if each["line"] == "out"
    )
    assert throttled["mark"] == "30 deg"


def test_a_slower_pump_takes_longer(tank: str) -> None:
    fast, slow = (
        asked(tank, "--speed", f"change pump={speed}")["steps"][1]["lasts_s"]
        for speed in ("100 %", "90 %")
    )
    assert fast < slow


def test_times_of_a_stuck_valve_may_be_several(tank: str) -> None:
    drain, _ = asked(tank, "--stuck", "2 min, 4 min")["stuck"]
    assert [row["time_s"] for row in drain["after"]] == [120.0, 240.0]
    once = asked(tank, "--stuck", "90 s")["stuck"][0]["after"]
    assert [row["time_s"] for row in once] == [90.0]
    assert [row["time_s"] for row in asked(tank)["stuck"][0]["after"]] == [300, 600, 1800, 3600]


def test_the_page_says_first_what_to_do(tank: str) -> None:
    lines = run("change", tank).out.splitlines()
    assert lines[0] == "This plan: changing 50.0 L of water, old water out first"
    page = " ".join(lines)
    assert (
        "Open way out all the way: 50.0 L leave in 77 s. Shut it when tank has fallen by 100 mm, "
        "to 1400 mm (400 mm of water)."
    ) in page
    assert "80 % of the water is old." in page
    for heading in (
        "Old water left, of 250 L in the system",
        "Salt for the new water",
        "If way out does not shut",
        "If change pump is at rest and its line stays open",
        "Beware",
    ):
        assert heading in lines


def test_the_page_of_a_system_that_runs(tank: str) -> None:
    Path(tank).write_text(Path(tank).read_text(encoding="utf-8") + RETURN, encoding="utf-8")
    lines = run("change", tank, "--volume", "60 L").out.splitlines()
    assert "If way out does not shut, and the system's pumps go on" in lines
    assert "- main RUNS DRY on the way" in lines
    assert any(line.startswith("- sump comes down to ") for line in lines)
    assert any(line.startswith("- The return pump must not run dry") for line in lines)
    changed(tank, 'pump = "change pump"', 'pump = "change pump"\nrunning = false')
    rested = run("change", tank, "--volume", "60 L").out
    assert "\nStop the system's pumps and wait until all stands still.\n" in rested
    assert "\npumps off, at rest " in rested


def test_a_bucket_that_takes_the_old_water_does_not_say_when_to_stop(tank: str) -> None:
    bucket = '[vessels.bucket]\nbottom = "0 m"\nlevel = "0.1 m"\ndiameter = "40 cm"\n'
    changed(tank, 'to = "outside"', 'to = "bucket"')
    Path(tank).write_text(Path(tank).read_text(encoding="utf-8") + bucket, encoding="utf-8")
    page = run("change", tank).out
    assert "Shut it when tank has" in page
    assert "of 250 L in the system" in page


def test_the_page_of_half_a_change(tank: str) -> None:
    changed(tank, 'drain = "way out"\n', "")
    page = run("change", tank, "--volume", "20 L").out
    assert page.startswith("This plan: changing 20.0 L of water, new water in\n")
    assert "33 s in all; once as much is let out, 93 % of the water is old." in page
    assert "The return pump" not in page


def test_a_line_that_is_shut_is_said_to_be_so(tank: str) -> None:
    page = run("change", tank, "--set", "way out=shut").out
    assert "Nothing moves. IT DOES NOT GO AS ASKED, see below." in page
    assert "- nothing flows through way out\n" in page
    assert "Old water left" not in page


def test_a_pump_at_rest_is_not_to_be_run(tank: str) -> None:
    page = run("change", tank, "--speed", "change pump=0 %").out
    assert "run change pump" not in page
    assert "- nothing flows through change pump: its speed is 0 %\n" in page
    assert "- only 0 L of it come, with 0 kg of the salt\n" in page


def test_an_endless_vessel_has_no_end_and_no_share_of_old_water(tank: str) -> None:
    changed(tank, 'length = "1 m"\nwidth = "0.5 m"\n', "")
    page = run("change", tank).out
    assert "Open way out all the way: 50.0 L leave in 75 s." in page
    assert "it has not come to an end after a day" in page
    assert "Old water left" not in page


def test_what_goes_wrong_is_said_at_the_top(tank: str) -> None:
    page = run("change", tank, "--volume", "80 L", "--order", "fill first").out
    head, _, rest = page.partition("What goes wrong\n")
    assert "IT DOES NOT GO AS ASKED" in head.replace("\n", " ")
    assert rest.startswith("- tank OVERFLOWS: its water comes to its rim at 1650 mm, and ")
    assert "\nWhat would go\n- all of it with old water out first: order = " in rest


def test_the_page_fits_eighty_columns_in_every_order_and_unit(tank: str) -> None:
    orders, units = ("drain first", "fill first", "together"), ("us", "imperial", "metric")
    for order, system in zip(orders, units, strict=True):
        out = run("change", tank, "--order", order, "--units", system).out
        assert max(map(len, out.splitlines())) <= 80


def test_units_of_the_page_change_no_number(tank: str) -> None:
    assert asked(tank)["steps"] == asked(tank, "--units", "us")["steps"]


def test_fresh_water_asks_for_no_salt(tank: str) -> None:
    changed(tank, 'units = "metric"', 'units = "metric"\n[water]\nsalinity = "0 g/kg"')
    assert "Salt for the new water" not in run("change", tank).out
