"""All answers in one go beside one question after another, and the page that they make."""

from __future__ import annotations

from functools import partial
from importlib import import_module
from pathlib import Path

from balance.plan.model import Plan
from balance.plan.read import read
from balance.questions.survey import SYSTEMS, survey
from balance.show.report.page import page
from tests.speed._cases import seconds

DEMO = Path(__file__).parents[2] / "pump_curves_demo"
NAMES = (
    "settings", "check", "flows", "duty_points", "travel", "close", "drains", "outage", "spread",
    "pumps", "buy", "cut",
)  # fmt: skip


def one_by_one(plan: Plan) -> None:
    """Ask as one would without the survey."""
    for name in NAMES:
        ask = getattr(import_module(f"balance.questions.{name}"), name)
        if name == "spread":
            ask(plan, systems=SYSTEMS)
        elif name != "pumps" or plan.candidates:
            ask(plan)


def main() -> None:
    """Print how long both take, and how long the page takes besides."""
    for name in ("lagoon", "fish-room"):
        plan = read(DEMO / f"{name}.toml")
        found = survey(plan)
        together = seconds(partial(survey, plan), repeats=1)
        alone = seconds(partial(one_by_one, found.plan), repeats=1)
        written = seconds(partial(page, found, plan_text="", made_from=""), repeats=1)
        print(
            f"{name}: all answers {together:.1f} s, one after another {alone:.1f} s "
            f"({alone / together:.1f} times as long); the page {written:.2f} s"
        )


if __name__ == "__main__":
    main()
