"""Effort and catch, season by season."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from fishdown.intervals import low_median_high
from fishdown.statements.probability import says

if TYPE_CHECKING:
    from fishdown.posterior.fitted import FittedCampaign

COLUMNS = (
    "lake", "season", "first_day", "last_day", "days", "nets", "pulls", "spoiled", "marked",
    "recaptured", "caught", "removed", "removed_low_kg", "removed_median_kg", "removed_high_kg",
    "effort_h", "caught_per_h"
)  # fmt: skip


def effort(fit: FittedCampaign, *, despite_gate: bool = False) -> pd.DataFrame:
    """Tabulate effort and catch.

    Parameters
    ----------
    fit : FittedCampaign
    despite_gate : bool
        Fill in what a failed gate would withhold.

    Returns
    -------
    pandas.DataFrame
        Columns `COLUMNS`, one row for each season with pulls: days with a pull, different nets,
        pulls and how many of them were void, fish marked and released, recaptures (missing where
        no catch was examined for marks), fish caught and removed as counted, and the kg removed:
        fish times their mean weight, with its 90 % interval (missing without weights); the hours
        that the valid pulls fished, and what these caught per hour (missing unless each has its
        hours).
    """
    rows = []
    for season in np.unique(fit.campaign.pulls["season_index"].values).tolist():
        stay = fit.campaign.seasons.isel(season=season)
        pulls = fit.campaign.season_pulls(season)
        valid = pulls.isel(pull=np.flatnonzero(~pulls["spoiled"].values))
        # One that is missing makes all of them so.
        hours = float(valid["effort_h"].sum(skipna=False)) if valid.sizes["pull"] else np.nan
        removed = float(pulls["removed"].sum())
        recaptured = pulls["recaptured"].values
        kg = np.full(3, np.nan)
        if says(fit, "mean_weight_removed", season) and (despite_gate or not fit.failure(season)):
            weight = fit.quantities["mean_weight_removed"].isel(season=season).values
            kg = removed * low_median_high(weight)
        values = (
            str(stay["lake"].values),
            str(stay["label"].values),
            str(stay["first_day"].values.astype("datetime64[D]")),
            str(stay["last_day"].values.astype("datetime64[D]")),
            len(np.unique(pulls["date"].values.astype("datetime64[D]"))),
            len(np.unique(pulls["net"].values)),
            pulls.sizes["pull"],
            int(pulls["spoiled"].values.sum()),
            float(stay["marked"]),
            np.nan if np.isnan(recaptured).all() else float(np.nansum(recaptured)),
            float(pulls["caught"].sum()),
            removed,
            *kg,
            hours,
            float(valid["caught"].sum()) / hours,
        )
        rows.append(dict(zip(COLUMNS, values, strict=True)))
    return pd.DataFrame(rows, columns=list(COLUMNS))
