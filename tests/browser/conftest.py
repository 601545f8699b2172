"""A real browser, and reports to open in it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, sync_playwright

from tests.browser.picture import LAGOON, NAMES, browser_here
from tests.cli.session import run

QUIET = ("--no-sandbox", "--disable-gpu", "--disable-background-networking",
         "--disable-component-update", "--disable-sync")  # fmt: skip


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """Chromium of the system, without a window."""
    found = browser_here()
    if found is None:
        pytest.skip(
            f"no browser here: none of {', '.join(NAMES)} is on the path; "
            "the system's package is called chromium"
        )
    with sync_playwright() as playwright:
        opened = playwright.chromium.launch(executable_path=found, args=list(QUIET))
        yield opened
        opened.close()


@pytest.fixture(scope="session")
def lagoon(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo's report."""
    page = tmp_path_factory.mktemp("report") / "lagoon.html"
    ran = run("report", str(LAGOON), "-o", str(page))
    assert (ran.code, ran.err) == (0, "")
    return page
