"""Pictures of the page: small, in both schemes, with their words as they were written."""

from __future__ import annotations

import re
from urllib.parse import unquote
from xml.etree import ElementTree

import pytest
from drawn_fits import HOSTILE
from matplotlib.figure import Figure

from fishdown.figures.files import save_figure
from fishdown.palette import DARK, PAGE
from fishdown.report.compact_svg import compact, picture_source

NAMES = (*HOSTILE, "Lac d'Élan & 湖", "50 % #1? {x}  1.23456")


@pytest.fixture
def figure() -> Figure:
    figure = Figure(figsize=(4.0, 3.0), facecolor=PAGE.paper)
    axes = figure.add_subplot()
    axes.plot([0.0, 1.0, 2.0], [0.123456, 5.0, 3.0], "o-", color=PAGE.estimate)
    axes.fill_between([0.0, 1.0], 0.0, [1.0, 2.0], color=PAGE.other, alpha=0.2)
    for place, name in enumerate(NAMES):
        axes.text(0.5, place, name, color=PAGE.threshold)
    return figure


def words(svg: str) -> list[str]:
    found = ElementTree.fromstring(svg).iter("{http://www.w3.org/2000/svg}text")
    return ["".join(text.itertext()) for text in found]


def test_words_stay_as_they_are(figure: Figure) -> None:
    source = picture_source(figure)
    assert not set('"<>&#?\n') & set(source)
    assert set(NAMES) <= set(words(unquote(source.partition(",")[2])))


def test_lines_are_those_of_the_figure(figure: Figure, tmp_path) -> None:
    save_figure(figure, tmp_path / "whole.svg", "svg", text=True)
    whole = (tmp_path / "whole.svg").read_text(encoding="utf-8")
    small = compact(whole)
    assert len(small) < 0.6 * len(whole)
    assert words(small) == words(whole)
    for lines in zip(*(re.findall(r'<path.*?\bd=["\'](.*?)["\']', svg, re.DOTALL)
                       for svg in (whole, small)), strict=True):  # fmt: skip
        before, after = (
            [float(number) for number in re.findall(r"-?\d+\.?\d*", line)] for line in lines
        )
        assert after == pytest.approx(before, abs=0.05)


def test_colours_follow_the_screen(figure: Figure) -> None:
    small = unquote(picture_source(figure))
    style, _, drawn = small.partition("</style>")
    for palette in (PAGE, DARK):
        assert palette.estimate in style
    assert "stroke:var(--e)" in drawn
    assert not re.search(r"#[0-9a-f]{6}\b", drawn)
