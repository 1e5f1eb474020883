"""The page in a browser: quiet, alone, readable on a phone and by everybody, printable."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

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


@pytest.mark.parametrize("size", [PHONE, DESKTOP], ids=["phone", "desktop"])
def test_accessibility(
    browser: Browser, demo_fit: Fit, page_of: PageOf, size: tuple[int, int]
) -> None:
    browser.open(page_of(demo_fit) / "report.html", size)
    browser.script("document.getElementById('science').checked = true")
    assert browser.accessibility() == []


def test_accessibility_of_the_manager_s_part(
    browser: Browser, hostile_fit: Fit, page_of: PageOf
) -> None:
    browser.open(page_of(hostile_fit) / "report.html", PHONE)
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
    browser.command("Emulation.setEmulatedMedia", media="print")
    for hidden in (".bar", "#science", "#downloads", "details", "#science-part"):
        assert browser.script(f"return document.querySelector('{hidden}').offsetHeight") == 0, (
            hidden
        )
    # All that is wider than the paper would be cut off.
    width = "return document.documentElement.scrollWidth"
    assert browser.script(width) <= PAPER[0]
    browser.script("document.getElementById('science').checked = true")
    assert browser.script(width) <= PAPER[0]
    browser.script("document.getElementById('science').checked = false")
    browser.command("Emulation.setEmulatedMedia", media="")
    printed = browser.print(tmp_path / "page.pdf").read_bytes()
    assert printed.startswith(b"%PDF")
    assert 3 <= printed.count(b"/Type /Page\n") <= 8


def test_motion_only_for_those_who_want_it(browser: Browser, page: Path) -> None:
    browser.open(page)
    behaviour = "return getComputedStyle(document.documentElement).scrollBehavior"
    feature = {"name": "prefers-reduced-motion", "value": "reduce"}
    browser.command("Emulation.setEmulatedMedia", media="", features=[feature])
    assert browser.script(behaviour) == "auto"
    browser.command("Emulation.setEmulatedMedia", media="", features=[])


def test_pictures_of_the_page(browser: Browser, page: Path, tmp_path: Path) -> None:
    """Phone and desktop: the whole page can be taken, and is not blank."""
    for size in (PHONE, DESKTOP):
        browser.open(page, size)
        assert browser.picture(tmp_path / f"{size[0]}.png").stat().st_size > 100_000
