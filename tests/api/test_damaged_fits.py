"""Saved fits that were damaged or changed since: the fit as it was saved, or one clear error."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import numpy as np
import pytest
import xarray as xr
from drawn_fits import drawn_fit, records
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import fishdown
from fishdown import Fit
from fishdown.cli import main
from fishdown.posterior.manifest import FORMAT

NAMES = (
    "posterior.nc",
    "run.json",
    "verdicts.csv",
    "estimates.csv",
    "removals.csv",
    "checks.csv",
    "manifest.json",
)


@pytest.fixture(scope="module")
def fit(tmp_path_factory: pytest.TempPathFactory) -> Fit:
    return drawn_fit(records(tmp_path_factory.mktemp("records") / "r"), "one_lake")


@pytest.fixture(scope="module")
def saved(fit: Fit, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return fit.save(tmp_path_factory.mktemp("results"))


@pytest.fixture
def copied(saved: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(saved, tmp_path / "copy"))


def refused(folder: Path) -> str:
    with pytest.raises(fishdown.FitError) as caught:
        fishdown.load(folder)
    said = str(caught.value)
    assert said.startswith(str(folder))
    assert said.count("\n") == 0
    return said.removeprefix(str(folder))


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("damage", ["cut short", "text", "empty", "one bit"])
def test_a_damaged_file(copied: Path, name: str, damage: str) -> None:
    whole = (copied / name).read_bytes()
    middle = len(whole) // 2
    flipped = bytes([whole[middle] ^ 1])
    (copied / name).write_bytes(
        {
            "cut short": whole[:middle],
            "text": b"lake,fish\n",
            "empty": b"",
            "one bit": whole[:middle] + flipped + whole[middle + 1 :],
        }[damage]
    )
    said = refused(copied)
    assert said.startswith(" no longer holds the fit that was saved: ")
    assert said.endswith("Put the files back as they were, or fit the campaign again")
    if name != "manifest.json":
        assert f": {name} is damaged, was changed, or is of another fit. " in said


@pytest.mark.parametrize("name", NAMES)
def test_a_missing_file(copied: Path, name: str) -> None:
    (copied / name).unlink()
    said = refused(copied)
    if name == "manifest.json":
        assert said.startswith(" has no manifest.json, so its files cannot be verified")
    else:
        assert f": {name} is missing. Put the files back" in said


def test_all_that_is_wrong_at_once(copied: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (copied / "verdicts.csv").unlink()
    (copied / "verdicts.csv").mkdir()
    (copied / "checks.csv").unlink()
    (copied / "run.json").write_text("{}", encoding="utf-8")
    for command in ("figures", "report", "years"):
        assert main([command, str(copied)]) == 1
        assert capsys.readouterr().err == (
            f"fishdown: {copied} no longer holds the fit that was saved: checks.csv is missing; "
            "run.json is damaged, was changed, or is of another fit; verdicts.csv cannot be read "
            "(Is a directory). Put the files back as they were, or fit the campaign again\n"
        )


@pytest.mark.parametrize("value", [-5.0, np.inf, np.nan])
def test_an_edited_value_is_not_believed(copied: Path, value: float) -> None:
    with xr.open_datatree(copied / "posterior.nc", engine="netcdf4") as opened:
        tree = opened.load()
    tree["quantities"]["abundance_before"][0, 0, 0] = value
    tree.to_netcdf(copied / "posterior.nc", engine="netcdf4")
    assert "posterior.nc is damaged, was changed" in refused(copied)


@pytest.mark.parametrize("group", ["posterior", "quantities", "sample_stats", "campaign"])
def test_a_group_that_was_taken_out(copied: Path, group: str) -> None:
    with xr.open_datatree(copied / "posterior.nc", engine="netcdf4") as opened:
        tree = opened.load()
    del tree[group]
    tree.to_netcdf(copied / "posterior.nc", engine="netcdf4")
    assert "posterior.nc is damaged, was changed" in refused(copied)


def test_files_of_two_fits(fit: Fit, saved: Path, tmp_path: Path) -> None:
    """As a process that is killed between two replacements would leave them."""
    another = Fit(fit.campaign, fit.spec, fit.tree, {**fit.run, "title": "another"})
    other = another.save(tmp_path / "other")
    for name in NAMES:
        folder = Path(shutil.copytree(other, tmp_path / name))
        whole = (saved / name).read_bytes() == (folder / name).read_bytes()
        shutil.copy(saved / name, folder / name)
        if whole:
            fishdown.load(folder)
        else:
            assert "is of another fit" in refused(folder)


@pytest.mark.parametrize(
    ("entry", "text"),
    [
        ({"format": 99, "written_by": "fishdown 99"}, "of format 99, written by fishdown 99; this"),
        ({"format": None}, "of format None, written by"),
        ({"sha256": {}}, "manifest.json is damaged"),
        ({"sha256": None}, "manifest.json is damaged"),
    ],
)
def test_another_manifest(copied: Path, entry: dict[str, object], text: str) -> None:
    path = copied / "manifest.json"
    found = json.loads(path.read_text(encoding="utf-8"))
    path.write_text(json.dumps({**found, **entry}), encoding="utf-8")
    said = refused(copied)
    assert text in said
    if "format" in entry:
        assert f"this is fishdown {fishdown.__version__}, which reads format {FORMAT}" in said


def test_a_fit_of_a_version_without_a_manifest(copied: Path) -> None:
    (copied / "manifest.json").unlink()
    assert "or an earlier fishdown wrote them; fit the campaign again" in refused(copied)


def believed_or_refused(folder: Path, fit: Fit) -> None:
    try:
        found = fishdown.load(folder)
    except fishdown.FishdownError:
        return
    xr.testing.assert_identical(found.tree, fit.tree)
    assert found.run == fit.run
    assert found.spec == fit.spec


@st.composite
def damages(draw: st.DrawFn) -> tuple[str, str, float, int]:
    """Which file, what happens to it, where (a share of its length), and with which byte."""
    return (
        draw(st.sampled_from(NAMES)),
        draw(st.sampled_from(["flip", "cut", "insert", "repeat", "swap"])),
        draw(st.floats(0.0, 1.0, exclude_max=True)),
        draw(st.integers(0, 255)),
    )


def damaged(content: bytes, how: str, at: float, byte: int) -> bytes:
    place = int(at * len(content))
    before, after = content[:place], content[place:]
    if how == "flip":
        return before + bytes([byte]) + after[1:]
    if how == "cut":
        return before
    if how == "insert":
        return before + bytes([byte]) + after
    if how == "repeat":
        return content + after
    return after + before


def any_damage(saved: Path, fit: Fit, wanted: list[tuple[str, str, float, int]]) -> None:
    before = {name: (saved / name).read_bytes() for name in NAMES}
    try:
        for name, how, at, byte in wanted:
            path = saved / name
            path.write_bytes(damaged(path.read_bytes(), how, at, byte))
        believed_or_refused(saved, fit)
    finally:
        for name, content in before.items():
            (saved / name).write_bytes(content)


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(wanted=st.lists(damages(), min_size=1, max_size=3))
def test_any_damage(saved: Path, fit: Fit, wanted: list[tuple[str, str, float, int]]) -> None:
    any_damage(saved, fit, wanted)


@pytest.mark.slow
@settings(max_examples=1_000, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(wanted=st.lists(damages(), min_size=1, max_size=6))
def test_any_damage_at_length(
    saved: Path, fit: Fit, wanted: list[tuple[str, str, float, int]]
) -> None:
    any_damage(saved, fit, wanted)


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(),
    lambda inner: st.lists(inner) | st.dictionaries(st.text(), inner),
    max_leaves=4,
)


def any_edit(saved: Path, fit: Fit, name: str, key: str, value: object) -> None:
    path = saved / name
    before = path.read_bytes()
    try:
        edited = {**json.loads(before), key: value}
        path.write_text(json.dumps(edited), encoding="utf-8")
        believed_or_refused(saved, fit)
    finally:
        path.write_bytes(before)


EDITS = {
    "name": st.sampled_from(["run.json", "manifest.json"]),
    "key": st.sampled_from(["format", "written_by", "sha256", "title", "model", "quality_gate"]),
    "value": JSON,
}


@settings(max_examples=8, deadline=None)
@given(**EDITS)
def test_any_edit(saved: Path, fit: Fit, name: str, key: str, value: object) -> None:
    any_edit(saved, fit, name, key, value)


@pytest.mark.slow
@settings(max_examples=200, deadline=None)
@given(**EDITS)
def test_any_edit_at_length(saved: Path, fit: Fit, name: str, key: str, value: object) -> None:
    any_edit(saved, fit, name, key, value)


CHANGES = {
    "group": st.sampled_from(["posterior", "quantities", "sample_stats", "campaign/pulls"]),
    "which": st.integers(0, 20),
    "how": st.sampled_from(["drop", "rename", "negative", "inf", "cut", "type", "attribute"]),
}


@pytest.mark.slow
@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(**CHANGES)
def test_any_changed_variable(saved: Path, fit: Fit, group: str, which: int, how: str) -> None:
    path = saved / "posterior.nc"
    before = path.read_bytes()
    try:
        with xr.open_datatree(path, engine="netcdf4") as opened:
            tree = opened.load()
        dataset = tree[group].to_dataset()
        name = sorted(dataset.data_vars, key=str)[which % len(dataset.data_vars)]
        array = dataset[name]
        changed = {
            "drop": lambda: dataset.drop_vars(name),
            "rename": lambda: dataset.rename({name: f"{name}_"}),
            "negative": lambda: dataset.assign({name: array.where(array != array, -5)}),
            "inf": lambda: dataset.assign({name: array.where(array != array, np.inf)}),
            "cut": lambda: dataset.isel({array.dims[0]: slice(1)}),
            "type": lambda: dataset.assign({name: array.astype(str)}),
            "attribute": lambda: dataset.assign_attrs(units="1").assign_attrs(more=-1),
        }[how]()
        tree[group] = xr.DataTree(changed)
        tree.to_netcdf(path, engine="netcdf4")
        believed_or_refused(saved, fit)
    finally:
        path.write_bytes(before)
