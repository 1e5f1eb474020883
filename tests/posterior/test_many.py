"""Many campaigns at once: each with its own posterior, nets and nights."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from enumeration import exact_abundance
from messy_worlds import campaign_of

import fishdown
from fishdown.posterior import many
from fishdown.posterior.many import ManySampler, prepare
from fishdown.posterior.sampling import SamplerSettings
from fishdown.posterior.vectorised import Drawn

SETTINGS = SamplerSettings(draws=750, tune=400, chains=2, cores=1, seed=6)


def test_each_has_its_own_posterior(folder_of: Callable[..., Path]) -> None:
    """Removal passes over ponds, of different numbers, against plain enumeration."""
    campaigns = [
        fishdown.read(
            folder_of(
                lakes=[{"lake": "Pond", "area_ha": 2.0}],
                pulls=[
                    {"date": f"2024-06-0{day}", "lake": "Pond", "net": "A", "caught": caught}
                    for day, caught in enumerate(catches, start=1)
                ],
            )
        )
        for catches in ((48, 27, 12), (90, 40, 30, 12), (38, 12, 21, 9, 6))
    ]
    found = list(fishdown.fit_many(campaigns, "few_passes", settings=SETTINGS))
    assert [one.number for one in found] == [0, 1, 2]
    for one in found:
        fish, exact = exact_abundance(one.campaign, one.spec, largest=3_000)
        assert exact[-1] < 1e-5  # the enumeration went far enough
        draws = one.quantities["abundance_before"].values.ravel()
        below = (draws[:, None] <= fish).mean(axis=0)
        effective = float(one.quality.ess_bulk["abundance_before"].min())
        assert effective > 200
        # The distance of Kolmogorov and Smirnov: larger in one of a thousand samples.
        assert np.abs(below - exact.cumsum()).max() < 1.95 / np.sqrt(effective)
        assert one.divergences == one.quality.divergences


class NoSampling:
    """In place of the sampler: every draw is where the chains would start."""

    built: list[NoSampling]

    def __init__(self, graph: Any, max_tree_depth: int) -> None:
        self._graph = graph
        self.built.append(self)

    def sample(self, data: dict[str, Any], numbers: list[int], **settings: int) -> Drawn:
        import jax

        size = (settings["chains"], settings["draws"])
        values = jax.jit(jax.vmap(lambda one: self._graph.variables(self._graph.start(one), one)))(
            data
        )
        stats = np.zeros((len(numbers), *size))
        variables = {
            name: np.broadcast_to(
                np.asarray(each)[:, None, None], (len(numbers), *size, *each.shape[1:])
            )
            for name, each in values.items()
        }
        return Drawn(variables, stats > 0.0, stats.astype(int), stats, stats, stats)


def test_fewer_nets_and_nights_keep_their_own_labels(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(NoSampling, "built", [], raising=False)
    monkeypatch.setattr(many, "VectorisedNuts", NoSampling)
    large, _ = campaign_of("nothing wrong", 1, np.random.default_rng(1))
    nets, dates = (np.unique(large.pulls[name].values) for name in ("net", "date"))
    kept = (large.pulls["net"].values != nets[0]) & (large.pulls["date"].values != dates[0])
    small = replace(large, pulls=large.pulls.isel(pull=np.flatnonzero(kept)))
    taken = [prepare(one, "one_lake") for one in (small, large)]
    assert len(taken[0].data.pulls) == 27
    found = {one.number: one for one in ManySampler(SETTINGS).sample(enumerate(taken))}
    assert len(NoSampling.built) == 1
    for number, (nets_in, nights_in) in enumerate(((3, 9), (4, 10))):
        posterior = found[number].posterior
        assert (posterior.sizes["net"], posterior.sizes["night"]) == (nets_in, nights_in)
        assert np.isfinite(posterior["abundance"].values).all()
    assert str(nets[0]) not in " ".join(found[0].posterior["net"].values)
    assert str(nets[0]) in " ".join(found[1].posterior["net"].values)


def test_models_with_other_parts_have_graphs_of_their_own(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    campaign, _ = campaign_of("nothing wrong", 1, np.random.default_rng(1))
    monkeypatch.setattr(many, "_Graph", lambda one, depth: one)
    monkeypatch.setattr(many.Prepared, "holds", lambda self, data: True, raising=False)
    sampler = ManySampler(SETTINGS)
    spec = fishdown.read_model("one_lake")
    one, same, other = (
        sampler._graph_of(prepare(campaign, model))
        for model in (spec, "one_lake", spec.with_parts(nights="alike"))
    )
    assert one is same
    assert one is not other


@pytest.mark.parametrize("wrong", [{"at_once": 0}, {"max_tree_depth": 0}])
def test_impossible_batches(wrong: dict[str, int]) -> None:
    with pytest.raises(fishdown.FitError, match=" = 0: write a whole number, 1 or more"):
        fishdown.fit_many([], **wrong)  # type: ignore[arg-type]
