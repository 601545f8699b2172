"""The README's pictures: ``python -m tests.browser.picture`` makes them anew from the demo.

Look at them afterwards: a browser's screenshot differs from machine to machine by its letters, so
no test compares it.
"""

from __future__ import annotations

import shutil
import tempfile
from pathlib import Path

from playwright.sync_api import sync_playwright

from tests.cli.session import run

ROOT = Path(__file__).parents[2]
LAGOON = ROOT / "pump_curves_demo" / "lagoon.toml"
DRAWING = ROOT / "docs" / "lagoon.svg"
SCREEN = ROOT / "docs" / "report.png"
WIDTH, HEIGHT = 1100, 1000
NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")


def browser_here() -> str | None:
    """The system's Chromium, if it has one."""
    return next(filter(None, map(shutil.which, NAMES)), None)


def main() -> None:
    """Draw the plumbing, write the report, and take a picture of its first screen."""
    run("draw", str(LAGOON), "--settings", "-o", str(DRAWING))
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        page = Path(folder) / "report.html"
        run("report", str(LAGOON), "-o", str(page))
        browser = playwright.chromium.launch(executable_path=browser_here(), args=["--no-sandbox"])
        opened = browser.new_page(viewport={"width": WIDTH, "height": HEIGHT})
        opened.goto(page.as_uri())
        opened.screenshot(path=SCREEN)
        browser.close()


if __name__ == "__main__":
    main()
