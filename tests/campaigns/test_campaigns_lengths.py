"""Weights told by lengths: trout of Mack Creek with most of their weights hidden.

Gregory & Arismendi 2020 (CC0), all six reaches of 2012; `tests/published/SOURCES.md` names it in
full. Every trout was weighed, so that the mean weight of the hidden ones is known.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from campaigns_by_lake import by_lake, published_rows
from field_records import daily_pulls, write_folder
from scipy import stats

import fishdown
from fishdown.posterior.sampling import SamplerSettings

SETTINGS = SamplerSettings(draws=1000, tune=500, seed=2)
DAY = "2012-09-04"


@pytest.fixture(scope="module")
def trout() -> tuple[np.ndarray, np.ndarray]:
    """Lengths (mm) and weights (kg) of the 784 trout."""
    rows = published_rows("and_mack_trout_weights_2012.csv")
    lengths, grams = (
        np.array([float(row[name]) for row in rows]) for name in ("length_mm", "weight_g")
    )
    return lengths, grams / 1000.0


@pytest.fixture(scope="module")
def fitted(trout: Any, tmp_path_factory: pytest.TempPathFactory) -> Callable[..., Any]:
    here = {"date": DAY, "lake": "Mack Creek"}

    def fit(kept: np.ndarray) -> Any:
        campaign = fishdown.read(
            write_folder(
                tmp_path_factory.mktemp("trout"),
                species="cutthroat trout",
                threshold=50.0,
                lakes=[{"lake": "Mack Creek", "area_ha": 0.15}],
                pulls=daily_pulls("Mack Creek", [646, 144], start=DAY),
                measured=[
                    {**here, "length_mm": mm, "weight_kg": kg if k else ""}
                    for mm, kg, k in zip(*trout, kept, strict=True)
                ],
            )
        )
        done = fishdown.fit(campaign, "few_passes", settings=SETTINGS)
        assert done.passed
        assert done.spec.part("lengths") == "log_log"
        return done

    return fit


def least_squares(trout: Any, kept: np.ndarray) -> tuple[Any, float, float]:
    """Return the regression of ln W on ln L of the kept, its scatter, and the mean weight it says.

    The mean over all lengths of exp(fit + ½ scatter²), the mean of a log-normal at each.
    """
    x, y = np.log(trout)
    line = stats.linregress(x[kept], y[kept])
    off = y[kept] - line.intercept - line.slope * x[kept]
    scatter = np.sqrt((off**2).sum() / (kept.sum() - 2))
    return line, scatter, float(np.exp(line.intercept + line.slope * x + 0.5 * scatter**2).mean())


def test_an_eighth_weighed(trout: Any, fitted: Callable[..., Any]) -> None:
    """98 of 784 weights kept, evenly: the posterior is the regression's, and holds the truth.

    The priors (exponent 3 ± 0.15) may move it by half a standard error at most.
    """
    kept = np.arange(784) % 8 == 0
    line, scatter, mean = least_squares(trout, kept)
    fit = fitted(kept)
    estimates = fit.estimates()
    exponent = by_lake(estimates, "length_exponent").iloc[0]
    assert exponent["mean"] == pytest.approx(line.slope, abs=0.5 * line.stderr)
    assert exponent["sd"] == pytest.approx(line.stderr, rel=0.15)
    drawn = fit.tree["posterior/length_scatter"].values
    assert drawn.mean() == pytest.approx(scatter, rel=0.05)
    weight = by_lake(estimates, "mean_weight").loc["Mack Creek"]
    assert weight["mean"] == pytest.approx(mean, rel=0.02)
    assert weight["low"] < trout[1].mean() < weight["high"]
    # 784 lengths say more than 98 weights, whose standard error this is.
    assert weight["sd"] < 0.6 * stats.sem(trout[1][kept])


def test_only_the_largest_weighed(trout: Any, fitted: Callable[..., Any]) -> None:
    """The 100 longest weigh 29.7 g on average, all of them 8.4 g: the lengths mend it."""
    kept = np.zeros(784, dtype=bool)
    kept[np.argsort(-trout[0], kind="stable")[:100]] = True
    weights = trout[1]
    assert weights[kept].mean() > 3.5 * weights.mean()
    weight = by_lake(fitted(kept).estimates(), "mean_weight").loc["Mack Creek"]
    assert weight["low"] < weights.mean() < weight["high"]


def test_a_log_normal_would_miss_the_mean_weight(trout: Any) -> None:
    """Why the weights that lengths stand for are gamma: these have two year classes at least.

    A log-normal fitted to them puts the mean a fifth too high; the gamma keeps their mean.
    """
    kept = np.ones(784, dtype=bool)
    line, scatter, mean = least_squares(trout, kept)
    log_expected = line.intercept + line.slope * np.log(trout[0]) + 0.5 * scatter**2
    log_normal = np.exp(log_expected.mean() + 0.5 * log_expected.var())
    truth = trout[1].mean()
    assert log_normal > 1.15 * truth
    assert mean == pytest.approx(truth, rel=0.02)
