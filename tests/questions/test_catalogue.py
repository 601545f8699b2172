"""What a plan may use: everything that the tables know, with the losses that solves have."""

from __future__ import annotations

from dataclasses import FrozenInstanceError
from math import exp, pi

import numpy as np
import pytest

from balance.errors import UnknownNameError, UsageError
from balance.parts import checks, fittings, outlets, pipes, valves
from balance.parts.friction import friction, friction_law
from balance.parts.ratings import stands
from balance.parts.sources import WITHOUT_PRINT, sources
from balance.parts.spreads import printed_spread
from balance.parts.tables import rows
from balance.plan.pieces import KINDS
from balance.plan.read import read_text
from balance.questions.catalogue import catalogue
from balance.questions.catalogue.answer import KnownPart
from balance.questions.catalogue.search import size_in
from balance.water import water

GRAVITY = 9.80665
VELOCITY = 1.524
VISCOSITY = water(temperature=25.0, salinity=35.0).kinematic_viscosity
ALL = catalogue().parts


def names(*words: str) -> set[str]:
    return {part.name for part in catalogue(*words).parts}


def the(kind: str, name: str, *words: str) -> KnownPart:
    (part,) = (part for part in catalogue(*words).parts if (part.kind, part.name) == (kind, name))
    return part


@pytest.mark.parametrize(
    ("kind", "known"),
    [
        ("fitting", fittings.kinds()),
        ("valve", valves.kinds()),
        ("check", checks.kinds()),
        ("inlet", outlets.inlets()),
        ("outlet", outlets.outlets()),
        ("pipe", [size.name for size in pipes.sizes()]),
    ],
)
def test_whatever_the_tables_know_is_listed(kind: str, known: list[str]) -> None:
    listed = [part.name for part in ALL if part.kind == kind]
    assert set(listed) >= set(known)
    assert len(listed) == len(set(listed))


def test_every_kind_of_part_is_listed() -> None:
    assert {part.kind for part in ALL} == {*KINDS, "tee"}


@pytest.mark.parametrize(
    "part", [part for part in ALL if part.kind != "tee"], ids=lambda part: part.written
)
def test_what_is_written_is_read_as_that_part(part: KnownPart) -> None:
    ends = {"inlet": ("", '{ pipe = "1 in sch 40", length = "1 ft" }')}.get(
        part.kind, ('{ pipe = "1 in sch 40", length = "1 ft" },', "")
    )
    plan = read_text(
        '[vessels.sump]\nlevel = "9 in"\n[vessels.tank]\nlevel = "50 in"\n'
        '[[runs]]\nname = "line"\nfrom = "tank"\nto = "sump"\n'
        f"parts = [{ends[0]} {part.written}{',' if ends[1] else ''} {ends[1]}]\n"
    )
    read = plan.runs[0].parts[0 if part.kind == "inlet" else 1]
    assert type(read) is KINDS[part.kind]


def test_fittings_lose_what_their_law_says() -> None:
    for part in catalogue("fitting", "3/4").parts:
        bore = pipes.nominal_bore("3/4 in")
        if "{ fitting" in part.written and ("to =" in part.written or "hose =" in part.written):
            continue
        law = fittings.fitting(part.name, bore)
        reynolds = VELOCITY * bore / VISCOSITY
        if law.k == float("inf"):
            assert (part.k, part.as_pipe) == (None, None)
        else:
            assert part.k == pytest.approx(law.k_laminar / reynolds + law.k, rel=1e-6)
            assert part.bore == bore
            assert part.flow == pytest.approx(VELOCITY * pi / 4 * bore**2)


def test_a_bushing_loses_its_step_on_the_velocity_before_it() -> None:
    part = the("fitting", "bushing")
    assert part.written == '{ fitting = "bushing", size = "1 in", to = "3/4 in" }'
    # Sudden contraction on the velocity in the smaller bore, 0.5 (1 - beta²): crane-tp410.
    beta = 0.810 / 1.033
    assert part.k == pytest.approx(0.5 * (1 - beta**2) / beta**4, rel=1e-5)


def test_a_reducer_loses_less_than_a_bushing() -> None:
    reducer, bushing = the("fitting", "reducer").k, the("fitting", "bushing").k
    assert reducer is not None
    assert bushing is not None
    # 0.5 sqrt(sin 30°) of a cone of 60° for the 0.5 of a sudden step: crane-tp410.
    assert reducer == pytest.approx(0.5**0.5 * bushing, rel=1e-5)


def test_a_valve_loses_by_its_opening() -> None:
    bore = pipes.nominal_bore("1 in")
    laminar = VISCOSITY / (VELOCITY * bore)
    for part in catalogue("valve").parts:
        if part.kind == "valve":
            law = valves.valve(part.name, bore=bore)
            at = law.loss_coefficient(np.array([1.0, 0.5])).k + law.k_laminar * laminar
            assert (part.k, part.k_half) == pytest.approx(tuple(at), rel=1e-6)


def test_a_check_valve_opens_at_its_head_beside_its_loss() -> None:
    part, law = the("check", "lift"), checks.check_valve("lift", bore=pipes.nominal_bore("1 in"))
    reynolds = VELOCITY * pipes.nominal_bore("1 in") / VISCOSITY
    assert part.opening_head == pytest.approx(law.opening_head)
    assert part.k == pytest.approx(law.k_laminar / reynolds + law.k, rel=1e-6)


def test_pipe_loses_by_darcy_and_a_fitting_as_much_as_some_length_of_it() -> None:
    part = the("pipe", "1 in sch 40")
    bore = 1.033 * 0.0254
    reynolds = VELOCITY * bore / VISCOSITY
    term = friction(np.array([reynolds]), friction_law(np.array([2.1e-6 / bore])))
    gradient = float(term.y[0]) / reynolds**2 / bore * VELOCITY**2 / (2 * GRAVITY)
    assert part.bore == pytest.approx(bore)
    assert part.gradient == pytest.approx(gradient, rel=1e-6)
    elbow = the("fitting", "elbow 90")
    assert elbow.k is not None
    assert elbow.as_pipe == pytest.approx(elbow.k * VELOCITY**2 / (2 * GRAVITY) / gradient)


def test_ends_and_tees() -> None:
    assert the("inlet", "square").k == pytest.approx(0.5, abs=1e-5)
    assert the("outlet", "submerged").k == pytest.approx(1.0, abs=1e-5)
    # On the velocity in the pipe, not in the throat of 0.5 of its bore.
    assert the("outlet", "jet nozzle").k == pytest.approx(1.17 / 0.5**4, rel=1e-5)
    # crane-tp410, dividing tee of equal legs, half into the side: (1 + 0.3/4) (1 + 0.3/4).
    assert the("tee", "tee to its side").k == pytest.approx(1.156, abs=5e-4)
    assert the("tee", "tee straight on").k == pytest.approx(0.0, abs=1e-4)


def test_print_gives_spreads_of_parts_that_there_are() -> None:
    listed = [(part.kind, part.name) for part in ALL]
    for row in rows("spreads"):
        kind, word = row["kind"], row["word"]
        assert any(kind == one and (not word or word in name.split()) for one, name in listed), row
    assert the("fitting", "union").spread == 0.5
    assert "edb, table 32" in the("fitting", "union").source
    assert the("fitting", "strainer").spread is None
    assert printed_spread("fitting", "no such elbowing") is None


@pytest.mark.parametrize("part", ALL, ids=lambda part: f"{part.kind} {part.name}")
def test_every_part_is_traced(part: KnownPart) -> None:
    assert part.loss
    assert part.keys or any(words in part.source for words in WITHOUT_PRINT)
    assert set(part.keys) <= sources().keys()


def test_sources_of_what_is_listed_stand_in_full() -> None:
    answer = catalogue("elbow", "45")
    assert set(answer.sources) == {key for part in answer.parts for key in part.keys}
    assert set(answer.sources) == {
        "darby-2001", "hooper-1981", "crane-tp410", "pvc-equivalent-length", "edb",
    }  # fmt: skip
    assert all(answer.sources[key] == sources()[key] for key in answer.sources)


@pytest.mark.parametrize(
    ("words", "size", "others"),
    [
        ("elbow 3/4", "3/4 in", ["elbow"]),
        ("elbow 45 3/4 in", "3/4 in", ["elbow", "45"]),
        ("1 1/2 in sch 80", "1 1/2 in", ["sch", "80"]),
        ("pipe 1-1/4", "1-1/4 in", ["pipe"]),
        ('union 1/2"', "1/2 in", ["union"]),
        ("union 2", "2 in", ["union"]),
        ("elbow 90", None, ["elbow", "90"]),
        ("32 mm PN10", "32 mm", ["PN10"]),
        ("hose 12mm", "12 mm", ["hose"]),
        ("hose 9/16 in", "9/16 in", ["hose"]),
        ("hose 9/16", None, ["hose", "9/16"]),
        ("0 in", None, ["0", "in"]),
        ("30 in", None, ["30", "in"]),
    ],
)
def test_a_size_among_words(words: str, size: str | None, others: list[str]) -> None:
    assert size_in(words.split()) == (size, tuple(others))


def test_words_are_looked_for_in_kinds_and_names_first() -> None:
    assert names("gate") == {"gate", "gate wedge"}
    assert names("elbow", "45") == {
        f"{way}elbow 45" for way in ("", "street ", "socket ", "threaded ")
    }
    assert {part.kind for part in catalogue("check", "valves").parts} == {"check"}
    assert {part.kind for part in catalogue("Pipe").parts} == {"pipe"}


def test_words_of_the_trade_find_what_has_another_name_here() -> None:
    assert {part.kind for part in catalogue("uv").parts} == {"device"}
    assert {part.kind for part in catalogue("chillers").parts} == {"device"}
    assert {part.kind for part in catalogue("non-return").parts} == {"check"}
    assert {part.kind for part in catalogue("entrance").parts} == {"inlet"}


def test_words_of_no_name_are_looked_for_in_sources() -> None:
    assert all("darby-2001" in part.source for part in catalogue("darby").parts)
    assert {"elbow 90", "gate", "swing"} <= names("darby")
    assert names("Hooper", "elbow") == {"threaded elbow 90", "threaded elbow 45"}
    assert {"ball", "gate", "butterfly"} <= names("weisbach", "valve")
    assert "globe" not in names("weisbach", "valve")


def test_a_size_keeps_pipe_of_that_size_and_states_losses_in_it() -> None:
    assert names("pipe", "3/4") >= {"3/4 in sch 40", "3/4 in sch 80", "19.05 mm bore"}
    assert {part.bore for part in catalogue("3/4", "elbow").parts} == {0.810 * 0.0254}
    assert catalogue("3/4", "elbow").pipe == "3/4 in sch 40"
    metric = catalogue("elbow 90", "32 mm", units="metric")
    assert metric.pipe == "32 mm PN10"
    assert 'size = "32 mm"' in metric.parts[0].written


def test_pipe_stands_less_in_warm_water() -> None:
    part = the("pipe", "1 in sch 40")
    (plain,) = (size for size in pipes.sizes() if size.name == "1 in sch 40")
    assert part.stands is not None
    assert plain.rating is not None
    assert part.stands == pytest.approx(stands(plain, temperature=25.0))
    assert 0.85 * plain.rating < part.stands < plain.rating
    assert "temperature factors" in part.source
    assert the("pipe", "25.4 mm bore").stands is None


def test_hose_comes_in_any_bore() -> None:
    parts = catalogue("hose", "7 mm").parts
    assert [part.name for part in parts] == ["7 mm", "7 mm silicone", "7 mm braided"]
    assert parts[0].written.startswith('{ hose = "7 mm"')
    assert {part.bore for part in parts} == {0.007}
    # Between plastic and smooth rubber lie some percent of friction.
    plain, silicone, braided = (part.gradient or 0.0 for part in parts)
    assert 0.0 < plain == braided < silicone


@pytest.mark.parametrize(
    ("words", "error", "said"),
    [
        (["elbw"], UnknownNameError, 'no part is called "elbw"; try "elbow"'),
        (["elbow", "7 in"], UnknownNameError, 'no size is called "7 in"; try'),
        (["elbow", "union"], UsageError, '"elbow" and "union" at once'),
        (["PN10", "3/4"], UsageError, '"PN10" and "3/4 in" at once'),
        (["darbi"], UnknownNameError, 'try "darby"'),
        (["xyzzy"], UnknownNameError, 'try "pipe", "hose", "fitting", "valve", "check valve"'),
        (["''"], UnknownNameError, "no part is called"),
    ],
)
def test_what_fits_nothing_is_refused(words: list[str], error: type[Exception], said: str) -> None:
    with pytest.raises(error, match=said):
        catalogue(*words)


def test_units_that_are_none_are_refused() -> None:
    with pytest.raises(UsageError, match="us, imperial, metric"):
        catalogue(units="roman")


def test_the_answer_is_frozen_and_gives_plain_values() -> None:
    answer = catalogue("elbow 90")
    with pytest.raises(FrozenInstanceError):
        answer.size = "2 in"  # type: ignore[misc]
    first = answer.to_dict()["parts"][0]
    assert first["written"] == '{ fitting = "elbow 90", size = "1 in" }'
    assert first["flow_l_per_h"] == pytest.approx(1.524 * pi / 4 * (1.033 * 0.0254) ** 2 * 3.6e6)
    assert answer.to_dict()["sources"]["darby-2001"].startswith("R. Darby")
    assert "units" not in answer.to_dict()
    assert list(answer.to_frame()["name"]) == [part.name for part in answer.parts]


def test_mid_travel_is_said_to_be_a_guess() -> None:
    assert f"factor of {exp(0.5):.2g}" in the("valve", "ball").loss
    assert "within 9 degrees of shut" in the("valve", "ball").loss
