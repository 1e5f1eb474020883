"""The walk-through runs from top to bottom, on a fit that is already there."""

from __future__ import annotations

import runpy
from dataclasses import replace
from pathlib import Path

import pytest
import xarray as xr
from drawn_fits import drawn_fit

from fishdown.demo import demo_folder
from fishdown.posterior.standard_groups import standard_groups

ROOT = Path(__file__).parent.parent


# The draws are made by hand: leaving pulls out of them is out of their depth.
@pytest.mark.filterwarnings("ignore:Estimated shape parameter of Pareto:UserWarning")
def test_walk_through(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    drawn = drawn_fit(demo_folder() / "watershed")
    posterior = drawn.tree["posterior"].to_dataset()
    groups = standard_groups(posterior, drawn.campaign, drawn.spec, seed=1)
    fit = replace(drawn, tree=drawn.tree.assign({n: xr.DataTree(g) for n, g in groups.items()}))
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
        "predicted_catches.png",
    }
    assert (results / "report.html").is_file()
