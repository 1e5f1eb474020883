"""What is said of quantities that marks and catches identify only together."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import xarray as xr
from fake_fits import fake_fit, independent
from scipy import stats

import fishdown
from fishdown.models.priors import Prior
from fishdown.statements.cautions import of_the_elusive

START = "Proportion of the fish vulnerable to the gear: the priors determine "


def said(a: float, b: float, share: float) -> str:
    draws = stats.beta(a, b).rvs((4, 5_000), random_state=3)
    made = fake_fit({"abundance_before": 500.0 + independent((4, 5_000))})
    quantities = made.quantities.assign(vulnerable=(("chain", "draw"), draws))
    tree = made.tree.copy()
    tree["quantities"] = xr.DataTree(quantities)
    spec = fishdown.read_model("hidden_fish")
    spec = replace(spec, priors={**spec.priors, "vulnerable": Prior("beta", (8.0, 2.0))})
    fit = replace(made, spec=spec, tree=tree)
    rows = {
        "quantity": ["abundance_before", "vulnerable"],
        "prior_share": [np.nan, share],
        "mc_error": [np.nan, 0.08],
    }
    object.__setattr__(fit, "_prior_shares", pd.DataFrame(rows))
    (statement,) = of_the_elusive(fit)
    return statement


def test_statement_on_the_proportion_vulnerable() -> None:
    assert said(10.7, 2.8, 0.65) == START + (
        "about two thirds of the uncertainty (65 ± 8 %); the comparison of mark–recapture with "
        "depletion determines the rest."
    )
    assert said(8.0, 2.0, 0.99) == START + (
        "nearly all of the uncertainty (99 ± 8 %); mark–recapture and depletion hold next to no "
        "information on it."
    )
    assert said(30.0, 70.0, 0.2).endswith(
        "(20 ± 8 %), yet the posterior median lies outside the prior's 90 % interval."
    )
