"""Bycatch by species: what was counted, how much of it a pull brings, and how much was dead.

The mean catch a pull has the interval of a gamma distribution with Jeffreys' prior, widened by the
dispersion of the counts from pull to pull: (total + ½)/φ pulls' worth of evidence, where φ is the
variance over the mean of the counts and at least 1 (quasi-likelihood, McCullagh & Nelder 1989,
Generalized Linear Models, 2nd ed., ch. 9; joining the two is our judgement).

Crews mostly write only deaths. If any row of a season has an entry of the dead, an empty one counts
as none dead, whatever its species (common practice, no source), and the table says how many were
empty; if no row has one, deaths are unknown. The dead share of all fish counted has Jeffreys'
interval (Brown, Cai & DasGupta 2001, Statistical Science 16:101–133), which takes fish to die
independently of one another.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
from scipy import stats

from fishdown.intervals import POINTS
from fishdown.records.tables import rows_of

if TYPE_CHECKING:
    from fishdown.campaign import Campaign
    from fishdown.typing import FloatArray

COLUMNS = (
    "lake", "season", "species", "count", "pulls", "per_pull_low", "per_pull_median",
    "per_pull_high", "dead", "dead_empty", "dead_share_low", "dead_share_median", "dead_share_high"
)  # fmt: skip


def bycatch(campaign: Campaign) -> pd.DataFrame:
    """Tabulate the bycatch of each season by species, the most numerous first.

    Parameters
    ----------
    campaign : Campaign

    Returns
    -------
    pandas.DataFrame
        Columns `COLUMNS`: fish counted, pulls of the season, mean fish a pull with its 90 %
        interval, fish dead, rows whose entry of the dead is empty and counts as none, and the dead
        share of the fish counted with its 90 % interval (all missing where the season has no entry
        of the dead at all).
    """
    rows: list[dict[str, Any]] = []
    if "species" not in campaign.bycatch or not campaign.bycatch.sizes.get("bycatch"):
        return pd.DataFrame(rows, columns=list(COLUMNS))
    entries = campaign.bycatch.to_dataframe()
    pulls = np.bincount(
        campaign.pulls["season_index"].values, minlength=campaign.seasons.sizes["season"]
    )
    in_season = entries.groupby("season_index")["dead"]
    entries["dead_noted"] = in_season.transform(lambda entries: entries.notna().any())
    for (season, species), mine in entries[entries["season_index"] >= 0].groupby(
        ["season_index", "species"]
    ):
        place = int(season)  # type: ignore[call-overload]
        caught = mine.groupby(["date", "net"])["count"].sum().to_numpy(dtype=float)
        noted = bool(mine["dead_noted"].iloc[0])
        dead, seen = float(mine["dead"].sum()), float(mine["count"].sum())
        per_pull = mean_per_pull(caught, int(pulls[place]))
        share = (
            stats.beta.ppf(POINTS, dead + 0.5, seen - dead + 0.5)
            if noted and seen
            else [np.nan] * 3
        )
        rows.append(
            {
                "lake": str(campaign.seasons["lake"].values[place]),
                "season": str(campaign.seasons["label"].values[place]),
                "species": str(species),
                "count": seen,
                "pulls": int(pulls[place]),
                **dict(zip(COLUMNS[5:8], per_pull, strict=True)),
                "dead": dead if noted else np.nan,
                "dead_empty": float(mine["dead"].isna().sum()) if noted else np.nan,
                **dict(zip(COLUMNS[10:13], share, strict=True)),
                "place": place,
            }
        )
    table = pd.DataFrame(rows, columns=[*COLUMNS, "place"])
    table = table.sort_values(["place", "count", "species"], ascending=[True, False, True])
    return table[list(COLUMNS)].reset_index(drop=True)


def mean_per_pull(caught: FloatArray, pulls: int) -> FloatArray:
    """Return low, median and high of the mean count a pull.

    Parameters
    ----------
    caught : ndarray
        Counts of the pulls in which the species was noted; all others had none of it.
    pulls : int
        Pulls in all.
    """
    pulls = max(pulls, len(caught))
    counts = np.zeros(pulls)
    counts[: len(caught)] = caught
    total = float(counts.sum())
    dispersion = 1.0
    if pulls > 1 and total > 0:
        dispersion = max(1.0, float(counts.var(ddof=1) / counts.mean()))
    points: FloatArray = stats.gamma.ppf(
        POINTS, (total + 0.5) / dispersion, scale=dispersion / pulls
    )
    return points


def species_of(table: pd.DataFrame) -> list[str]:
    """Return the species of a table of bycatch, the most numerous over all seasons first."""
    totals = {row.species: 0.0 for row in rows_of(table)}
    for row in rows_of(table):
        totals[row.species] += row.count
    return sorted(totals, key=lambda species: (-totals[species], species))
