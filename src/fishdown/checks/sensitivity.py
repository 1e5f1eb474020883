"""Data or prior: which of the two determines a quantity, and a verdict with weaker priors."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from fishdown.checks.result import CheckResult
from fishdown.models.spec import meaning
from fishdown.posterior.at_draws import thinned
from fishdown.posterior.codes import FromPrior
from fishdown.posterior.log_priors import log_priors
from fishdown.posterior.prior_share import MOST, SOME
from fishdown.posterior.quantities import quantities
from fishdown.sentences import Said

if TYPE_CHECKING:
    from fishdown.posterior.fitted import FittedCampaign
    from fishdown.typing import FloatArray

NAME = "data or prior"
# The power that makes a prior "half as strong": a normal one is then √2 times as wide.
HALF = 0.5
FEWEST_EFFECTIVE = 50.0


def records_or_prior(fit: FittedCampaign) -> CheckResult:
    """State what determines each reported quantity, and the effect of weaker priors on the verdict.

    Returns
    -------
    CheckResult
        For information. Table: that of `fishdown.posterior.prior_share.prior_shares`, and for the
        biomass after netting probability_below and probability_below_half_prior, the same with all
        priors half as strong (missing where reweighting is unreliable, and where a gate withholds
        the verdict).
    """
    few = thinned(fit.tree["posterior"].to_dataset())
    weight = _half_prior_weights(log_priors(few, fit.spec, fit.data))
    seasons = fit.campaign.seasons
    threshold = fit.campaign.lakes["threshold"].values[seasons["lake_index"].values]
    keys = zip(seasons["lake"].values, seasons["label"].values, strict=True)
    place = {key: season for season, key in enumerate(keys)}
    table = fit.prior_shares().assign(probability_below=np.nan, probability_below_half_prior=np.nan)
    for row in table[table["quantity"] == "biomass_after"].itertuples():
        season = place[row.lake, row.season]
        if not fit.failure(season):
            left = fit.quantities["biomass_after"].isel(season=season).values
            below = left.ravel() < threshold[season]
            table.loc[row.Index, "probability_below"] = _probability(below, np.ones(weight.shape))
            table.loc[row.Index, "probability_below_half_prior"] = _probability(below, weight)
    return CheckResult(NAME, "for information", table, _said(table), _drawing(table))


def _half_prior_weights(priors: dict[str, FloatArray]) -> FloatArray:
    log_weight = (HALF - 1.0) * sum(priors.values())
    return np.exp(log_weight - np.max(log_weight))


def _probability(below: Any, weight: FloatArray) -> float:
    effective = weight.sum() ** 2 / (weight**2).sum()
    if effective < FEWEST_EFFECTIVE:
        return float("nan")
    # Shrunk by half a draw, as in the verdict.
    share = float((below * weight).sum() / weight.sum())
    return float((share * effective + 0.5) / (effective + 1.0))


def _said(table: pd.DataFrame) -> Said:
    verdict = "biomass_after" if "biomass_after" in set(table["quantity"]) else "abundance_after"
    mine = table[table["quantity"] == verdict]
    if mine.empty:
        return Said(FromPrior.KNOWN_EXACTLY)
    worst = mine.iloc[int(mine["prior_share"].to_numpy().argmax())]
    values = {name: worst[name] for name in ("prior_share", "mc_error", "lake", "season")}
    values["quantity"] = quantities()[verdict].meaning
    values["most"] = None if worst["rests_on"] == "data" else meaning(str(worst["most"]))
    mine = mine.dropna(subset=["probability_below_half_prior"])
    if len(mine):
        moved = (mine["probability_below_half_prior"] - mine["probability_below"]).abs()
        row = mine.iloc[int(moved.to_numpy().argmax())]
        values["halved"] = True
        values["before"] = row["probability_below"]
        values["after"] = row["probability_below_half_prior"]
        values["season_halved"] = None if len(mine) == 1 else f"{row['lake']} {row['season']}"
    return Said(FromPrior.SHARE, values)


def _drawing(table: pd.DataFrame) -> Any:
    def draw(axes: Any) -> None:
        names = table["quantity"].drop_duplicates().to_list()[::-1]
        place = table["quantity"].map({name: place for place, name in enumerate(names)})
        axes.errorbar(
            table["prior_share"], place, xerr=table["mc_error"], fmt="o", color="black",
            markersize=3, elinewidth=0.8, label="a season, ± Monte-Carlo error",
        )  # fmt: skip
        for share in (SOME, MOST):
            axes.axvline(share, linewidth=0.8)
        axes.set_yticks(range(len(names)), [name.replace("_", " ") for name in names])
        axes.tick_params(axis="y", labelsize=6)
        axes.set(xlabel="share determined by the prior", xlim=(-0.05, 1.05))
        axes.legend(loc="lower center", bbox_to_anchor=(0.5, 1.08), frameon=False, fontsize=7)

    return draw
