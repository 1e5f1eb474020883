"""The page in a browser: quiet, alone, readable on a phone and by everybody, printable."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from browser import DESKTOP, PHONE, Browser
from drawn_fits import HOSTILE

from fishdown import Fit

PageOf = Callable[..., Path]
PAPER = (688, 1000)  # A4 less the margins of the page, at 96 dots an inch


@pytest.fixture(params=["demo_fit", "hostile_fit"])
def page(request: pytest.FixtureRequest, page_of: PageOf) -> Path:
    return page_of(request.getfixturevalue(request.param)) / "report.html"


def test_nothing_is_asked_of_the_network_and_nothing_complains(
    browser: Browser, page: Path
) -> None:
    opened = browser.open(page)
    assert [url for url in opened.requests if not url.startswith("data:")] == [page.as_uri()]
    assert opened.console == ()
    # Every picture is there.
    sizes = browser.script("return [...document.images].map(image => image.naturalWidth)")
    assert len(sizes) > 10
    assert min(sizes) > 0


@pytest.mark.parametrize(
    ("fit", "size", "scheme"),
    [
        ("demo_fit", PHONE, "light"),
        ("demo_fit", DESKTOP, "dark"),
        ("single_fit", PHONE, "dark"),
    ],
)
def test_accessibility(
    browser: Browser,
    request: pytest.FixtureRequest,
    page_of: PageOf,
    fit: str,
    size: tuple[int, int],
    scheme: str,
) -> None:
    page = page_of(request.getfixturevalue(fit)) / "report.html"
    with browser.emulating(color_scheme=scheme):
        browser.open(page, size)
        browser.script("document.getElementById('science').checked = true")
        assert browser.accessibility() == []


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_accessibility_of_the_manager_s_part(
    browser: Browser, hostile_fit: Fit, page_of: PageOf, scheme: str
) -> None:
    with browser.emulating(color_scheme=scheme):
        browser.open(page_of(hostile_fit) / "report.html", PHONE)
        browser.script("document.querySelector('.open-menu').click()")
        assert browser.accessibility() == []


def test_a_dark_screen_is_dark_with_its_figures_and_paper_is_light(
    browser: Browser, demo_fit: Fit, page_of: PageOf
) -> None:
    def lightness(media: str, scheme: str) -> tuple[float, float]:
        with browser.emulating(media, color_scheme=scheme):
            browser.open(page_of(demo_fit) / "report.html", PAPER)
            browser.script("document.querySelector('figure').scrollIntoView({behavior: 'instant'})")
            place = "document.querySelector('figure img').getBoundingClientRect()"
            left, top = browser.script(f"const at = {place}; return [at.left, at.top]")
            pixels = browser.pixels()
        figure = pixels[int(top) + 5 : int(top) + 200, int(left) + 5 : int(left) + 200]
        return float(np.median(pixels[:, :10])), float(np.median(figure))

    assert min(lightness("screen", "light")) > 240
    assert max(lightness("screen", "dark")) < 50
    assert min(lightness("print", "dark")) > 240


def test_the_menu_of_a_phone_opens_where_one_is_and_closes_by_itself(
    browser: Browser, demo_fit: Fit, page_of: PageOf
) -> None:
    browser.open(page_of(demo_fit) / "report.html", PHONE)
    shown = "return document.getElementById('menu').offsetHeight > 0"
    assert not browser.script(shown)
    browser.script("window.scrollTo({top: 2000, behavior: 'instant'})")
    browser.script("document.querySelector('.open-menu').click()")
    assert browser.script(shown)
    assert browser.script("return window.scrollY") == 2000
    browser.script("document.querySelector('nav a[href=\"#methods\"]').click()")
    assert not browser.script(shown)
    assert browser.script("return location.hash") == "#methods"


def test_twelve_lakes_are_on_the_first_screen_of_a_small_page(
    browser: Browser, many_fit: Fit, page_of: PageOf
) -> None:
    page = page_of(many_fit) / "report.html"
    assert page.stat().st_size < 3_000_000
    browser.open(page, (1440, 900))
    rows = "document.querySelectorAll('.glance tbody tr')"
    assert browser.script(f"return {rows}.length") == 12
    bottom = browser.script(f"return [...{rows}].at(-1).getBoundingClientRect().bottom")
    assert bottom <= 900
    assert browser.accessibility() == []


def test_the_accessibility_check_can_fail(browser: Browser, tmp_path: Path) -> None:
    bad = tmp_path / "bad.html"
    bad.write_text("<html><body><img src='data:,'><h3 style='color:#eee'>a</h3></body></html>")
    browser.open(bad)
    found = {violation.split(":")[0] for violation in browser.accessibility()}
    assert {"image-alt", "html-has-lang", "document-title"} <= found


@pytest.mark.parametrize("size", [PHONE, (320, 600), DESKTOP], ids=["phone", "narrow", "desktop"])
def test_nothing_sticks_out(browser: Browser, page: Path, size: tuple[int, int]) -> None:
    browser.open(page, size)
    browser.script("document.getElementById('science').checked = true")
    assert browser.script("return document.documentElement.scrollWidth") <= size[0]


def test_the_scientist_s_part_opens_by_keyboard(browser: Browser, page: Path) -> None:
    browser.open(page)
    shown = "return document.getElementById('science-part').offsetHeight > 0"
    assert not browser.script(shown)
    # Skip link, then the switch.
    browser.press("Tab")
    assert browser.script("return document.activeElement.className") == "skip"
    browser.press("Tab")
    assert browser.script("return document.activeElement.id") == "science"
    browser.press(" ")
    assert browser.script(shown)
    browser.press(" ")
    assert not browser.script(shown)


def test_odd_names_are_shown_as_they_are(
    browser: Browser, hostile_fit: Fit, page_of: PageOf
) -> None:
    browser.open(page_of(hostile_fit) / "report.html")
    shown = browser.script(
        "return [...document.querySelectorAll('.card h3')].map(h => h.innerText)"
    )
    assert shown == [f"{name}, 2024" for name in HOSTILE]
    assert browser.script("return document.scripts.length") == 0


def test_print_leaves_out_what_paper_cannot_do(
    browser: Browser, page: Path, tmp_path: Path
) -> None:
    browser.open(page, PAPER)
    width = "return document.documentElement.scrollWidth"
    with browser.emulating("print"):
        for hidden in (".bar", "#science", "#downloads", "details", "#science-part"):
            height = f"return document.querySelector('{hidden}').offsetHeight"
            assert browser.script(height) == 0, hidden
        # All that is wider than the paper would be cut off.
        assert browser.script(width) <= PAPER[0]
        browser.script("document.getElementById('science').checked = true")
        assert browser.script(width) <= PAPER[0]
        browser.script("document.getElementById('science').checked = false")
    printed = browser.print(tmp_path / "page.pdf").read_bytes()
    assert printed.startswith(b"%PDF")
    assert 3 <= printed.count(b"/Type /Page\n") <= 8


def test_motion_only_for_those_who_want_it(browser: Browser, page: Path) -> None:
    browser.open(page)
    behaviour = "return getComputedStyle(document.documentElement).scrollBehavior"
    with browser.emulating(reduced_motion="reduce"):
        assert browser.script(behaviour) == "auto"


def test_pictures_of_the_page(browser: Browser, page: Path, tmp_path: Path) -> None:
    """Phone and desktop: the whole page can be taken, and is not blank."""
    for size in (PHONE, DESKTOP):
        browser.open(page, size)
        assert browser.picture(tmp_path / f"{size[0]}.png").stat().st_size > 100_000
