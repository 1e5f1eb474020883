"""Records or prior: which of the two a reported quantity rests on.

Each is made a little stronger and weaker by a power of its density, and the shift of the posterior
is read off the draws by importance weights [1]_. A quantity that the prior moves by more than 0.05
of that measure rests on it in part; one that the records move by less rests on it altogether.

References
----------
.. [1] Kallioinen, Paananen, Bürkner & Vehtari 2024. Detecting and diagnosing prior and likelihood
   sensitivity with power-scaling. Statistics and Computing 34:57. doi:10.1007/s11222-023-10366-5
"""

from __future__ import annotations

import warnings
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
import xarray as xr

from fishdown.checks.result import CheckResult
from fishdown.models.data import model_data
from fishdown.posterior.at_draws import log_likelihood, thinned
from fishdown.posterior.log_priors import log_priors
from fishdown.posterior.quantities import QUANTITIES
from fishdown.statements.words import percent

if TYPE_CHECKING:
    from fishdown.posterior.fit import Fit
    from fishdown.typing import FloatArray

NAME = "records or prior"
DRAWS = 1_000
# Of Kallioinen et al. 2024.
MATTERS = 0.05
# The power that makes a prior "half as strong": a normal one is then √2 times as wide.
HALF = 0.5
FEWEST_EFFECTIVE = 50.0


@dataclass(frozen=True)
class _Shifts:
    """How far each quantity moves: all priors together, each by itself, and the records."""

    prior: xr.Dataset
    each: dict[str, xr.Dataset]
    records: xr.Dataset


def records_or_prior(fit: Fit) -> CheckResult:
    """Tell what each reported quantity rests on, and what a weaker prior would make of the verdict.

    Parameters
    ----------
    fit : Fit

    Returns
    -------
    CheckResult
        For information. Table: lake, season, quantity, prior and records (sensitivities, no unit),
        most (the parameter whose prior matters most), rests_on; and for the biomass after netting
        probability_below and probability_below_half_prior, the same with all priors half as strong
        (missing where the draws do not reach that far, and where a gate withholds the verdict).
    """
    posterior = fit.tree["posterior"].to_dataset()
    few = thinned(posterior, DRAWS)
    seasons = fit.campaign.seasons
    lake = seasons["lake_index"].values
    data = model_data(fit.campaign, fit.spec)
    priors = log_priors(few, fit.spec, data)
    records = log_likelihood(few, fit.campaign, fit.spec, data)
    quantities = thinned(fit.quantities, DRAWS)
    shifts = _shifts(quantities, priors, records)
    threshold = fit.campaign.lakes["threshold"].values[lake]
    # By all draws, as the verdict.
    every = fit.quantities.stack(sample=("chain", "draw"), create_index=False)
    count = every.sizes["sample"]
    weight = _half_prior_weights(log_priors(thinned(posterior, count), fit.spec, data))
    rows = []
    for name, array in quantities.data_vars.items():
        for season in range(array.sizes.get("season", 1)):
            place = {"season": season} if "season" in array.dims else {}
            if not np.ptp(array.isel(place).values) > 0.0:
                continue
            prior, told = (
                float(shift[name].isel(place)) for shift in (shifts.prior, shifts.records)
            )
            most = max(shifts.each, key=lambda key: float(shifts.each[key][name].isel(place)))
            row = {
                "lake": str(seasons["lake"].values[season]) if place else "",
                "season": str(seasons["label"].values[season]) if place else "",
                "quantity": str(name),
                "prior": prior,
                "records": told,
                "most": most,
                "rests_on": rests_on(prior, told),
                "probability_below": np.nan,
                "probability_below_half_prior": np.nan,
            }
            if name == "biomass_after" and not fit.failure(season):
                below = every[name].isel(place).values < threshold[season]
                row["probability_below"] = _probability(below, np.ones(len(below)))
                row["probability_below_half_prior"] = _probability(below, weight)
            rows.append(row)
    table = pd.DataFrame(rows)
    return CheckResult(NAME, "for information", table, _sentence(table), _drawing(table))


def rests_on(prior: float, records: float) -> str:
    """Say what a quantity rests on, by the two sensitivities."""
    if prior < MATTERS:
        return "records"
    return "records and prior" if records >= MATTERS else "prior"


def _shifts(quantities: xr.Dataset, priors: dict[str, FloatArray], records: FloatArray) -> _Shifts:
    import arviz_stats

    # A flat prior moves nothing, and its equal weights cannot be smoothed.
    curved = {name: values for name, values in priors.items() if np.ptp(values) > 1e-9}
    tree = xr.DataTree.from_dict(
        {
            "posterior": quantities.rename_dims(sample="draw").expand_dims("chain"),
            "log_prior": _one_chain(curved),
            "log_likelihood": _one_chain({"records": records}),
        }
    )
    with warnings.catch_warnings():
        # Few draws in a tail, or a quantity that is the same in all of them.
        warnings.simplefilter("ignore")
        each = {
            name: arviz_stats.psense(tree, group="prior", group_var_names=[name]) for name in curved
        }
        return _Shifts(
            prior=arviz_stats.psense(tree, group="prior"),
            each=each,
            records=arviz_stats.psense(tree, group="likelihood"),
        )


def _one_chain(values: dict[str, FloatArray]) -> xr.Dataset:
    return xr.Dataset({name: (("chain", "draw"), array[None]) for name, array in values.items()})


def _half_prior_weights(priors: dict[str, FloatArray]) -> FloatArray:
    log_weight = (HALF - 1.0) * sum(priors.values())
    weight: FloatArray = np.exp(log_weight - np.max(log_weight))
    return weight


def _probability(below: Any, weight: FloatArray) -> float:
    effective = weight.sum() ** 2 / (weight**2).sum()
    if effective < FEWEST_EFFECTIVE:
        return float("nan")
    # Half a draw towards the middle, as in the verdict.
    share = float((below * weight).sum() / weight.sum())
    return float((share * effective + 0.5) / (effective + 1.0))


def _sentence(table: pd.DataFrame) -> str:
    verdict = "biomass_after" if "biomass_after" in set(table["quantity"]) else "abundance_after"
    mine = table[table["quantity"] == verdict]
    what = QUANTITIES[verdict].meaning
    worst = mine.iloc[int(mine["prior"].to_numpy().argmax())]
    moves = f"(moved {worst['prior']:.2f} by the prior, {worst['records']:.2f} by the records)"
    if worst["prior"] < MATTERS:
        said = f"the {what} rests on the records {moves}"
    else:
        said = (
            f"the {what} of {worst['lake']} {worst['season']} rests on {worst['rests_on']} "
            f"{moves}, the prior of {worst['most']} most of all"
        )
    mine = mine.dropna(subset=["probability_below_half_prior"])
    if len(mine):
        moved = (mine["probability_below_half_prior"] - mine["probability_below"]).abs()
        row = mine.iloc[int(moved.to_numpy().argmax())]
        before, after = row["probability_below"], row["probability_below_half_prior"]
        where = "" if len(mine) == 1 else f" for {row['lake']} {row['season']}"
        said += (
            f"; with all priors half as strong P(below){where} is {percent(after)} "
            f"instead of {percent(before)}"
        )
    return said


def _drawing(table: pd.DataFrame) -> Any:
    def draw(axes: Any) -> None:
        axes.scatter(table["records"], table["prior"], color="black", s=14, label="a quantity")
        axes.axhline(MATTERS, linewidth=0.8, label="from here on it matters")
        axes.axvline(MATTERS, linewidth=0.8)
        for _, row in table[table["prior"] >= MATTERS].iterrows():
            axes.annotate(f"{row['quantity']} {row['lake']}", (row["records"], row["prior"]))
        axes.set(xlabel="moved by the records", ylabel="moved by the prior")
        axes.set(xlim=(0.0, None), ylim=(0.0, 1.4 * axes.get_ylim()[1]))
        axes.legend(loc="upper right")

    return draw
