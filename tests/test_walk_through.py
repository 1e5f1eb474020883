"""The walk-through runs from top to bottom, on a fit that is already there."""

from __future__ import annotations

import runpy
from pathlib import Path

import pytest
from drawn_fits import drawn_fit

from fishdown.demo import demo_folder

ROOT = Path(__file__).parent.parent


def test_walk_through(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    fit = drawn_fit(demo_folder() / "watershed")
    results = fit.save(tmp_path / "demo" / "out" / "walk_through")
    monkeypatch.chdir(tmp_path)
    ran = runpy.run_path(str(ROOT / "demo" / "walk_through.py"))
    said = capsys.readouterr().out
    for statement in fit.verdicts()["statement"][1::2]:
        assert statement in said
    assert 0.0 < ran["low"] < ran["median"] < ran["high"]
    assert {path.name for path in results.glob("*.png")} == {
        "biomass.png",
        "abundance.png",
        "cooling.png",
    }
    assert (results / "report.html").is_file()
