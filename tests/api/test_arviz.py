"""ArviZ on the tree of a fit, with no adapter; one small fit serves all of these tests."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import arviz as az
import numpy as np
import pytest
import xarray as xr
from textbook import EVERY_MARK

import fishdown
from fishdown import Fit
from fishdown.models.data import model_data
from fishdown.models.graph import build
from fishdown.posterior.at_draws import likelihood_of, thinned
from fishdown.posterior.sampling import SamplerSettings
from fishdown.worlds import LakeTruth, World, simulate

DRAWS = 500


@pytest.fixture(scope="module")
def fit() -> Fit:
    world = World((LakeTruth("Alder", 20.0, 1_500),), nets=2, rounds=8)
    campaign, _ = simulate(world, np.random.default_rng(1))
    # Without weights the log-likelihood of all records is that of the pulls.
    spec = fishdown.read_model("one_lake").with_parts(
        **EVERY_MARK, weights="none", nights="alike", drift="none"
    )
    settings = SamplerSettings(draws=DRAWS, tune=600, cores=1, seed=31)
    return fishdown.fit(campaign, spec, settings=settings, compare_evidence=False)


def test_log_likelihood_is_the_graphs(fit: Fit) -> None:
    found = fit.tree["log_likelihood"]["catch_and_recaptures"].sum("pull").values.ravel()
    posterior = fit.tree["posterior"].to_dataset()
    graph = build(fit.spec, model_data(fit.campaign, fit.spec), fit.campaign.coords)
    expected = likelihood_of(graph)(thinned(posterior, 4 * DRAWS))
    np.testing.assert_allclose(found, expected, rtol=1e-9)


def test_cross_validation(fit: Fit) -> None:
    found = az.loo(fit.tree, pointwise=True)
    assert found.n_data_points == 16
    density = fit.tree["log_likelihood"]["catch_and_recaptures"]
    # Leaving a pull out predicts it worse than having seen it, by about one a parameter.
    seen = float(np.log(np.exp(density).mean(("chain", "draw"))).sum())
    assert 0.0 < seen - found.elpd < 10.0
    assert found.pareto_k.max() < 0.7


def test_power_scaling(fit: Fit) -> None:
    found = az.psense_summary(fit.tree, var_names=["abundance", "schooling"])
    assert (found["likelihood"] > found["prior"]).all()
    assert (found["prior"] >= 0.0).all()


def test_summary_of_every_group_of_draws(fit: Fit) -> None:
    for group in ("posterior", "quantities", "prior", "prior_quantities"):
        kind = "stats" if group.startswith("prior") else "all"
        table = az.summary(fit.tree, group=group, kind=kind)
        assert len(table) >= len(fit.tree[group].data_vars)


@pytest.mark.parametrize(
    "draw",
    [
        lambda tree: az.plot_ppc_dist(tree, kind="ecdf"),
        lambda tree: az.plot_ppc_interval(tree, var_names="caught"),
        lambda tree: az.plot_ppc_pit(tree),
        lambda tree: az.plot_ppc_rootogram(tree, var_names="recaptured"),
        lambda tree: az.plot_rank(tree, var_names="abundance"),
        lambda tree: az.plot_prior_posterior(tree, var_names="schooling"),
        lambda tree: az.plot_psense_dist(tree, var_names="schooling"),
    ],
    ids=["ppc_dist", "ppc_interval", "ppc_pit", "rootogram", "rank", "prior_posterior", "psense"],
)
def test_plots(fit: Fit, draw: Callable[[Any], Any], tmp_path: Path) -> None:
    draw(fit.tree).savefig(tmp_path / "plot.png")
    assert (tmp_path / "plot.png").stat().st_size > 1_000


def test_predictions_hold_the_records(fit: Fit) -> None:
    # Of 16 catches under the true model, nine in ten lie inside; the binomial lower tail
    # beyond 11 is 0.003.
    caught, drawn = fit.tree["observed_data"]["caught"], fit.tree["posterior_predictive"]["caught"]
    low, high = (drawn.quantile(p, ("chain", "draw")) for p in (0.05, 0.95))
    assert int(((low <= caught) & (caught <= high)).sum()) >= 12
    assert drawn.coords["pull"].equals(caught.coords["pull"])


def test_same_seed_same_predictions_and_loaded_as_saved(fit: Fit, tmp_path: Path) -> None:
    again = fishdown.load(fit.save(tmp_path / "saved"))
    assert again == fit
    with xr.open_datatree(tmp_path / "saved" / "posterior.nc", engine="netcdf4") as tree:
        assert {"log_likelihood", "posterior_predictive", "prior"} <= set(tree.children)
