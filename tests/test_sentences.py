"""Sentences from templates with named values."""

from __future__ import annotations

import pytest

from fishdown.records.codes import Odd, Wrong
from fishdown.sentences import names_in, sentence


@pytest.mark.parametrize(
    ("template", "values", "said"),
    [
        ("{fish:,.0f} fish", {"fish": 2310.0}, "2,310 fish"),
        ("{fish:#catch/catches}", {"fish": 1}, "1 catch"),
        ("{fish:#catch/catches}", {"fish": 2310}, "2,310 catches"),
        ("{pulls:#pull}", {"pulls": 2}, "2 pulls"),
        ("{rows}", {"rows": [7]}, "row 7"),
        ("{rows}", {"rows": [7, 9]}, "rows 7 and 9"),
        ("late< ({rows:several})>", {"rows": [7]}, "late"),
        ("late< ({rows:several})>", {"rows": [7, 9]}, "late (rows 7 and 9)"),
        ("write {known}", {"known": ["lake", "net"]}, "write lake, net"),
        ("unknown<, here and in {more:#more row}>", {"more": 0}, "unknown"),
        (
            "unknown<, here and in {more:#more row}>",
            {"more": 2},
            "unknown, here and in 2 more rows",
        ),
        ("<{large:?}long|short> fish", {"large": True}, "long fish"),
        ("<{large:?}long|short> fish", {"large": False}, "short fish"),
        ('<did you mean "{like}"?|add it>', {"like": None}, "add it"),
        ("<{old:?}{left} left, >{new} new", {"old": 1, "left": 0, "new": 3}, "0 left, 3 new"),
        ("{size:unit mm}", {"size": 508.0}, "508 mm"),
        ("{size:unit mm}", {"size": 508.0, "us": True}, "20 in"),
        ("{size:unit {unit}}", {"size": 2.5, "unit": "kg"}, "2.5 kg"),
        ("{size:unit {unit}}", {"size": 2.5, "unit": "kg", "us": True}, "5.51 lb"),
        # What a file says is a value, and no template.
        ("batch {batch}", {"batch": "<{x}|y>"}, "batch <{x}|y>"),
    ],
)
def test_values_in_a_template(template, values, said):
    assert sentence(template, values) == said


def test_a_unit_that_is_a_value_is_among_the_names():
    assert names_in("{size:unit {unit}} in {lake}") == {"size", "unit", "lake"}


def test_a_value_that_is_not_there_is_an_error():
    with pytest.raises(KeyError):
        sentence("in {lake}", {})


@pytest.mark.parametrize("code", [*Wrong, *Odd])
def test_every_code_says_what_is_wrong_and_how_to_mend_it(code):
    assert code.wrong
    assert code.mend
    assert names_in(code.wrong + code.mend) <= code.names
    for clause in (code.wrong, code.mend):
        assert clause.count("<") == clause.count(">")
        assert "→" not in clause
