"""Every reported quantity of every season, with its interval and convergence, as a table."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd

from fishdown.intervals import named_points
from fishdown.labels import ALL_LAKES
from fishdown.posterior.quantities import quantities
from fishdown.statements.probability import says

if TYPE_CHECKING:
    from fishdown.posterior.fitted import FittedCampaign

COLUMNS = (
    "lake", "season", "quantity", "unit", "mean", "sd", "median", "low", "high", "rhat", "ess_bulk",
    "ess_tail", "gate"
)  # fmt: skip


def estimates(fit: FittedCampaign, *, despite_gate: bool = False) -> pd.DataFrame:
    """Tabulate the reported quantities.

    Parameters
    ----------
    fit : FittedCampaign
    despite_gate : bool
        Fill in what a failed gate would withhold.

    Returns
    -------
    pandas.DataFrame
        Columns `COLUMNS`; low and high enclose the equal-tailed 90 % interval. A quantity common
        to all lakes has ``all lakes`` for lake and an empty season; a quantity that cannot be
        estimated has no row. ``gate`` is ``passed``, or why the numbers are withheld; convergence
        (rhat, ess_bulk, ess_tail) is given in any case. A quantity common to all lakes is withheld
        where any season is.
    """
    seasons = fit.campaign.seasons
    rows = []
    known = quantities()
    for season in [*range(seasons.sizes["season"]), None]:
        gate = _gate(fit, season)
        for name, array in fit.quantities.data_vars.items():
            if ("season" in array.dims) != (season is not None):
                continue
            if season is not None and not says(fit, str(name), season):
                continue
            where = {"season": season} if season is not None else {}
            draws, told = array.isel(where).values, {}
            if gate == "passed" or despite_gate:
                told = {"mean": draws.mean(), "sd": draws.std(ddof=1), **named_points("{}", draws)}
            rows.append(
                {
                    "lake": ALL_LAKES if season is None else str(seasons["lake"].values[season]),
                    "season": "" if season is None else str(seasons["label"].values[season]),
                    "quantity": name,
                    "unit": known[str(name)].unit,
                    **told,
                    "rhat": float(fit.quality.rhat[name].isel(where)),
                    "ess_bulk": float(fit.quality.ess_bulk[name].isel(where)),
                    "ess_tail": float(fit.quality.ess_tail[name].isel(where)),
                    "gate": gate,
                }
            )
    return pd.DataFrame(rows, columns=list(COLUMNS))


def _gate(fit: FittedCampaign, season: int | None) -> str:
    if season is not None:
        return fit.failure(season) or "passed"
    names = fit.campaign.seasons["season"].values
    failed = [str(name) for place, name in enumerate(names) if fit.failure(place)]
    return f"a gate failed for {', '.join(failed)}" if failed else "passed"
