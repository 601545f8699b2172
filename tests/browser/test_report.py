"""The report in a real browser: quiet, in bounds, readable by all, and whole on paper."""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Dialog, Page
from pypdf import PdfReader

from balance.plan.starter import STARTER
from tests.cli.session import run

PHONE, TABLET, DESK = 375, 820, 1400  # pixels of width

pytestmark = pytest.mark.xdist_group("browser")  # one report and one browser for all


@pytest.fixture
def at_desk(browser: Browser, lagoon: Path) -> Iterator[Page]:
    page = browser.new_page(viewport={"width": DESK, "height": 900})
    page.goto(lagoon.as_uri())
    yield page
    page.close()


@pytest.mark.parametrize(
    ("width", "scheme"),
    [(320, "dark"), (PHONE, "light"), (TABLET, "light"), (DESK, "light")],
)
def test_it_opens_without_a_word_and_without_scrolling_sideways(
    browser: Browser, lagoon: Path, width: int, scheme: str
) -> None:
    said: list[str] = []
    asked: list[str] = []
    page = browser.new_page(
        viewport={"width": width, "height": 800},
        color_scheme="dark" if scheme == "dark" else "light",
    )
    page.on("console", lambda message: said.append(message.text))
    page.on("pageerror", lambda error: said.append(str(error)))
    page.on("request", lambda request: asked.append(request.url))
    page.goto(lagoon.as_uri())
    assert not said
    assert asked == [lagoon.as_uri()]  # nothing is fetched
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    # Folded parts are no wider.
    page.evaluate("document.querySelectorAll('details').forEach(each => each.open = true)")
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    page.close()


@pytest.mark.parametrize(
    ("scheme", "rules"), [("light", None), ("dark", ["color-contrast"])], ids=["day", "night"]
)
def test_nothing_bars_who_sees_little_or_uses_no_mouse(
    browser: Browser, lagoon: Path, scheme: str, rules: list[str] | None
) -> None:
    # wcag, levels A and AA, and good practice, as the axe library checks them; by night colours
    # alone are others.
    context = browser.new_context(
        bypass_csp=True, color_scheme="dark" if scheme == "dark" else "light"
    )
    page = context.new_page()
    page.goto(lagoon.as_uri())
    page.evaluate("document.querySelectorAll('details').forEach(each => each.open = true)")
    answer = Axe().run(page, options=None if rules is None else {"runOnly": rules}).response
    assert answer["passes"]  # it did look
    broken = answer["violations"]
    assert not [(each["id"], [node["html"][:200] for node in each["nodes"][:3]]) for each in broken]
    context.close()


def test_the_keyboard_reaches_all(at_desk: Page) -> None:
    at_desk.keyboard.press("Tab")
    focused = "document.activeElement"
    assert at_desk.evaluate(f"{focused}.getAttribute('href')") == "#settings"
    assert at_desk.evaluate(f"{focused}.getBoundingClientRect().left") >= 0  # it is seen then
    at_desk.keyboard.press("Enter")
    assert at_desk.url.endswith("#settings")
    folded = at_desk.locator("details").first
    folded.locator("summary").focus()
    at_desk.keyboard.press("Enter")
    assert folded.get_attribute("open") is not None
    for link in at_desk.locator("a[href^='#']").all():
        target = link.get_attribute("href") or ""
        assert at_desk.locator(target).count() == 1, target
    # What scrolls can be scrolled by arrow keys.
    assert at_desk.evaluate(
        "[...document.querySelectorAll('.scroll')].every(each => each.tabIndex === 0)"
    )


def test_every_picture_is_told_in_words_too(at_desk: Page) -> None:
    for picture in at_desk.locator("svg").all():
        labels = (picture.get_attribute("aria-labelledby") or "").split()
        said = [at_desk.locator(f"[id='{label}']").text_content() or "" for label in labels]
        said.append(picture.get_attribute("aria-label") or "")
        assert picture.get_attribute("role") == "img"
        assert any(len(text) > 10 for text in said)
    own = at_desk.evaluate("[...document.querySelectorAll('[id]')].map(each => each.id)")
    assert len(own) == len(set(own))


def test_letters_in_pictures_can_be_read_on_a_phone(browser: Browser, lagoon: Path) -> None:
    page = browser.new_page(viewport={"width": PHONE, "height": 800})
    page.goto(lagoon.as_uri())
    sizes = page.evaluate(
        """[...document.querySelectorAll('svg text')].map(each => {
             const svg = each.ownerSVGElement, box = svg.viewBox.baseVal;
             const shown = svg.getBoundingClientRect().width / box.width;
             return [each.textContent, shown * parseFloat(getComputedStyle(each).fontSize)];
           })"""
    )
    assert sizes
    assert not [(text, size) for text, size in sizes if 0 < size < 8.5]  # 0: for a desk
    page.close()


def printed(page: Page, paper: str) -> list[str]:
    """The text of each sheet, on one line."""
    pdf = PdfReader(io.BytesIO(page.pdf(format=paper, print_background=True)))
    return [" ".join(sheet.extract_text().split()) for sheet in pdf.pages]


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_it_prints_on_the_sheets_that_are_expected(at_desk: Page, paper: str) -> None:
    sheets = printed(at_desk, paper)
    # The answer is on the first sheet, every handle of it.
    assert "Where each handle goes" in sheets[0]
    for said in ("53 deg", "54 deg", "48 deg", "37 deg", "32 deg", "38 deg", "7/8 turn", "28 deg"):
        assert said in sheets[0]
    # Cards have sheets of their own, on which nothing else stands.
    (first,) = [place for place, text in enumerate(sheets) if text.startswith("Valve cards")]
    (last,) = [place for place, text in enumerate(sheets) if text.startswith("The plan The file")]
    cards = " ".join(sheets[first:last])
    assert cards.count("open, from shut") == at_desk.locator(".card").count() == 12
    assert last - first == 2
    assert "title = " not in cards
    # The plan ends the page; folded parts are printed; no sheet is bare.
    assert 'title = "Lagoon and seagrass system"' in sheets[last]
    assert any("What matters most" in text for text in sheets)
    assert all(len(text) > 100 for text in sheets[:-1])
    assert 12 <= len(sheets) <= 30


@pytest.mark.parametrize(("paper", "width"), [("A4", 794), ("Letter", 816)])
def test_nothing_is_cut_off_at_the_edge_of_a_sheet(at_desk: Page, paper: str, width: int) -> None:
    at_desk.emulate_media(media="print")
    at_desk.set_viewport_size({"width": width - 98, "height": 1000})  # within margins of 13 mm
    wide = at_desk.evaluate(
        """[...document.querySelectorAll('table, figure, .card, pre, p, svg')]
             .filter(each => each.getBoundingClientRect().right > window.innerWidth + 1)
             .map(each => each.tagName + ': ' + each.textContent.slice(0, 60))"""
    )
    assert not wide, paper
    full = at_desk.evaluate(
        """[...document.querySelectorAll('.card')]
             .filter(each => each.scrollHeight > each.clientHeight + 1)
             .map(each => each.textContent)"""
    )
    assert not full, paper


HOSTILE = "<script>alert(1)</script>"


def test_what_a_user_wrote_is_never_run(browser: Browser, tmp_path: Path) -> None:
    plan = tmp_path / "plan.toml"
    long = "l" * 200
    text = STARTER.replace('"reactor"', f'"{HOSTILE}"').replace("A small manifold", long)
    title = re.sub(r"(?m)^title = .*$", f'title = "<img src=x onerror=alert(1)> {long}"', text)
    plan.write_text(title, encoding="utf-8")
    ran = run("report", str(plan), "-o", str(tmp_path / "report.html"))
    assert (ran.code, ran.err) == (0, "")
    context = browser.new_context(bypass_csp=True, viewport={"width": PHONE, "height": 800})
    page = context.new_page()
    opened: list[str] = []

    def dismiss(dialog: Dialog) -> None:
        opened.append(dialog.message)
        dialog.dismiss()

    page.on("dialog", dismiss)
    page.goto((tmp_path / "report.html").as_uri())
    assert not opened
    assert page.evaluate("document.scripts.length") == 0
    assert page.evaluate("document.images.length") == 0
    assert page.get_by_text(HOSTILE).count() > 3
    assert page.evaluate("document.documentElement.scrollWidth") <= PHONE
    context.close()
