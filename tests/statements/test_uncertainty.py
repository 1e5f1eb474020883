"""Where the uncertainty comes from: log-normal draws, for which all of it is known."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import xarray as xr
from drawn_fits import drawn_fit, records
from scipy import stats

import fishdown
from fishdown.checks.effective_marks_alone import prior_of_effective_marks
from fishdown.models.parts.marks.second_looks import SecondLooks
from fishdown.statements.uncertainty import uncertainty

OF_MARKS, OF_COUNTS, OF_WEIGHTS = 0.2, 0.1, 0.15


@pytest.fixture(scope="module")
def plain(tmp_path_factory: pytest.TempPathFactory) -> fishdown.Fit:
    folder = tmp_path_factory.mktemp("records") / "campaign"
    # In a closed lake what is left is what was there less what was taken.
    return drawn_fit(records(folder), natural_deaths="none")


def lognormal_fit(fit: fishdown.Fit, fish: float, weight: float) -> fishdown.Fit:
    """Give the fit draws in which marks, counts and weights have known parts of the variance."""
    rng = np.random.default_rng(4)
    shape = (4, 5_000)
    marks, counts, weights = (
        np.exp(rng.normal(0.0, spread, shape)) for spread in (OF_MARKS, OF_COUNTS, OF_WEIGHTS)
    )
    gone = float(fit.campaign.seasons["gone"].values[0])
    area = float(fit.campaign.lakes["area"].values[0])
    before = fish * marks * counts
    kilograms = weight * weights
    drawn = {
        "abundance_before": before,
        "abundance_after": before - gone,
        "effective_marks": marks,
        "biomass_after": (before - gone) * kilograms / area,
    }
    quantities = xr.Dataset(
        {name: (("chain", "draw", "season"), values[..., None]) for name, values in drawn.items()},
        coords={"season": fit.campaign.seasons["season"].values},
    )
    tree = fit.tree.copy()
    tree["quantities"] = xr.DataTree(quantities)
    return replace(fit, tree=tree)


def test_shares_add_up_and_are_those_of_the_variances(plain: fishdown.Fit) -> None:
    """So many fish that what was taken hardly matters: then ln B is a sum of three."""
    found = uncertainty(lognormal_fit(plain, 1e7, 2.0), 0)
    assert found is not None
    total = OF_MARKS**2 + OF_COUNTS**2 + OF_WEIGHTS**2
    assert sum(found.shares.values()) == pytest.approx(1.0)
    assert found.shares["marks"] == pytest.approx(OF_MARKS**2 / total, abs=0.02)
    assert found.shares["weights"] == pytest.approx(OF_WEIGHTS**2 / total, abs=0.02)
    assert "another gear" in found.next_measurement


def test_probability_and_flip_are_those_of_the_normal_distribution(plain: fishdown.Fit) -> None:
    area = float(plain.campaign.lakes["area"].values[0])
    gone = float(plain.campaign.seasons["gone"].values[0])
    # Of very light fish so many that 90 kg/ha are left in the middle.
    fish = 1e7
    weight = 90.0 * area / (fish - gone)
    found = uncertainty(lognormal_fit(plain, fish, weight), 0)
    assert found is not None
    spread = np.hypot(OF_COUNTS, OF_WEIGHTS)
    expected = stats.norm.cdf(np.log(100.0 / 90.0) / spread)
    assert found.if_every_mark_counts == pytest.approx(expected, abs=0.015)
    assert found.flips_if_more
    assert found.flips_at == pytest.approx(100.0 / 90.0, rel=0.01)
    waited = plain.data.times.marked_years[0]
    prior = prior_of_effective_marks(plain.data.counts.kinds_at_large[0], plain.spec, waited)
    assert found.flip_prior == pytest.approx(np.mean(prior > found.flips_at))
    sentence = found.sentence()
    assert "more likely be above the threshold if a mark counted as more than 1.1" in sentence


def test_what_second_looks_told_is_no_surprise(plain: fishdown.Fit) -> None:
    """Before them nothing is known of how many marks are overlooked, and all would be possible."""
    waited, kinds = plain.data.times.marked_years[0], plain.data.counts.kinds_at_large[0]
    spec = fishdown.read_model("one_lake")
    looks = SecondLooks(first=np.array(28.0), second_only=np.array(0.0))
    before, after = (prior_of_effective_marks(kinds, spec, waited, one) for one in (None, looks))
    assert np.quantile(before, 0.05) < 0.1
    assert np.quantile(after, 0.05) > 0.5
    found = uncertainty(lognormal_fit(plain, 1e7, 5e-5), 0)
    assert found is not None
    assert "before any record " in found.sentence()
    looked = replace(found, after_looks=True).sentence()
    assert "before any record but the second looks " in looked


def test_a_lake_far_from_the_threshold_flips_for_no_marks(plain: fishdown.Fit) -> None:
    area = float(plain.campaign.lakes["area"].values[0])
    found = uncertainty(lognormal_fit(plain, 1e7, 5.0 * area / 1e7), 0)
    assert found is not None
    assert np.isnan(found.flips_at)
    assert "No value" in found.sentence()


def test_marks_that_all_count_have_no_such_table(tmp_path: Path) -> None:
    fit = drawn_fit(records(tmp_path / "c"), marks="all_count", recaptures="random")
    assert uncertainty(fit, 0) is None
    assert (fit.verdicts()["background"] == "").all()
