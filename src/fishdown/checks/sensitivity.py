"""Data or prior: which of the two determines a reported quantity.

Measured by the share of the variance of each quantity that the priors determine (see
`fishdown.posterior.prior_share`), which also holds for a product: where only abundance times
catchability is identifiable, the prior determines both.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from fishdown.checks.codes import Found
from fishdown.checks.result import CheckResult
from fishdown.models.spec import meaning
from fishdown.posterior.at_draws import thinned
from fishdown.posterior.log_priors import log_priors, log_priors_by_season
from fishdown.posterior.prior_share import prior_share
from fishdown.posterior.quantities import quantities
from fishdown.sentences import Said

if TYPE_CHECKING:
    from fishdown.posterior.fitted import FittedCampaign
    from fishdown.typing import FloatArray

NAME = "data or prior"
# Up to the first share the data determine a quantity, from the second on the prior (our judgement,
# no source).
SOME, MOST = 0.2, 0.8
# The power that makes a prior "half as strong": a normal one is then √2 times as wide.
HALF = 0.5
FEWEST_EFFECTIVE = 50.0


def records_or_prior(fit: FittedCampaign) -> CheckResult:
    """State what determines each reported quantity, and the effect of weaker priors on the verdict.

    Parameters
    ----------
    fit : FittedCampaign

    Returns
    -------
    CheckResult
        For information. Table: lake, season, quantity, prior_share (of the quantity's variance,
        between 0 and 1), mc_error (its Monte-Carlo standard error), most (the parameter whose
        prior determines most), rests_on; and for the biomass after netting probability_below and
        probability_below_half_prior, the same with all priors half as strong (missing where
        reweighting is unreliable, and where a gate withholds the verdict).
    """
    posterior = fit.tree["posterior"].to_dataset()
    seasons = fit.campaign.seasons
    threshold = fit.campaign.lakes["threshold"].values[seasons["lake_index"].values]
    size = (posterior.sizes["chain"], posterior.sizes["draw"])
    few = thinned(posterior)
    priors = log_priors_by_season(few, fit.spec, fit.data)
    # Not the sum over seasons: those of a lake share its parameters.
    everywhere = log_priors(few, fit.spec, fit.data)
    weight = _half_prior_weights(everywhere).reshape(size)
    rows = []
    for name, array in fit.quantities.data_vars.items():
        for season in range(array.sizes.get("season", 1)):
            of_season = "season" in array.dims
            values = array.isel(season=season).values if of_season else array.values
            if not np.ptp(values) > 0.0:
                continue
            mine = {
                key: density[:, min(season, density.shape[1] - 1)] if of_season else everywhere[key]
                for key, density in priors.items()
            }
            share, error, most = _share(values, mine)
            row = {
                "lake": str(seasons["lake"].values[season]) if of_season else "",
                "season": str(seasons["label"].values[season]) if of_season else "",
                "quantity": str(name),
                "prior_share": share,
                "mc_error": error,
                "most": most,
                "rests_on": rests_on(share),
                "probability_below": np.nan,
                "probability_below_half_prior": np.nan,
            }
            if name == "biomass_after" and not fit.failure(season):
                below = values < threshold[season]
                row["probability_below"] = _probability(below, np.ones(size))
                row["probability_below_half_prior"] = _probability(below, weight)
            rows.append(row)
    table = pd.DataFrame(rows)
    return CheckResult(NAME, "for information", table, _said(table), _drawing(table))


def rests_on(share: float) -> str:
    """Return what determines a quantity, by the share of its variance due to the priors."""
    if share < SOME:
        return "data"
    return "data and prior" if share < MOST else "prior"


def _share(values: FloatArray, priors: dict[str, FloatArray]) -> tuple[float, float, str]:
    """Return the share of a quantity due to priors, its error, and the largest contributor."""
    moved = np.log(values) if values.min() > 0.0 else values
    by_parameter = {
        name: prior_share(moved, density.reshape(values.shape))[0]
        for name, density in priors.items()
        if np.ptp(density) > 0.0
    }
    total = np.sum(list(priors.values()), axis=0).reshape(values.shape)
    return *prior_share(moved, total), max(by_parameter, key=lambda name: by_parameter[name])


def _half_prior_weights(priors: dict[str, FloatArray]) -> FloatArray:
    log_weight = (HALF - 1.0) * sum(priors.values())
    weight: FloatArray = np.exp(log_weight - np.max(log_weight))
    return weight


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
        return Said(Found.KNOWN_EXACTLY)
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
    return Said(Found.SHARE_OF_PRIOR, values)


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
