"""Figures that a person meets can be traced: to a source, or to words why there is none."""

from __future__ import annotations

import ast
import tokenize
from pathlib import Path

import pytest

from balance.parts import pumps
from balance.plan import model
from tests.parts.test_sources import is_traced

PACKAGE = Path(__file__).parents[1] / "balance"

# By module: constants that decide what an answer says. What only steers a computation (how near is
# near enough, where a search begins, the most steps of it) claims nothing and is left out.
FIGURES = {
    "network/stretch.py": ["SAME_BORE"],
    "parts/beds.py": ["VOIDAGE", "SPHERICITY", "CORNER"],
    "network/basins.py": ["NO_FLOOR"],
    "network/course/plumbing.py": ["RIM_OF_A_TABLE"],
    "parts/cement.py": ["PRIMER_SHARE", "DAMP", "WRAPS"],
    "parts/gravity.py": [
        "SELF_VENTING", "FULL_FROM", "SURELY_FULL", "HOLDS", "HALF_FULL", "MANNING",
    ],
    "parts/weirs.py": ["LIP", "LIP_UP_TO", "EVEN"],
    "parts/fittings.py": ["BARB_TO_HOSE", "REDUCER_ANGLE", "STEEP"],
    "parts/friction.py": ["LAMINAR_END", "TURBULENT_START"],
    "parts/pumps.py": [
        "GRAVITY", "TEST_DENSITY", "STANDBY", "IDLE_SHARE", "NOISE", "GENTLE_FALL", "_REST_LOSS",
    ],
    "parts/tees.py": ["BLEND", "GIVE_WAY", "WYE"],
    "parts/valve_shapes.py": ["_BALL_CHORD"],
    "parts/valves.py": [
        "BACKLASH_TURNS", "OFFSET_SPREAD", "MEASURED_SPREAD", "KV_PER_CV", "_GATE", "_DISC",
    ],
    "plan/readings.py": ["APART"],
    "plan/targets.py": ["BOUND_MARGIN", "TOLERANCE"],
    "questions/aims.py": ["CLOSENESS", "BREACH"],
    "questions/assembly/clamps.py": ["LEAST"],
    "questions/assembly/pieces.py": ["LEAST"],
    "questions/assembly/sticks.py": ["INCH_STOCK"],
    "questions/buy/consumables.py": ["PRIMED", "TINS"],
    "questions/buy/count.py": ["OF_ANY_SERIES", "ONE_AT_LEAST"],
    "questions/catalogue/question.py": ["SIZE", "VELOCITY"],
    "questions/change/mixing.py": ["SHARES"],
    "questions/change/question.py": ["OFF"],
    "questions/change/steps.py": ["DAY", "SETTLED"],
    "questions/change/stuck.py": ["TIMES", "LITTLE"],
    "questions/check/doubts.py": ["BRISK", "TOO_FAST", "EVEN", "GRINDING"],
    "questions/check/low_pressure.py": ["FULL"],
    "questions/close/disturbance.py": ["UNASKED", "RANGE"],
    "questions/close/harm.py": ["STARVED"],
    "questions/close/holding.py": ["WORTH", "TELLING", "ALIKE"],
    "questions/close/interaction.py": ["HARDLY"],
    "questions/close/rows.py": ["LEAST"],
    "questions/curve/question.py": ["SPEEDS"],
    "questions/curve/remarks.py": ["FLAT"],
    "questions/cut/sheet.py": ["DRY_SHARES"],
    "questions/drains/gate.py": ["TRICKLE"],
    "questions/drains/levels.py": ["SEARCHED"],
    "questions/duty.py": ["SHAFT_SHARE", "DAYS"],
    "questions/duty_points.py": ["STEPS", "MOST", "BEYOND"],
    "questions/fit/apart.py": ["TIED"],
    "questions/learning/experiment.py": [
        "MODEL_FLOW", "METER", "STANDPIPE", "WATTS", "DOUBTFUL", "ALIKE", "TRICKLE", "NO_WATER",
    ],
    "questions/learning/handles.py": ["NUDGED", "NUDGED_BY", "APART"],
    "questions/learning/numbers.py": ["TOLD"],
    "questions/learning/teaching.py": ["FILL", "THERE"],
    "questions/learning/unknowns.py": ["MOST_LOSS"],
    "questions/marks.py": ["DEFAULT"],
    "questions/outage/cases.py": ["MOST_CHECKS"],
    "questions/outage/giving.py": ["TOLD", "NEAR"],
    "questions/outage/highest.py": ["HAIR"],
    "questions/outage/notes.py": ["RAISED"],
    "questions/outage/restart.py": ["PRIMES_AT", "LONG_ENOUGH"],
    "questions/outage/stopping.py": ["LONGEST", "DROP"],
    "questions/packing/ending.py": ["STEP"],
    "questions/packing/question.py": ["MOST_EXACT"],
    "questions/pumps/arrangements.py": ["CHECK", "LEAST_BORE"],
    "questions/pumps/doubts.py": ["SLOW"],
    "questions/pumps/margins.py": ["SHARES"],
    "questions/pumps/one_stopped.py": ["DRY"],
    "questions/pumps/question.py": ["FOULING"],
    "questions/pumps/shortfalls.py": ["TELLING"],
    "questions/settings/burden.py": ["SHARED_BURDEN", "WORTH_SHARING"],
    "questions/settings/changes.py": ["LEAST_GAIN"],
    "questions/settings/coarse.py": ["HAND", "HALF", "VALVE_SHARE", "LONGEST", "FINER"],
    "questions/settings/compromise.py": ["RANGE_MARGIN"],
    "questions/buckets.py": ["LEAST_TIME"],
    "questions/settings/rows.py": ["WIDE_OPEN"],
    "questions/spread/outcome.py": ["BAND", "ENOUGH"],
    "questions/spread/question.py": ["SYSTEMS"],
    "questions/speeds.py": ["USUAL_STEP"],
    "questions/strains.py": ["NEAR"],
    "questions/suctions.py": ["LEAST_MARGIN", "LEAST_RATIO"],
    "questions/tune/goal.py": ["LEFT_OPEN"],
    "questions/tune/order.py": ["MOST"],
    "questions/tune/question.py": ["TRIMMED_TO"],
    "questions/tune/steps.py": [
        "SURE", "WORTH", "TRIMMED", "GAIN", "DOUBT", "REPEATS", "STRAY", "SPEED_STEPS",
        "ODD", "HOPELESS",
    ],
    "questions/tune/turns.py": ["NUDGES"],
    "questions/tune/view.py": ["LONG", "PART"],
    "show/cautions.py": ["MEASURE", "TESTED"],
    "show/drains.py": ["USUAL"],
    "show/fit.py": ["CHECKED", "APART"],
    "show/tune.py": ["LIKELY"],
    "units.py": ["G", "ABSOLUTE_SALINITY", "_INCH", "_METRIC_BUCKETS"],
    "water.py": ["ATMOSPHERE"],
}  # fmt: skip


def said_of(file: Path, name: str) -> str:
    """What stands beside a constant: comments above it and on its lines, a text below it."""
    text = file.read_text(encoding="utf-8")
    body = ast.parse(text).body
    with file.open("rb") as binary:
        tokens = [t for t in tokenize.tokenize(binary.readline) if t.type == tokenize.COMMENT]
    comments = {token.start[0]: token.string.lstrip("# ") for token in tokens}
    alone = {token.start[0] for token in tokens if token.start[1] == 0}
    for place, node in enumerate(body):
        if isinstance(node, ast.Assign) and ast.unparse(node.targets[0]) == name:
            first = node.lineno
            while first - 1 in alone:
                first -= 1
            last = node.end_lineno or node.lineno
            said = [comments[line] for line in range(first, last + 1) if line in comments]
            below = body[place + 1] if place + 1 < len(body) else None
            if isinstance(below, ast.Expr) and isinstance(below.value, ast.Constant):
                said.append(str(below.value.value))
            return " ".join(" ".join(said).split())
    raise AssertionError(f"{file} has no {name}")


@pytest.mark.parametrize(
    ("module", "name"), [(module, name) for module, names in FIGURES.items() for name in names]
)
def test_a_figure_is_traced(module: str, name: str) -> None:
    said = said_of(PACKAGE / module, name)
    assert is_traced(said), said or "nothing stands beside it"


@pytest.mark.parametrize("table", [model.Spread, model.Shop, model.WaterSpec, model.Power])
def test_defaults_of_a_plan_are_traced(table: type[model.Table]) -> None:
    assert is_traced(" ".join((table.__doc__ or "").split()))


def test_the_useful_range_is_that_of_its_source() -> None:
    """70 to 120 % of best efficiency: hi-9.6.3, preferred operating region."""
    curve = pumps.pump_curve([0.0, 1e-3, 2e-3], [4.0, 3.0, 0.0], [20.0, 30.0, 36.0])
    best = pumps.best_efficiency_flow(curve)
    assert pumps.useful_range(curve) == pytest.approx((0.7 * best, 1.2 * best))
    assert "hi-9.6.3" in (pumps.about_best.__doc__ or "")


def test_a_figure_without_words_is_seen(tmp_path: Path) -> None:
    file = tmp_path / "laws.py"
    file.write_text(
        "# hooper-1981\nGOOD = 1.0  # edb\nBAD = 2.0  # a handbook\nALSO = 3.0\n"
        '"""Usual; common practice, no\nsource."""\n'
    )
    assert is_traced(said_of(file, "GOOD"))
    assert not is_traced(said_of(file, "BAD"))
    assert is_traced(said_of(file, "ALSO"))
