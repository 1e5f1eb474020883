"""New pulls by reweighting, against plain enumeration of all pulls."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import xarray as xr
from enumeration import exact_abundance
from fake_fits import StubSampler
from field_records import daily_pulls
from scipy import stats
from scipy.special import logsumexp

import fishdown
from fishdown import Fit
from fishdown.api.update import update
from fishdown.models.priors import Prior
from fishdown.posterior.quantities import reported_quantities
from fishdown.posterior.reweighting import new_weights, systematic

CATCHES = (48, 40, 31, 27, 20, 17)
SPEC = replace(
    fishdown.read_model("few_passes").with_parts(weights="none", area="constant"),
    priors={
        "density": Prior.read("density", {"lognormal": {"median": 150.0, "log_sd": 0.5}}),
        "catchability": Prior.read("catchability", {"beta": {"a": 4.0, "b": 20.0}}),
    },
)


def campaign_of(folder_of: Callable[..., Path], catches: Any, **tables: Any) -> fishdown.Campaign:
    pulls = daily_pulls("Pond", catches, **tables)
    return fishdown.read(folder_of(lakes=[{"lake": "Pond", "area_ha": 2.0}], pulls=pulls))


SHARE = SPEC.priors["catchability"].quantile((np.arange(400) + 0.5) / 400)


@cache
def exact_joint(
    fewest: int, caught: tuple[float, ...], gone: tuple[float, ...]
) -> tuple[np.ndarray, np.ndarray]:
    """Return numbers of fish, and the joint posterior of them and of the shares in `SHARE`."""
    fish = np.arange(fewest, 1_500)
    log_joint = np.broadcast_to(
        SPEC.priors["density"].log_density(fish / 2.0)[:, None], (len(fish), len(SHARE))
    )
    for one, before in zip(caught, gone, strict=True):
        log_joint = log_joint + stats.binom.logpmf(one, fish[:, None] - before, SHARE)
    return fish, np.exp(log_joint - logsumexp(log_joint))


def exact_fit(campaign: fishdown.Campaign, *, per_chain: int = 2_000) -> Fit:
    """Draw abundance and catchability from their joint posterior by enumeration."""
    of_pulls = (tuple(campaign.pulls[one].values) for one in ("caught", "gone_before"))
    fish, joint = exact_joint(int(campaign.seasons["gone"][0]), *of_pulls)
    rng = np.random.default_rng(3)
    place = rng.choice(joint.size, (4, per_chain), p=joint.ravel())
    number, which = np.unravel_index(place, joint.shape)
    posterior = xr.Dataset(
        {
            "abundance": (("chain", "draw", "season"), fish[number][..., None].astype(float)),
            "catchability": (("chain", "draw", "lake"), SHARE[which][..., None]),
        },
        coords={"season": ["Pond 2024"], "lake": ["Pond"]},
    )
    tree = xr.DataTree.from_dict(
        {
            "posterior": posterior,
            "quantities": reported_quantities(posterior, campaign, SPEC),
            "sample_stats": xr.Dataset(
                {"diverging": (("chain", "draw"), np.zeros((4, per_chain), dtype=bool))}
            ),
            "campaign": campaign.to_tree(),
        }
    )
    return Fit(campaign, SPEC, tree, {})


def test_it_is_the_posterior_of_all_pulls(folder_of: Callable[..., Path], tmp_path: Path) -> None:
    earlier = exact_fit(campaign_of(folder_of, CATCHES[:5]))
    everything = campaign_of(folder_of, CATCHES)
    found = update(earlier, everything)
    assert found.run["update"]["how"] == "reweighted"
    assert found.run["update"]["new_pulls"] == 1
    assert found.run["update"]["pareto_k"] < found.run["update"]["limit"]
    assert found.run["update"]["draws"] == [8_000, found.tree["posterior"]["abundance"].size]
    assert found.reweighted
    assert found.checks() == ()
    number, probability = exact_abundance(everything, SPEC, largest=1_499, share_points=400)
    mean = number @ probability
    spread = np.sqrt((number - mean) ** 2 @ probability)
    draws = found.tree["posterior"]["abundance"].values
    error = spread / np.sqrt(draws.size)
    assert draws.mean() == pytest.approx(mean, abs=4.5 * error)
    assert draws.std() == pytest.approx(spread, rel=0.08)
    # The earlier fit is another one, by far more than that error.
    assert abs(earlier.tree["posterior"]["abundance"].values.mean() - mean) > 12.0 * error
    assert draws.min() >= sum(CATCHES)
    predicted = found.tree["posterior_predictive"]["caught"]
    assert predicted.size == draws.size * len(CATCHES)
    assert found.tree["observed_data"]["caught"].values.tolist() == [*CATCHES]
    assert 400 < draws.size < 8_000
    after = found.quantities["abundance_after"].values
    np.testing.assert_allclose(after, draws - sum(CATCHES))
    assert found.passed
    assert (
        found.tree["sample_stats"].sizes
        == found.tree["posterior"].dataset["abundance"].isel(season=0).sizes
    )
    again = fishdown.load(found.save(tmp_path / "out"))
    assert again.run["update"] == found.run["update"]
    assert len(again.ahead(3).frame()) == 4


def test_the_first_bycatch_of_the_season_is_no_change_of_earlier_pulls(
    folder_of: Callable[..., Path],
) -> None:
    earlier = campaign_of(folder_of, CATCHES[:5])
    assert not earlier.pulls["bycatch_counted"].any()
    pulls = daily_pulls("Pond", CATCHES)
    entry = {"date": pulls[-1]["date"], "lake": "Pond", "net": "A", "species": "roach", "count": 2}
    folder = folder_of(lakes=[{"lake": "Pond", "area_ha": 2.0}], pulls=pulls, bycatch=[entry])
    everything = fishdown.read(folder)
    assert everything.pulls["bycatch_counted"].all()
    assert update(exact_fit(earlier), everything).run["update"]["how"] == "reweighted"


def test_marks_in_new_pulls_speak_too(folder_of: Callable[..., Path]) -> None:
    """Hypergeometric, on top of the catch; nobody looked at the pulls before."""
    spec = replace(SPEC, parts={**SPEC.parts, "evidence": "both"})
    seen = ["", "", "", "", "", 5]
    marks = [
        {"date": "2024-05-01", "lake": "Pond", "batch": "a", "mark": "fin_clip", "released": 60}
    ]
    base = {"lakes": [{"lake": "Pond", "area_ha": 2.0}], "marked": marks}
    old, new = (
        fishdown.read(
            folder_of(**base, pulls=daily_pulls("Pond", CATCHES[:count], recaptured=seen[:count]))
        )
        for count in (5, 6)
    )
    fit = replace(exact_fit(old, per_chain=500), spec=spec)
    weights, _, _ = new_weights(fit, new, np.arange(6) == 5)
    posterior = fit.tree["posterior"]
    left = posterior["abundance"].values[..., 0] - sum(CATCHES[:5])
    marked = float(new.pulls["marks_at_large"].values[5])
    bound = float(new.seasons["gone"][0] + new.seasons["marks_left"][0])
    assert (weights[posterior["abundance"].values[..., 0] < bound - 1.0] == 0.0).all()
    wanted = stats.binom.logpmf(CATCHES[5], left, posterior["catchability"].values[..., 0])
    wanted = wanted + _log_hypergeometric(5.0, left, marked, CATCHES[5])
    found = np.log(weights, where=weights > 0, out=np.full_like(weights, np.nan))
    small = (weights > 0) & (weights < np.quantile(weights, 0.5))
    assert small.sum() > 100
    np.testing.assert_allclose((found - wanted)[small], (found - wanted)[small][0], atol=1e-9)


def _log_hypergeometric(seen: float, fish: np.ndarray, marked: float, caught: float) -> np.ndarray:
    from scipy.special import gammaln

    def choose(n: Any, k: Any) -> Any:
        return gammaln(n + 1.0) - gammaln(k + 1.0) - gammaln(n - k + 1.0)

    with np.errstate(invalid="ignore"):
        return choose(marked, seen) + choose(fish - marked, caught - seen) - choose(fish, caught)


def test_weights_are_the_density_of_the_new_pull(folder_of: Callable[..., Path]) -> None:
    earlier = exact_fit(campaign_of(folder_of, CATCHES[:5]), per_chain=200)
    everything = campaign_of(folder_of, CATCHES)
    weights, _, _ = new_weights(earlier, everything, np.arange(6) == 5)
    posterior = earlier.tree["posterior"]
    left = posterior["abundance"].values[..., 0] - sum(CATCHES[:5])
    wanted = stats.binom.pmf(CATCHES[5], left, posterior["catchability"].values[..., 0])
    assert (weights[left < CATCHES[5]] == 0.0).all()
    # Smoothing touches only the largest.
    small = (wanted > 0) & (wanted < np.quantile(wanted, 0.5))
    ratio = weights[small] / wanted[small]
    np.testing.assert_allclose(ratio, ratio[0])
    assert weights.sum() == pytest.approx(1.0)


def test_a_surprise_is_fitted_anew(
    folder_of: Callable[..., Path], stub: Callable[..., type[StubSampler]]
) -> None:
    sampler = stub(0)
    earlier = exact_fit(campaign_of(folder_of, CATCHES[:5]), per_chain=300)
    found = update(earlier, campaign_of(folder_of, (*CATCHES[:5], 400)))
    assert found.run["update"]["how"] == "refitted"
    assert "more fish than nearly all draws of abundance allow" in found.run["update"]["why"]
    assert len(sampler.asked) == 1


@pytest.mark.parametrize(
    ("catches", "more", "why"),
    [
        ((48, 40, 31, 27, 21, 17), {}, "earlier pulls changed"),
        (CATCHES[:4], {}, "earlier pulls changed"),
        (CATCHES, {"start": "2023-06-01"}, "there are other seasons than before"),
    ],
)
def test_what_more_changed_is_fitted_anew(
    folder_of: Callable[..., Path],
    stub: Callable[..., type[StubSampler]],
    catches: tuple[int, ...],
    more: dict[str, Any],
    why: str,
) -> None:
    stub(0)
    earlier = exact_fit(campaign_of(folder_of, CATCHES[:5]), per_chain=400)
    found = update(earlier, campaign_of(folder_of, catches, **more))
    entry = found.run["update"]
    assert (entry["how"], entry["why"]) == ("refitted", why)
    assert entry["pareto_k"] is None
    assert not found.reweighted


def test_weights_in_few_draws_are_fitted_anew(
    folder_of: Callable[..., Path], stub: Callable[..., type[StubSampler]]
) -> None:
    """Thirty fish in a row where ten were expected: 800 draws are too few to be thinned."""
    stub(0)
    earlier = exact_fit(campaign_of(folder_of, CATCHES[:5]), per_chain=200)
    found = update(earlier, campaign_of(folder_of, (*CATCHES[:5], 30, 32, 31)))
    assert found.run["update"]["how"] == "refitted"
    assert re.search("current fit: Pareto k|too few effective draws", found.run["update"]["why"])


def test_a_failed_fit_is_fitted_anew(
    folder_of: Callable[..., Path], stub: Callable[..., type[StubSampler]]
) -> None:
    stub(0)
    few = exact_fit(campaign_of(folder_of, CATCHES[:5]), per_chain=20)
    found = update(few, campaign_of(folder_of, CATCHES))
    assert found.run["update"]["why"] == "the earlier fit did not pass the quality gate"


@pytest.mark.parametrize(
    ("missing", "how"), [((), "reweighted"), ((2,), "reweighted"), ((4,), "guess"), ((5,), "guess")]
)
def test_missing_temperatures(
    folder_of: Callable[..., Path],
    stub: Callable[..., type[StubSampler]],
    missing: tuple[int, ...],
    how: str,
) -> None:
    """A gap between readings stays as it was; a gap at the end is told anew by the next one."""
    stub(0)
    celsius = ["" if pull in missing else 20.0 - pull for pull in range(6)]
    old, new = (
        campaign_of(folder_of, CATCHES[:count], water_temp_c=celsius[:count]) for count in (5, 6)
    )
    spec = replace(
        SPEC,
        parts={**SPEC.parts, "temperature": "log_linear"},
        priors={
            **SPEC.priors,
            "temperature_effect": fishdown.read_model("one_lake").priors["temperature_effect"],
        },
    )
    fit = exact_fit(old)
    gaps = len([pull for pull in missing if pull < 5])
    posterior = fit.tree["posterior"].to_dataset()
    size = (4, 2_000)
    fit.tree["posterior"] = xr.DataTree(
        posterior.assign(
            temperature_effect=(("chain", "draw", "lake"), np.full((*size, 1), 0.5)),
            **(
                {"temperature_step": (("chain", "draw", "gap"), np.zeros((*size, gaps)))}
                if gaps
                else {}
            ),
        )
    )
    found = update(replace(fit, spec=spec), new).run["update"]
    assert how in (found["how"] if how == "reweighted" else found["why"])


def test_without_new_pulls_the_fit_stays(folder_of: Callable[..., Path]) -> None:
    campaign = campaign_of(folder_of, CATCHES)
    earlier = exact_fit(campaign)
    found = update(earlier, campaign_of(folder_of, CATCHES))
    assert found.run["update"]["how"] == "unchanged"
    assert not found.reweighted
    assert found.tree["posterior"].identical(earlier.tree["posterior"])
    # Once reweighted, a fit stays so.
    later = update(exact_fit(campaign_of(folder_of, CATCHES[:5])), campaign)
    again = update(later, campaign)
    assert again.run["update"]["how"] == "unchanged"
    assert again.reweighted
    assert again.checks() == ()


def test_a_refit_has_the_parts_that_can_be_fed_now_and_the_settings_of_the_fit(
    folder_of: Callable[..., Path], stub: Callable[..., type[StubSampler]]
) -> None:
    """Temperatures came with the new pulls; the model as it was asked for looks at them."""
    sampler = stub(0)
    settings = fishdown.SamplerSettings(draws=600, chains=2, seed=9)
    earlier = fishdown.fit(
        campaign_of(folder_of, CATCHES[:5]), "one_lake", settings=settings, compare_evidence=False
    )
    assert earlier.spec.part("temperature") == "none"
    found = update(earlier, campaign_of(folder_of, CATCHES, water_temp_c=[""] * 5 + [14.0]))
    assert found.run["update"]["why"] == "the records feed other parts of the model"
    assert found.spec.part("temperature") == "log_linear"
    assert sampler.asked[-1] == settings


def test_systematic_choice_is_even() -> None:
    rng = np.random.default_rng(1)
    weights = rng.exponential(size=50)
    chosen = systematic(weights, 400)
    counts = np.bincount(chosen, minlength=50)
    assert np.abs(counts - 400 * weights / weights.sum()).max() < 1.0 + 1e-9
    assert (np.diff(chosen) >= 0).all()
