"""A fit in a notebook: its table of verdicts as HTML, whatever lakes are called."""

from __future__ import annotations

from xml.etree import ElementTree

from fishdown.display.html import as_html
from fishdown.display.table import Column, Table, words


def test_a_fit_shows_its_verdicts(demo_fit):
    shown = ElementTree.fromstring(f"<div>{demo_fit._repr_html_()}</div>")
    rows = shown.findall(".//tbody/tr")
    assert len(rows) == len(demo_fit.verdicts())
    assert {row.find("th").text for row in rows} == set(demo_fit.verdicts()["lake"])
    assert "kg/ha" in "".join(shown.find(".//thead").itertext())


def test_names_that_would_be_markup_are_text(hostile_fit):
    shown = hostile_fit._repr_html_()
    assert "<script>" not in shown
    assert "&lt;script&gt;" in shown


def test_a_table_as_html():
    table = Table(
        "A & B", (Column("Lake"), Column("x,\nkg")), ((words("C"), words("1", "2–3")),), "n", 1
    )
    assert as_html(table) == (
        "<table><caption>A &amp; B</caption><thead><tr><th>Lake</th><th>x,<br/>kg</th></tr></thead>"
        "<tbody><tr><th>C</th><td>1<br/>2–3</td></tr></tbody></table><p>n</p>"
    )
