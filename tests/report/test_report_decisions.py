"""Pulls and years ahead on the page: those of this very fit, and no others."""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import pytest
from drawn_fits import drawn_fit, records
from test_report_page import JARGON, Reader, downloads

from fishdown import Fit
from fishdown.cli import main
from fishdown.report.decisions import decisions


@pytest.fixture(scope="module")
def saved(tmp_path_factory: pytest.TempPathFactory) -> tuple[Fit, Path]:
    """Two lakes with pulls and years ahead in the folder of their fit."""
    home = tmp_path_factory.mktemp("decided")
    written = records(home / "records", ["Ashmere", "Birkwater"])
    with (written / "campaign.toml").open("a", encoding="utf-8") as file:
        file.write('currency = "EUR"\n')
    fit = drawn_fit(written)
    folder = fit.save(home / "fit")
    costs = ["--cost-per-pull", "30", "--cost-above", "5000"]
    assert main(["ahead", str(folder), "--pulls", "12", *costs]) == 0
    assert main(["years", str(folder), "--years", "3", "--remove-kg", "40"]) == 0
    return fit, folder


@pytest.fixture
def without_other_pictures(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("pictures", "pictures_of_checks"):
        monkeypatch.setattr(f"fishdown.report.page.{name}", lambda *_, **__: ())


@pytest.mark.usefixtures("without_other_pictures")
def test_the_page_shows_them(saved: tuple[Fit, Path]) -> None:
    _, folder = saved
    assert main(["report", str(folder)]) == 0
    reader = Reader((folder / "report.html").read_text(encoding="utf-8"))
    words = " ".join("".join(reader.manager).replace("\N{NO-BREAK SPACE}", " ").split())
    assert not JARGON.findall(words)
    assert "are assumed, not estimated from these records" in words
    assert "40.0 kg are removed every year" in words
    for name in ("ahead", "years"):
        assert downloads(reader)[name] == (folder / f"{name}.csv").read_text(encoding="utf-8")
        rows = pd.read_csv(folder / f"{name}.csv", dtype=str)
        shown = [number for number, _ in reader.numbers if number["data-from"].startswith(name)]
        assert len(shown) > 40
        for number in shown:
            _, row, column = number["data-from"].split(":")
            assert number["value"] == rows[column].iloc[int(row)]
    # Now, every third of twelve pulls, in two lakes.
    pulls = [n["value"] for n, _ in reader.numbers if n["data-from"].endswith(":pull")]
    assert pulls == ["3", "6", "9", "12"] * 2
    assert len(reader.pictures) == 2 * 2
    assert all("interval" in picture["alt"] for picture in reader.pictures)


def test_those_of_another_fit_are_not_shown(saved: tuple[Fit, Path], tmp_path: Path) -> None:
    fit, folder = saved
    other = drawn_fit(records(tmp_path / "records", ["Ashmere", "Birkwater"]), seed=6)
    assert other.fingerprint != fit.fingerprint
    frames, remarks = decisions(other, folder, despite_gate=False)
    assert frames == {}
    assert remarks == (
        "The file ahead.csv is not shown: it belongs to another fit; run fishdown ahead again.",
        "The file years.csv is not shown: it belongs to another fit; run fishdown years again.",
        "The file forecast_assumptions.csv is not shown: it belongs to another fit; run fishdown "
        "years again.",
    )


def test_a_loaded_fit_is_the_same_fit(saved: tuple[Fit, Path]) -> None:
    import fishdown

    fit, folder = saved
    loaded = fishdown.load(folder)
    assert loaded.fingerprint == fit.fingerprint
    assert set(decisions(loaded, folder, despite_gate=False)[0]) == {
        "ahead", "years", "forecast_assumptions"
    }  # fmt: skip
    assert decisions(loaded, None, despite_gate=False) == ({}, ())


@pytest.mark.parametrize(
    "text", ["", "lake,pull\nAshmere,1\n", "\x00\xff", "changed: fish_left_median"]
)
def test_what_somebody_changed_is_not_shown(
    saved: tuple[Fit, Path], tmp_path: Path, text: str
) -> None:
    fit, folder = saved
    if text.startswith("changed"):
        frame = pd.read_csv(folder / "ahead.csv").astype({"fish_left_median": object})
        frame.loc[3, "fish_left_median"] = "about 500"
        text = frame.to_csv(index=False)
    (tmp_path / "ahead.csv").write_text(text, encoding="latin-1")
    frames, remarks = decisions(fit, tmp_path, despite_gate=False)
    assert frames == {}
    assert "it does not have the form that fishdown ahead writes" in remarks[0]


def test_what_a_failed_gate_withholds_stays_withheld(tmp_path: Path) -> None:
    fit = drawn_fit(records(tmp_path / "records"), divergences=3)
    folder = fit.save(tmp_path / "fit")
    assert main(["ahead", str(folder), "--pulls", "2", "--despite-gate"]) == 3
    frames, remarks = decisions(fit, folder, despite_gate=False)
    assert frames == {}
    assert "numbers that a failed check withholds" in remarks[0]
    assert set(decisions(fit, folder, despite_gate=True)[0]) == {"ahead"}
    assert main(["ahead", str(folder), "--pulls", "2"]) == 3
    withheld, _ = decisions(fit, folder, despite_gate=False)
    assert withheld["ahead"]["fish_left_median"].isna().all()
