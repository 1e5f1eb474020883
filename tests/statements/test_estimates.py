"""The table of estimates."""

from __future__ import annotations

import arviz_stats
import numpy as np
import pytest
from fake_fits import POND, fake_fit, independent

# the contract of estimates.csv
COLUMNS = [
    "lake",
    "season",
    "quantity",
    "unit",
    "mean",
    "sd",
    "median",
    "low",
    "high",
    "rhat",
    "ess_bulk",
    "ess_tail",
    "gate",
]


def test_every_quantity_of_every_season_and_of_all_lakes() -> None:
    abundance = independent((4, 1000, 2), seed=1, middle=900.0, spread=30.0)
    spread = independent(seed=2, middle=0.7, spread=0.05)
    fit = fake_fit(
        {"abundance_before": abundance, "net_spread": spread},
        lakes=(POND, ("Mere", 3.0, 80.0)),
    )
    estimates = fit.estimates()
    assert list(estimates.columns) == COLUMNS
    assert estimates[["lake", "season", "quantity", "unit"]].values.tolist() == [
        ["Pond", "2024", "abundance_before", "fish"],
        ["Mere", "2024", "abundance_before", "fish"],
        ["all lakes", "", "net_spread", "log standard deviation"],
    ]
    mere = estimates.iloc[1]
    draws = abundance[:, :, 1]
    assert mere["mean"] == pytest.approx(draws.mean())
    assert mere["sd"] == pytest.approx(np.sqrt(((draws - draws.mean()) ** 2).sum() / 3999))
    assert mere["median"] == pytest.approx(np.median(draws))
    ordered = np.sort(draws.ravel())
    assert ordered[199] <= mere["low"] <= ordered[200]
    assert ordered[3799] <= mere["high"] <= ordered[3800]
    assert mere["rhat"] == pytest.approx(arviz_stats.rhat(draws))
    assert mere["ess_bulk"] == pytest.approx(arviz_stats.ess(draws, method="bulk"))
    # Vehtari et al. 2021: the smaller effective sample size of the 5 % and the 95 % quantile
    tails = [arviz_stats.ess(draws, method="quantile", prob=prob) for prob in (0.05, 0.95)]
    assert mere["ess_tail"] == pytest.approx(min(tails))


def test_a_failed_gate_leaves_the_figures_that_failed_it() -> None:
    drifting = independent(middle=900.0, spread=30.0)
    drifting[0] += 60.0
    fit = fake_fit({"abundance_before": drifting})
    numbers = ["mean", "sd", "median", "low", "high"]
    withheld = fit.estimates()
    assert withheld["rhat"].item() > 1.01
    assert withheld[numbers].isna().all(axis=None)
    assert "R-hat" in withheld["gate"].item()
    told = fit.estimates(despite_gate=True)
    assert told[numbers].notna().all(axis=None)
    assert told["gate"].equals(withheld["gate"])
