"""Lakes beside each other: intervals, fits on their own, and which lake is above which."""

from __future__ import annotations

import io
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from command_lines import FILES, assert_readable, joined, passes
from fake_fits import POND, StubSampler, fake_fit, independent
from rich.console import Console
from scipy import stats

import fishdown
from fishdown import Fit
from fishdown.cli import main
from fishdown.display.lakes import alone_table
from fishdown.statements.comparison import (
    COMPARED,
    intervals_alone,
)
from fishdown.statements.probability import probability_below
from fishdown.terminal.render import in_terminal

# The contract of comparison.csv.
COMPARISON_COLUMNS = (
    "lake", "season", "quantity", "unit", "median", "low", "high", "alone_median", "alone_low",
    "alone_high", "narrower", "gate", "alone_gate"
)  # fmt: skip

# The contract of lake_pairs.csv.
PAIR_COLUMNS = (
    "quantity", "lake", "other", "probability_larger", "mc_error", "words", "gate"
)  # fmt: skip

LAKES = (POND, ("Mere", 3.0, 80.0), ("Broad", 40.0, 100.0))
MIDDLES = (0.30, 0.20, 0.22)
SHAPE = (4, 1000, 3)


def lakes_fit(spread: float = 0.02, divergences: int = 0) -> Fit:
    """Three lakes whose removed shares are normal, and their biomass from 200 to 120 kg/ha."""
    share = np.stack(
        [independent(seed=k, middle=m, spread=spread) for k, m in enumerate(MIDDLES)], axis=2
    )
    before = independent(SHAPE, seed=9, middle=200.0, spread=5.0)
    return fake_fit(
        {"removed_share": share, "biomass_before": before, "biomass_after": before - 80.0 * share},
        lakes=LAKES,
        divergences=divergences,
    )


def with_alone(fit: Fit, alone: Fit) -> Fit:
    fit.tree["alone"] = intervals_alone(alone.quantities, alone.quality, alone.campaign)
    return fit


def test_every_quantity_of_every_lake_with_unit_and_interval() -> None:
    fit = lakes_fit()
    table = fit.comparison()
    assert tuple(table.columns) == COMPARISON_COLUMNS
    assert table[["lake", "quantity"]].values.tolist() == [
        [lake, quantity]
        for lake in ("Pond", "Mere", "Broad")
        for quantity in ("removed_share", "biomass_decrease")
    ]
    assert set(table["unit"]) == {"share", "kg/ha"}
    draws = fit.quantities["removed_share"].values[..., 1]
    mere = table[(table["lake"] == "Mere") & (table["quantity"] == "removed_share")].iloc[0]
    assert mere[["low", "median", "high"]].tolist() == pytest.approx(
        np.quantile(draws, [0.05, 0.5, 0.95]).tolist()
    )
    # biomass before less after is 80 times the share
    taken = table[(table["lake"] == "Mere") & (table["quantity"] == "biomass_decrease")].iloc[0]
    assert taken["median"] == pytest.approx(80.0 * mere["median"])
    assert table[["alone_median", "narrower"]].isna().all(axis=None)
    assert set(table["alone_gate"]) == {"not fitted separately"}


def test_beside_the_lakes_on_their_own() -> None:
    """Half the spread leaves half the interval."""
    table = with_alone(lakes_fit(), lakes_fit(spread=0.04)).comparison()
    shares = table[table["quantity"] == "removed_share"]
    assert shares["narrower"].values == pytest.approx(0.5, abs=1e-9)
    assert (shares["alone_low"] < shares["low"]).all()
    assert set(table["alone_gate"]) == {"passed"}


def test_a_fit_alone_that_fails_is_withheld_by_itself() -> None:
    fit = with_alone(lakes_fit(), lakes_fit(divergences=2))
    table = fit.comparison()
    assert table["median"].notna().all()
    assert table[["alone_low", "alone_median", "alone_high", "narrower"]].isna().all(axis=None)
    assert set(table["alone_gate"]) == {"2 divergent transitions"}
    assert fit.comparison(despite_gate=True)["narrower"].notna().all()


def test_a_failed_gate_withholds_numbers_and_orders() -> None:
    fit = lakes_fit(divergences=1)
    assert fit.comparison()[["low", "median", "high"]].isna().all(axis=None)
    pairs = fit.lake_pairs()
    assert pairs[["probability_larger", "mc_error", "words"]].isna().all(axis=None)
    assert set(pairs["gate"][:1]) == {"Pond: 1 divergent transition; Mere: 1 divergent transition"}
    assert fit.lake_pairs(despite_gate=True)["probability_larger"].notna().all()


def test_only_pairs_with_the_lake_that_fails_are_withheld() -> None:
    stuck = independent((4, 1000), seed=2) + np.array([[0.0], [0.0], [0.0], [9.0]])
    share = np.stack([independent(seed=1), stuck, independent(seed=3)], axis=2)
    pairs = fake_fit({"removed_share": share}, lakes=LAKES).lake_pairs()
    told = pairs[pairs["gate"] == "passed"]
    assert told[["lake", "other"]].values.tolist() == [["Pond", "Broad"]]
    assert pairs["gate"].str.contains("Mere: R-hat").sum() == 2


def test_one_lake_above_another_as_for_normals() -> None:
    """Of two normals with spread 0.02 and middles 0.22 and 0.20 the first is above in 76 %."""
    fit = lakes_fit()
    pairs = fit.lake_pairs()
    assert tuple(pairs.columns) == PAIR_COLUMNS
    shares = pairs[pairs["quantity"] == "removed_share"].set_index(["lake", "other"])
    assert len(shares) == 3
    row = shares.loc[("Mere", "Broad")]
    expected = stats.norm.cdf(-0.02 / np.hypot(0.02, 0.02))
    assert row["probability_larger"] == pytest.approx(expected, abs=4 * row["mc_error"])
    assert 0.002 < row["mc_error"] < 0.02
    assert row["words"] == "unlikely"
    draws = fit.quantities["removed_share"].values
    assert row["probability_larger"] == probability_below(draws[..., 2] - draws[..., 1], 0.0)[0]
    # Never 0 or 1, however clear.
    assert 0.99 < shares.loc[("Pond", "Mere"), "probability_larger"] < 1.0


def test_the_last_netted_season_of_each_lake_speaks(folder_of: Callable[..., Path]) -> None:
    campaign = fishdown.read(
        folder_of(
            lakes=[{"lake": name, "area_ha": 5} for name in ("Pond", "Mere", "Idle")],
            pulls=[
                {"date": f"{year}-06-0{day}", "lake": lake, "net": "A", "caught": 20}
                for lake, year in (("Pond", 2023), ("Pond", 2024), ("Mere", 2022))
                for day in (1, 2)
            ],
        )
    )
    seasons = campaign.last_seasons
    labels = campaign.seasons["season"].values
    assert {lake: labels[season] for lake, season in seasons.items()} == {
        "Pond": "Pond 2024",
        "Mere": "Mere 2022",
    }


def test_what_is_compared_has_a_unit() -> None:
    assert all(quantity.unit and quantity.cf_unit for quantity in COMPARED.values())


@pytest.mark.parametrize(
    ("spread", "words"), [(0.04, "50 %"), (0.0205, "under 10 %"), (0.0125, "wider by 60 %")]
)
def test_how_much_narrower_in_words(spread: float, words: str) -> None:
    table = with_alone(lakes_fit(), lakes_fit(spread)).comparison()
    console = Console(width=80, record=True, file=io.StringIO())
    console.print(in_terminal(alone_table(table[table["quantity"] == "removed_share"])))
    printed = console.export_text()
    assert all(printed.count(word) >= 3 for word in words.split())


# --- on the command line

LAKE_FILES = {"comparison.csv", "lake_pairs.csv"}


def test_lakes_on_their_own_only_on_request(
    folder_of: Callable[..., Path],
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    stub: Callable[..., type[StubSampler]],
) -> None:
    sampler = stub(0)
    out = tmp_path / "out"
    folder = passes(folder_of, "Pond", "Mere")
    fit = ["fit", str(folder), "--out", str(out), "--model", "pooled_lakes"]
    assert main(fit) == 0
    assert len(sampler.asked) == 1
    said = capsys.readouterr().out
    assert_readable(said)
    assert "Lakes from the largest to the smallest" in said
    assert "Separate" not in said
    assert {path.name for path in out.iterdir()} == FILES | LAKE_FILES
    assert "comparison.csv, lake_pairs.csv" in joined(said)
    assert pd.read_csv(out / "comparison.csv")["alone_median"].isna().all()

    assert main([*fit, "--compare-lakes"]) == 0
    assert len(sampler.asked) == 3
    said = capsys.readouterr().out
    assert_readable(said)
    assert "Partial pooling and separate fits" in said
    table = pd.read_csv(out / "comparison.csv", dtype={"season": str})
    assert table["alone_median"].notna().all()
    again = fishdown.load(out).comparison()
    pd.testing.assert_frame_equal(again, table, check_dtype=False)


def test_one_lake_leaves_no_comparison_behind(
    folder_of: Callable[..., Path],
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    stub: Callable[..., type[StubSampler]],
) -> None:
    stub(0)
    for name in LAKE_FILES:
        (tmp_path / name).write_text("of an earlier fit", encoding="utf-8")
    assert main(["fit", str(passes(folder_of)), "--out", str(tmp_path), "--compare-lakes"]) == 0
    assert {path.name for path in tmp_path.iterdir()} >= FILES
    assert not LAKE_FILES & {path.name for path in tmp_path.iterdir()}
    assert "Lakes from the largest" not in capsys.readouterr().out


def test_a_failed_gate_orders_no_lakes(
    folder_of: Callable[..., Path],
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    stub: Callable[..., type[StubSampler]],
) -> None:
    stub(3)
    arguments = ["fit", str(passes(folder_of, "Pond", "Mere")), "--out", str(tmp_path / "out")]
    assert main([*arguments, "--model", "pooled_lakes", "--compare-lakes"]) == 3
    said = capsys.readouterr().out
    assert "Lakes from the largest" not in said
    table = said[said.index("Partial pooling and separate fits") :]
    assert "withheld" in table
    assert "%–" not in table
