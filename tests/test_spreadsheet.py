"""Cells that a spreadsheet would take for formulas, in every table that is written."""

from __future__ import annotations

import csv
import re
from pathlib import Path

import pandas as pd
import pytest
from drawn_fits import drawn_fit, records
from hypothesis import given
from hypothesis import strategies as st

from fishdown.cli import main
from fishdown.report.decisions import decisions
from fishdown.spreadsheet import as_written, guarded, safe_csv

HOSTILE = ("+cmd|'/C calc'!A0", "@SUM(A1)", "-2+3")
# What OWASP lists under "CSV Injection" as starts of a formula, wide forms included.
STARTS = "=+-@\t\r\n＝＋－＠"


def test_only_words_are_guarded() -> None:
    frame = pd.DataFrame({"name": ["-2", "=a", "plain", "\tx"], "number": [-2.0, 0.5, None, 1e-9]})
    assert safe_csv(frame).split("\n") == [
        "name,number",
        "'-2,-2.0",
        "'=a,0.5",
        "plain,",
        "'\tx,1e-09",
        "",
    ]


@given(st.text(st.sampled_from(STARTS + "'a ")))
def test_words_come_back_as_they_were(words: str) -> None:
    assert not guarded(words).startswith(tuple(STARTS))
    assert as_written(guarded(words)) == words


def test_no_table_of_a_fit_holds_a_formula(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    fit = drawn_fit(records(tmp_path / "r", HOSTILE, bycatch=HOSTILE))
    out = tmp_path / "out"
    fit.save(out)
    assert main(["ahead", str(out), "--pulls", "2"]) == 0
    assert main(["years", str(out), "--years", "1"]) == 0
    tables = sorted(out.glob("*.csv"))
    assert len(tables) == 9
    for path in tables:
        with path.open(encoding="utf-8", newline="") as file:
            cells = [cell for row in csv.reader(file) for cell in row]
        assert not any(
            cell.startswith(tuple(STARTS)) and not re.fullmatch(r"-[\d.e+-]+|-inf", cell)
            for cell in cells
        ), path.name
        if path.name != "checks.csv":
            assert f"'{HOSTILE[0]}" in cells, path.name
    shown, remarks = decisions(fit, out, despite_gate=False)
    assert remarks == ()
    assert set(shown["ahead"]["lake"]) == set(shown["years"]["lake"]) == set(HOSTILE)
