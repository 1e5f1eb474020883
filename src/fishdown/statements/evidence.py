"""Abundance from mark–recapture only, depletion only and both jointly."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from fishdown.errors import FitError
from fishdown.posterior.disagreement import KINDS, POINTS

if TYPE_CHECKING:
    import xarray as xr

    from fishdown.campaign import Campaign
    from fishdown.posterior.fitted import FittedCampaign


def evidence(fit: FittedCampaign, *, despite_gate: bool = False) -> pd.DataFrame:
    """Tabulate abundance by source of evidence, season by season, and their consistency.

    Parameters
    ----------
    fit : FittedCampaign
        In which mark–recapture and depletion were compared.
    despite_gate : bool
        Fill in what a failed gate would withhold; the tail probability is given in any case.

    Returns
    -------
    pandas.DataFrame
        lake, season, evidence, low, median, high (fish before netting, 90 % interval),
        tail_probability (two-sided, of the difference), gate (passed, or why numbers are
        missing).

    Raises
    ------
    FitError
        If they were not compared in this fit.
    """
    if "evidence" not in fit.tree.children:
        raise FitError("mark–recapture and depletion were not compared in this fit")
    found = evidence_frame(fit.campaign, fit.tree["evidence"].dataset)
    gates = [fit.failure(season) or "passed" for season in range(fit.season_count)]
    # Every season has as many rows: one per source of evidence.
    found["gate"] = np.repeat(gates, len(found) // max(len(gates), 1))
    if not despite_gate:
        found.loc[found["gate"] != "passed", list(POINTS)] = np.nan
    return found


def evidence_frame(campaign: Campaign, evidence: xr.Dataset) -> pd.DataFrame:
    """Tabulate the comparison: one row for each season and source of evidence."""
    rows = []
    for season in range(evidence.sizes["season"]):
        for kind in KINDS:
            points = evidence["abundance"].isel(season=season).sel(evidence=kind).values
            rows.append(
                {
                    **campaign.place(season),
                    "evidence": kind,
                    **dict(zip(POINTS, points, strict=True)),
                    "tail_probability": float(evidence["tail_probability"].values[season]),
                }
            )
    return pd.DataFrame(rows)
