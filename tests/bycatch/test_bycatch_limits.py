"""Bycatch against limits: what was counted, and probabilities against exact ones."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from scipy import stats

import fishdown
from fishdown.bycatch_rates.estimates import estimate_bycatch
from fishdown.bycatch_rates.rates import DRAWS
from fishdown.statements.bycatch_limits import PullsToCome, against_limits
from fishdown.statements.bycatch_words import bycatch_sentences

# Roach of a net a night in two lakes, and how many of them were dead.
ROACH = {"Alder": [0, 3, 1, 0, 7, 0, 2, 1, 0, 4], "Birch": [1, 0, 0, 2, 0, 0, 1, 0]}


def written(
    folder_of: Callable[..., Path],
    limits: list[tuple[Any, ...]],
    *,
    dead: bool = True,
    years: dict[str, int] | None = None,
    **more: list[Any],
) -> Path:
    """Write campaigns of the two lakes; limits as (species, lake, season, limit, fish)."""
    pulls, bycatch = [], []
    for lake, counts in ROACH.items():
        for night, count in enumerate(counts):
            day = f"{(years or {}).get(lake, 2024)}-06-{night + 1:02}"
            at = {"date": day, "lake": lake, "net": "N1"}
            pull = {name: values[night] for name, values in more.items()}
            pulls.append({**at, "caught": 20, **pull})
            if count:
                row = {**at, "species": "roach", "count": count}
                bycatch.append({**row, "dead": int(count > 3)} if dead else row)
    columns = ("species", "lake", "season", "limit", "fish")
    return folder_of(
        lakes=[{"lake": lake, "area_ha": 20} for lake in ROACH],
        pulls=pulls,
        bycatch=bycatch,
        bycatch_limits=[dict(zip(columns, limit, strict=True)) for limit in limits],
    )


def compared(folder: Path, pulls: int = 0, month: int | None = None) -> pd.DataFrame:
    return against_limits(estimate_bycatch(fishdown.read(folder)), PullsToCome(pulls, month))


def test_what_was_counted(folder_of: Callable[..., Path]) -> None:
    table = compared(
        written(
            folder_of,
            [
                ("roach", "all", "", 22, "all"),
                ("roach", "Alder", "2024", 17, "all"),
                ("roach", "all", "", 3, "dead"),
                ("all", "Birch", "", 4, "all"),
                ("tench", "all", "", 5, "all"),
            ],
        )
    )
    assert table["counted"].tolist() == [22, 18, 2, 4, 0]
    assert table["state"].tolist() == ["kept", "exceeded", "kept", "kept", "kept"]
    assert table["lake"].tolist() == ["all lakes", "Alder", "all lakes", "Birch", "all lakes"]
    assert (table["season"] == "2024").all()
    assert table[["probability_above", "total_low", "mc_error"]].isna().all(axis=None)
    assert (table["pulls_to_come"] == 0).all()


@pytest.mark.parametrize("limit", [22, 30, 45, 90, 400])
def test_probabilities_are_those_of_negative_binomial_counts(
    folder_of: Callable[..., Path], limit: int
) -> None:
    """Against SciPy's tail, averaged over the rates of the same posterior."""
    folder = written(folder_of, [("roach", "Alder", "", limit, "all")])
    found = estimate_bycatch(fishdown.read(folder))
    row = against_limits(found, PullsToCome(15)).iloc[0]
    rates = found.rates["roach"]
    mean, k = rates.by_season()[:, 0], rates.clumping
    exact = stats.nbinom.sf(limit - 18, 15 * k, k / (k + mean)).mean()
    assert row["probability_above"] == pytest.approx(exact, abs=max(4 * row["mc_error"], 0.002))
    assert 0.0 < row["probability_above"] < 1.0
    assert row["mc_error"] > 0.0


def test_dead_fish_are_counted_pull_by_pull(folder_of: Callable[..., Path]) -> None:
    folder = written(folder_of, [("roach", "Alder", "", 6, "dead"), ("roach", "all", "", 9, "all")])
    found = estimate_bycatch(fishdown.read(folder))
    row = against_limits(found, PullsToCome(15)).iloc[0]
    rng = np.random.default_rng(1)
    share, correlation = found.deaths["roach"].draws(0, DRAWS, rng)
    rates = found.rates["roach"]
    k, mean = rates.clumping, rates.by_season()[:, 0]
    size = 1 / correlation - 1
    caught = rng.negative_binomial(k[:, None], (k / (k + mean))[:, None], size=(DRAWS, 15))
    dead = stats.betabinom.rvs(
        caught, (share * size)[:, None], ((1 - share) * size)[:, None], random_state=rng
    )
    total = 2 + dead.sum(axis=1)
    error = row["mc_error"] + 0.01
    assert row["probability_above"] == pytest.approx((total > 6).mean(), abs=4 * error)
    assert row["total_median"] == pytest.approx(np.median(total), abs=1)


def test_all_species_and_all_lakes_are_sums(folder_of: Callable[..., Path]) -> None:
    limits = [("all", "all", "", 40, "all"), ("roach", "all", "", 40, "all")]
    limits += [("roach", lake, "", 40, "all") for lake in ROACH]
    table = compared(written(folder_of, limits), 10)
    assert table["pulls_to_come"].tolist() == [20, 20, 10, 10]
    # One species is all species.
    assert table.iloc[0, 4:].tolist() == table.iloc[1, 4:].tolist()
    more = table["total_median"] - table["counted"]
    assert more[1] == pytest.approx(more[2] + more[3], abs=4)


def test_only_lakes_of_that_season_go_on(folder_of: Callable[..., Path]) -> None:
    limits = [("roach", "all", "", 50, "all"), ("roach", "all", "2023", 50, "all")]
    limits += [("roach", "Alder", "", 50, "all"), ("roach", "Birch", "2022", 5, "all")]
    table = compared(written(folder_of, limits, years={"Alder": 2023}), 10)
    assert table["season"].tolist() == ["2024", "2023", "2023", "2022"]
    assert table["counted"].tolist()[:3] == [4, 18, 18]
    assert table["pulls_to_come"].tolist() == [10, 10, 10, 0]
    assert table["state"].tolist()[3] == "not recorded"


def test_without_deaths_on_record(folder_of: Callable[..., Path]) -> None:
    limits = [("roach", "all", "", 3, "dead"), ("roach", "all", "", 300, "all")]
    table = compared(written(folder_of, limits, dead=False), 10)
    assert table["state"].tolist() == ["not recorded", "kept"]
    assert np.isnan(table["counted"].iloc[0])
    assert table["probability_above"].notna().tolist() == [False, True]


def test_pulls_whose_bycatch_was_not_counted(folder_of: Callable[..., Path]) -> None:
    counted = ["", "", "", "", "", "no", "", "", "no", ""]
    folder = written(folder_of, [("roach", "Alder", "", 99, "all")], bycatch_counted=counted)
    found = estimate_bycatch(fishdown.read(folder))
    table = against_limits(found)
    assert table["pulls_not_counted"].tolist() == [2]
    (sentence, *others) = bycatch_sentences(
        pd.DataFrame({"count": [1.0], "pulls": [1.0]}), table, 16
    )
    assert sentence == (
        "roach, Alder 2024: 18 fish counted (bycatch of 2 pulls not counted); the limit is 99 fish."
    )
    assert others == [
        "Where the bycatch of pulls was not counted, the fish counted are fewer than those caught."
    ]


def test_a_month_without_a_pull_is_less_certain(folder_of: Callable[..., Path]) -> None:
    folder = written(folder_of, [("roach", "all", "", 60, "all")])
    known, other = (compared(folder, 20, month).iloc[0] for month in (6, 10))
    assert known["total_high"] < other["total_high"]


def test_counted_and_none_found(folder_of: Callable[..., Path]) -> None:
    folder = written(folder_of, [("pike", "all", "", 1, "all")], bycatch_counted=["yes"] * 10)
    (folder / "bycatch.csv").unlink()
    found = fishdown.bycatch(folder, pulls=10)
    assert found.pulls == 18
    # 1 − 0.05^(1/18), near 3/18.
    assert found.sentences()[0] == (
        "No bycatch in 18 counted pulls: the upper 95 % bound is 15.3 % of pulls with any."
    )
    (row,) = found.limits.itertuples()
    assert row.state == "kept"
    assert 0.0 < row.probability_above < 0.2


def test_rows_of_none_are_a_species_never_counted(folder_of: Callable[..., Path]) -> None:
    folder = written(folder_of, [("pike", "all", "", 1, "all")])
    file = pd.read_csv(folder / "bycatch.csv")
    none = file.head(1).assign(species="pike", count=0, dead=0)
    pd.concat([file, none]).to_csv(folder / "bycatch.csv", index=False)
    table = fishdown.bycatch(folder).frame
    pike = table[table["species"] == "pike"]
    assert pike["lake"].tolist() == ["all lakes"]
    assert pike["per_pull_median"].isna().all()
    assert pike["per_pull_high"].notna().all()


def test_nothing_recorded_at_all(folder_of: Callable[..., Path]) -> None:
    folder = written(folder_of, [("roach", "all", "", 60, "all")])
    (folder / "bycatch.csv").unlink()
    table = compared(folder, 10)
    assert table["state"].tolist() == ["not recorded"]
    found = fishdown.bycatch(folder, pulls=10)
    assert len(found.frame) == len(found.effects) == 0
    assert found.sentences() == [
        "No bycatch is on record. Either there was none, or it was not recorded.",
        "roach, all lakes 2024: the limit is 60 fish; the bycatch of the season was not recorded.",
    ]
