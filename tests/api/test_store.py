"""Saving a fit and reading it again; one real fit serves all of these tests."""

from __future__ import annotations

import dataclasses
import json
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
import xarray as xr
from command_lines import FILES

import fishdown
from fishdown import Fit, report
from fishdown.api.files import MADE_FROM_IT, outlived
from fishdown.figures import NAMES
from fishdown.figures.files import DESCRIPTIONS, FOLDER
from fishdown.posterior.sampling import SamplerSettings

RECORDS = {
    "campaign.toml": 'title = "Pond, \\"the deep\\""\nspecies = "common carp"\n',
    "lakes.csv": "lake,area_ha\nMere,4\n",
    "marked.csv": "date,lake,batch,mark,released,died\n2024-05-02,Mere,b,fin_clip,64,4\n",
    "pulls.csv": (
        "date,lake,net,caught,recaptured\n"
        "2024-06-01,Mere,A,138,17\n"
        "2024-06-03,Mere,A,92,10\n"
        "2024-06-05,Mere,A,85,9\n"
        "2024-06-08,Mere,A,49,\n"
        "2024-06-11,Mere,A,33,4\n"
    ),
    "measured.csv": (
        "date,lake,net,weight_kg\n2024-06-01,Mere,A,1.9\n2024-06-01,Mere,A,2.4\n"
        "2024-06-03,Mere,A,2.2\n2024-06-03,Mere,,3.1\n"
    ),
    "bycatch.csv": "date,lake,net,species,count\n2024-06-01,Mere,A,pike,2\n",
}


@pytest.fixture(scope="module")
def fit(tmp_path_factory: pytest.TempPathFactory) -> Fit:
    folder = tmp_path_factory.mktemp("records")
    for name, text in RECORDS.items():
        (folder / name).write_text(text, encoding="utf-8")
    settings = SamplerSettings(draws=800, tune=600, cores=1, seed=31)
    return fishdown.fit(fishdown.read(folder), "few_passes", settings=settings)


@pytest.fixture(scope="module")
def saved(fit: Fit, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return fit.save(tmp_path_factory.mktemp("results") / "new" / "folder")


def contents(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir() if path.is_file()}


def test_the_fit_itself_is_sound(fit: Fit) -> None:
    assert fit.spec.name == "few_passes"
    assert fit.passed


def test_exactly_these_files(saved: Path) -> None:
    assert set(contents(saved)) == FILES


def test_loaded_equals_saved(fit: Fit, saved: Path) -> None:
    again = fishdown.load(saved)
    assert again == fit
    xr.testing.assert_identical(again.tree, fit.tree)
    assert again.spec == fit.spec
    assert again.spec.text == fit.spec.text
    assert again.run == fit.run
    assert again.passed == fit.passed
    assert again.campaign.settings == fit.campaign.settings
    assert again.campaign.hashes == fit.campaign.hashes
    assert again.campaign.warnings == fit.campaign.warnings
    for part in ("lakes", "seasons", "pulls", "fish", "bycatch"):
        one, other = getattr(again.campaign, part), getattr(fit.campaign, part)
        xr.testing.assert_identical(one, other)
        assert {name: one[name].dtype.kind for name in one.variables} == {
            name: other[name].dtype.kind for name in other.variables
        }
    for table in ("verdicts", "estimates", "removals"):
        pd.testing.assert_frame_equal(getattr(again, table)(), getattr(fit, table)())


def test_saving_what_was_loaded_changes_nothing(saved: Path, tmp_path: Path) -> None:
    again = fishdown.load(saved).save(tmp_path / "again")
    for name, content in contents(again).items():
        # HDF5 may order its bytes as it likes, and the manifest has their checksum.
        if name not in {"posterior.nc", "manifest.json"}:
            assert content == (saved / name).read_bytes()
    xr.testing.assert_identical(fishdown.load(again).tree, fishdown.load(saved).tree)


def test_tables_on_disk_are_those_of_the_fit(fit: Fit, saved: Path) -> None:
    text = {"season": str, "lake": str}
    for name in ("verdicts", "estimates", "removals"):
        table = getattr(fit, name)()
        again = pd.read_csv(saved / f"{name}.csv", dtype=text, keep_default_na=False, na_values="")
        # An empty text is read as missing; a whole column of them as numbers.
        for column in {"season", "caution", "next_measurement", "background"} & set(again):
            again[column] = again[column].astype(object).fillna("")
        pd.testing.assert_frame_equal(again, table, check_dtype=False)


def test_made_again_from_its_file_it_is_the_same_to_the_last_bit(fit: Fit, saved: Path) -> None:
    found = fishdown.rerun(fishdown.load(saved))
    assert found.repetition.outcome == "identical"
    assert found.repetition.reasons == ()
    assert found.fit.run["computer"] == fit.run["computer"]
    xr.testing.assert_identical(found.fit.tree, fit.tree)


def test_a_changed_specification_comes_back_as_it_was_fitted(fit: Fit, tmp_path: Path) -> None:
    """Its text is that of the model file, which no longer tells all."""
    wide = dataclasses.replace(
        fit.spec,
        priors={
            **fit.spec.priors,
            "density": type(fit.spec.priors["density"])("lognormal", (20.0, 0.5)),
        },
        reference_temperature=15.0,
    )
    dataclasses.replace(fit, spec=wide).save(tmp_path)
    again = fishdown.load(tmp_path).spec
    assert again == wide
    assert again.priors["density"].numbers == (20.0, 0.5)


def test_plain_xarray_reads_it_with_units(saved: Path) -> None:
    with xr.open_datatree(saved / "posterior.nc", engine="netcdf4") as tree:
        assert tree.attrs["Conventions"].startswith("CF-")
        assert {"posterior", "quantities", "sample_stats", "campaign"} <= set(tree.children)
        assert tree["quantities"]["biomass_after"].attrs == {
            "units": "kg ha-1",
            "long_name": "biomass density after the last pull",
        }
        assert tree["quantities"]["abundance_before"].sizes == {
            "chain": 4,
            "draw": 800,
            "season": 1,
        }


def test_every_variable_has_a_name_and_every_number_a_unit(saved: Path) -> None:
    # Undecoded, a date shows the unit it is stored in ("days since …").
    with xr.open_datatree(saved / "posterior.nc", engine="netcdf4", decode_cf=False) as tree:
        nameless = []
        for group in tree.subtree:
            for name, variable in group.dataset.data_vars.items():
                number = variable.dtype.kind in "iuf"
                if not variable.attrs.get("long_name") or (
                    number and "units" not in variable.attrs
                ):
                    nameless.append(f"{group.path}/{name}")
    assert nameless == []


def test_a_second_save_replaces_the_first(fit: Fit, tmp_path: Path) -> None:
    fit.save(tmp_path)
    (tmp_path / "notes.txt").write_text("mine", encoding="utf-8")
    other = dataclasses.replace(fit, run={**fit.run, "title": "another"})
    other.save(tmp_path)
    assert set(contents(tmp_path)) == FILES | {"notes.txt"}
    assert fishdown.load(tmp_path).run["title"] == "another"
    assert json.loads((tmp_path / "run.json").read_text(encoding="utf-8"))["title"] == "another"


def test_what_was_made_from_the_earlier_fit_goes_with_it(fit: Fit, tmp_path: Path) -> None:
    fit.save(tmp_path)
    (tmp_path / "figures").mkdir()
    for name in MADE_FROM_IT:
        (tmp_path / name).write_text("of the earlier fit", encoding="utf-8")
    mine = tmp_path / "figures" / "mine.png"
    mine.write_text("mine", encoding="utf-8")
    assert outlived(tmp_path) == [
        "ahead.csv", "ahead.png", "budget.csv", "budget.png", "budget.txt", "figures",
        "forecast_assumptions.csv",
        "harvest_rules.csv", "harvest_rules.png", "harvest_rules.txt", "harvest_rules_by_year.csv",
        "report.html", "results.xlsx", "worth.csv", "years.csv", "years_ahead.png",
        "years_ahead.txt",
    ]  # fmt: skip
    fit.save(tmp_path)
    assert outlived(tmp_path) == []
    assert set(contents(tmp_path / "figures")) == {"mine.png"}
    mine.unlink()
    (tmp_path / "figures" / "biomass.svg").write_text("of the earlier fit", encoding="utf-8")
    fit.save(tmp_path)
    assert {path.name for path in tmp_path.iterdir()} == FILES


def test_the_names_of_what_is_made_from_a_fit() -> None:
    """Those of budget, years and worth stand below the commands that write them, too."""
    from fishdown.api.ahead import FIGURE
    from fishdown.decisions.ahead import TABLE
    from fishdown.report.workbook import WORKBOOK
    from fishdown.terminal import budget, worth, years

    drawn = {f"{FOLDER}/{name}.{kind}" for name in NAMES for kind in ("png", "svg", "pdf")}
    decisions = {*budget.FILES, *years.FILES, worth.TABLE}
    named = {report.FILE, WORKBOOK, TABLE, FIGURE, *decisions, *drawn}
    assert set(MADE_FROM_IT) == named | {f"{FOLDER}/{DESCRIPTIONS}"}


def test_into_a_file_is_refused(fit: Fit, tmp_path: Path) -> None:
    (tmp_path / "taken").write_text("mine", encoding="utf-8")
    for folder in (tmp_path / "taken", tmp_path / "taken" / "below"):
        with pytest.raises(fishdown.FitError, match=r"cannot write to .*taken"):
            fit.save(folder)
    assert (tmp_path / "taken").read_text(encoding="utf-8") == "mine"


@pytest.mark.parametrize(
    ("step", "failure"),
    [
        ("to_netcdf", ValueError("odd")),
        ("first file", OSError(28, "No space left on device")),
        ("last file", OSError(28, "No space left on device")),
        ("last file", ValueError("odd")),
    ],
)
def test_a_failure_halfway_leaves_the_earlier_files(
    fit: Fit, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, failure: Exception, step: str
) -> None:
    fit.save(tmp_path / "old")
    before = contents(tmp_path / "old")
    write_bytes, write_text = Path.write_bytes, Path.write_text

    def broken(*arguments: object, **options: object) -> None:
        raise failure

    def full(path: Path, *arguments: Any, **options: Any) -> int:
        if path.name == {"first file": "posterior.nc", "last file": "manifest.json"}.get(step):
            raise failure
        write = write_bytes if isinstance(arguments[0], bytes) else write_text
        return write(path, *arguments, **options)

    if step == "to_netcdf":
        monkeypatch.setattr(xr.DataTree, "to_netcdf", broken)
    else:
        monkeypatch.setattr(Path, "write_bytes", full)
        monkeypatch.setattr(Path, "write_text", full)
    for folder in ("old", "new/folder") if step == "last file" else ("old",):
        with pytest.raises((OSError, fishdown.FitError, ValueError)) as caught:
            dataclasses.replace(fit, run={**fit.run, "title": "another"}).save(tmp_path / folder)
        if isinstance(failure, OSError):
            wanted = f"cannot write to {tmp_path / folder}: No space left on device; free some "
            wanted += "space, or name a folder on another disk"
            assert str(caught.value) == wanted
    monkeypatch.undo()
    assert contents(tmp_path / "old") == before  # no draft left behind either
    assert not (tmp_path / "new").exists()


def test_nothing_to_load(tmp_path: Path) -> None:
    for folder in (tmp_path, tmp_path / "nowhere"):
        with pytest.raises(fishdown.FitError, match=r"holds no fit: there is no posterior\.nc"):
            fishdown.load(folder)


def test_run_json(fit: Fit, saved: Path) -> None:
    import hashlib
    from importlib.metadata import version

    run = json.loads((saved / "run.json").read_text(encoding="utf-8"))
    assert run == fit.run
    assert run["title"] == 'Pond, "the deep"'
    assert run["model"] == "few_passes"
    assert run["model_text"] == fishdown.read_model("few_passes").text
    assert run["seed"] == 31
    assert run["versions"]["nutpie"] == version("nutpie")
    assert run["versions"]["fishdown"] == fishdown.__version__
    assert run["input_sha256"] == {
        name: hashlib.sha256(text.encode("utf-8")).hexdigest() for name, text in RECORDS.items()
    }
    first = run["attempts"][0]
    assert (first["draws"], first["tune"], first["chains"], first["seed"]) == (800, 600, 4, 31)
    assert run["quality_gate"]["passed"] is True
    assert run["quality_gate"]["divergences"] == 0
    assert run["compile_seconds"] > 0.0
    total = sum(attempt["sample_seconds"] for attempt in run["attempts"])
    assert run["sample_seconds"] == pytest.approx(total, abs=0.01)


def test_run_json_is_json_even_when_a_figure_is_no_number(fit: Fit, tmp_path: Path) -> None:
    gate = {**fit.run["quality_gate"], "largest_rhat": float("nan"), "smallest_ess_bulk": np.inf}
    dataclasses.replace(fit, run={**fit.run, "quality_gate": gate}).save(tmp_path)

    def refuse(constant: str) -> None:
        raise AssertionError(f"{constant} is no JSON")

    text = (tmp_path / "run.json").read_text(encoding="utf-8")
    run = json.loads(text, parse_constant=refuse)
    assert run["quality_gate"]["largest_rhat"] is None
