"""The sampling seam: settings, retries, seeds, progress, breakdowns."""

from __future__ import annotations

import _thread
import sys
import threading
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import xarray as xr
from fake_fits import StubSampler

import fishdown
from fishdown.models.data import fitting_spec, model_data
from fishdown.models.graph import build
from fishdown.posterior import sampling
from fishdown.posterior.quality import judge
from fishdown.posterior.sampling import Sampler, SamplerSettings


@pytest.fixture
def campaign(folder_of: Callable[..., Path]) -> fishdown.Campaign:
    """Three passes over a pond, 87 fish, two of them weighed."""
    return fishdown.read(
        folder_of(
            lakes=[{"lake": "Pond", "area_ha": 2.0}],
            pulls=[
                {"date": f"2024-06-0{day}", "lake": "Pond", "net": "A", "caught": caught}
                for day, caught in enumerate((48, 27, 12), start=1)
            ],
            measured=[
                {"date": "2024-06-01", "lake": "Pond", "weight_kg": weight} for weight in (2.0, 2.4)
            ],
        )
    )


@pytest.mark.parametrize(
    ("wrong", "text"),
    [
        ({"chains": 1}, "1 chains of 1000 draws cannot be judged"),
        ({"draws": 3}, "4 chains of 3 draws cannot be judged"),
        ({"tune": 0}, "tune = 0: write a whole number, 1 or more"),
        ({"cores": 0}, "cores = 0"),
        ({"seed": -1}, "seed = -1"),
        ({"target_accept": 1.0}, "target_accept = 1.0"),
        ({"sampler": "gibbs"}, "unknown sampler 'gibbs'; known: nutpie, pymc, numpyro"),
    ],
)
def test_impossible_settings(wrong: dict[str, Any], text: str) -> None:
    with pytest.raises(fishdown.FitError, match=text):
        SamplerSettings(**wrong)


def test_harder_settings() -> None:
    harder = SamplerSettings(draws=300, tune=400, target_accept=0.94, seed=3).harder()
    assert (harder.draws, harder.tune) == (600, 800)
    assert harder.target_accept == pytest.approx(0.98)  # a third of the steps refused
    assert (harder.seed, harder.chains) == (3, 4)


def refit(
    monkeypatch: pytest.MonkeyPatch, campaign: fishdown.Campaign, *divergences: int
) -> tuple[fishdown.Fit, type[StubSampler], list[str]]:
    stub = StubSampler.with_divergences(*divergences)
    monkeypatch.setattr("fishdown.posterior.attempts.Sampler", stub)
    reasons: list[str] = []
    fit = fishdown.fit(
        campaign, settings=SamplerSettings(draws=500, tune=250), on_retry=reasons.append
    )
    return fit, stub, reasons


def test_no_retry_when_the_first_attempt_passes(
    monkeypatch: pytest.MonkeyPatch, campaign: fishdown.Campaign
) -> None:
    fit, stub, reasons = refit(monkeypatch, campaign, 0)
    assert len(stub.asked) == len(fit.run["attempts"]) == 1
    assert reasons == []
    assert fit.passed


def test_divergences_are_retried_twice_with_more_care(
    monkeypatch: pytest.MonkeyPatch, campaign: fishdown.Campaign
) -> None:
    fit, stub, reasons = refit(monkeypatch, campaign, 7)
    assert [asked.draws for asked in stub.asked] == [500, 1000, 2000]
    assert [asked.tune for asked in stub.asked] == [250, 500, 1000]
    accept = [asked.target_accept for asked in stub.asked]
    assert accept == pytest.approx([0.95, 1 - 0.05 / 3, 1 - 0.05 / 9])
    assert len(reasons) == 2
    assert all("7 divergences" in reason for reason in reasons)
    recorded = fit.run["attempts"]
    assert [attempt["draws"] for attempt in recorded] == [500, 1000, 2000]
    assert [attempt["divergences"] for attempt in recorded] == [7, 7, 7]
    assert [attempt["passed"] for attempt in recorded] == [False, False, False]
    assert all(attempt["sample_seconds"] >= 0.0 for attempt in recorded)
    assert not fit.passed
    assert fit.quantities.sizes["draw"] == 2000
    assert fit.verdicts()["probability_below"].isna().all()


def test_a_retry_that_passes_is_the_last(
    monkeypatch: pytest.MonkeyPatch, campaign: fishdown.Campaign
) -> None:
    fit, stub, reasons = refit(monkeypatch, campaign, 2, 0)
    assert len(stub.asked) == 2
    assert len(reasons) == 1
    assert [attempt["passed"] for attempt in fit.run["attempts"]] == [False, True]
    assert fit.passed
    assert fit.run["seed"] == stub.asked[0].seed


def compiled(campaign: fishdown.Campaign, sampler: str) -> Sampler:
    spec, _ = fitting_spec(campaign, fishdown.read_model("few_passes"))
    coords = {
        "lake": campaign.lakes["lake"].values.tolist(),
        "season": campaign.seasons["season"].values.tolist(),
    }
    return Sampler(build(spec, model_data(campaign, spec), coords), sampler)  # type: ignore[arg-type]


def test_seeds_and_progress(campaign: fishdown.Campaign) -> None:
    def abundance(seed: int, cores: int = 1) -> np.ndarray[Any, Any]:
        settings = SamplerSettings(draws=200, tune=200, chains=2, cores=cores, seed=seed)
        tree = sampler.sample(settings, lambda *counts: seen.append(counts))
        return np.asarray(tree["posterior"]["abundance"].values)

    seen: list[tuple[int, ...]] = []
    sampler = compiled(campaign, "nutpie")
    first = abundance(seed=1)
    assert first.shape == (2, 200, 1)
    np.testing.assert_array_equal(abundance(seed=1), first)
    np.testing.assert_array_equal(abundance(seed=1, cores=2), first)
    assert not np.isin(abundance(seed=2), first).any()
    assert not np.isin(first[1], first[0]).any()  # each chain goes its own way
    # A fit of milliseconds may be over before the first report.
    assert all(0 <= done <= total == 800 for done, total, _ in seen)


def test_what_is_fed_is_where_the_chains_start_too(
    campaign: fishdown.Campaign, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The starting points come from the graph."""

    class Compiled:
        shared_var_keys = ()

        def with_data(self) -> Compiled:
            return self

    monkeypatch.setattr(sampling, "_compile_nutpie", lambda model: Compiled())
    spec, _ = fitting_spec(campaign, fishdown.read_model("few_passes"))
    graph = build(spec, model_data(campaign, spec), campaign.coords)
    caught = campaign.pulls["caught"]
    more = replace(campaign, pulls=campaign.pulls.assign(caught=caught + 5))
    Sampler(graph, "nutpie").feed(model_data(more, spec))
    np.testing.assert_array_equal(graph["catches_caught"].get_value(), caught.values + 5)


def alike(one: xr.DataTree, other: xr.DataTree, effective: int) -> bool:
    """Return whether the medians of abundance agree, to five standard errors."""
    logs = [np.log(tree["posterior"]["abundance"].values) for tree in (one, other)]
    error = 1.25 * np.std(logs[0]) * np.sqrt(2.0 / effective)
    return bool(abs(np.median(logs[0]) - np.median(logs[1])) < 5.0 * error)


def test_both_samplers_agree(campaign: fishdown.Campaign) -> None:
    settings = SamplerSettings(draws=2_000, tune=500, chains=2, cores=1, seed=4)
    nutpie, pymc = (compiled(campaign, name).sample(settings) for name in ("nutpie", "pymc"))
    assert alike(nutpie, pymc, 1_000)


def test_numpyro_agrees_and_keeps_to_the_seam(campaign: fishdown.Campaign) -> None:
    """One compiled graph: draws, progress, seeds, and other data fed to it."""
    settings = SamplerSettings(draws=1_000, tune=500, chains=2, cores=1, seed=4)
    seen: list[tuple[int, ...]] = []
    spec, _ = fitting_spec(campaign, fishdown.read_model("few_passes"))
    graph = build(spec, model_data(campaign, spec), campaign.coords)
    sampler = Sampler(graph, "numpyro")
    tree = sampler.sample(settings, lambda *counts: seen.append(counts))
    nutpie = compiled(campaign, "nutpie").sample(settings)
    assert alike(nutpie, tree, 500)
    found, usual = tree["posterior"].to_dataset(), nutpie["posterior"].to_dataset()
    assert {name: found[name].dims for name in found} == {name: usual[name].dims for name in usual}
    assert judge(found, tree["sample_stats"].to_dataset()).divergences == seen[-1][2]
    assert [done for done, _, _ in seen] == sorted(done for done, _, _ in seen)
    assert seen[-1][:2] == (3_000, 3_000)

    again = sampler.sample(settings)["posterior"]["abundance"].values
    np.testing.assert_array_equal(again, found["abundance"].values)

    more = replace(campaign, pulls=campaign.pulls.assign(caught=campaign.pulls["caught"] * 3.0))
    sampler.feed(model_data(more, spec))
    fed = sampler.sample(replace(settings, seed=5))
    assert not alike(nutpie, fed, 500)
    assert alike(compiled(more, "nutpie").sample(settings), fed, 500)


def test_numpyro_without_jax_says_what_to_install(
    campaign: fishdown.Campaign, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "numpyro", None)
    with pytest.raises(fishdown.FitError, match=r"pip install 'fishdown\[jax\]'"):
        compiled(campaign, "numpyro")


def test_an_interrupted_sample_of_nutpie_is_no_fit(
    campaign: fishdown.Campaign, monkeypatch: pytest.MonkeyPatch
) -> None:
    import nutpie

    cancelled = []

    class Sampling:
        def wait(self) -> None:
            raise KeyboardInterrupt

        def cancel(self) -> None:
            cancelled.append(self)

    def sample(*arguments: Any, blocking: bool, **options: Any) -> Sampling:
        assert not blocking
        return Sampling()

    monkeypatch.setattr(sampling, "_compile_nutpie", lambda model: None)
    monkeypatch.setattr(nutpie, "sample", sample)
    with pytest.raises(KeyboardInterrupt):
        compiled(campaign, "nutpie").sample(SamplerSettings())
    assert len(cancelled) == 1


@pytest.mark.usefixtures("ctrl_c")
def test_an_interrupted_sample_of_pymc_is_no_fit(
    campaign: fishdown.Campaign, monkeypatch: pytest.MonkeyPatch
) -> None:
    """PyMC hands back what there is; its draws go on until the next one is refused."""
    import pymc as pm

    ended = threading.Event()

    def sample(*, callback: Callable[..., None], **options: Any) -> None:
        _thread.interrupt_main()
        try:
            while True:
                callback(trace=None, draw=None)
                time.sleep(0.01)
        finally:
            ended.set()

    monkeypatch.setattr(pm, "sample", sample)
    with pytest.raises(KeyboardInterrupt):
        compiled(campaign, "pymc").sample(SamplerSettings())
    assert ended.is_set()


@pytest.mark.parametrize("size", [(1, 1000), (4, 999)])
def test_a_short_sample_is_no_fit(
    campaign: fishdown.Campaign, monkeypatch: pytest.MonkeyPatch, size: tuple[int, int]
) -> None:
    import pymc as pm

    posterior = xr.Dataset({"abundance": (("chain", "draw"), np.ones(size))})
    tree = xr.DataTree.from_dict({"posterior": posterior})
    monkeypatch.setattr(pm, "sample", lambda **options: tree)
    with pytest.raises(fishdown.FitError, match="pymc ended early, with"):
        compiled(campaign, "pymc").sample(SamplerSettings(draws=1000, chains=4))


def test_a_breakdown_is_one_clear_error(
    campaign: fishdown.Campaign, monkeypatch: pytest.MonkeyPatch
) -> None:
    import nutpie

    def broken(*arguments: Any, **options: Any) -> None:
        raise RuntimeError("all initial points failed")

    monkeypatch.setattr(sampling, "_compile_nutpie", lambda model: None)
    monkeypatch.setattr(nutpie, "sample", broken)
    with pytest.raises(fishdown.FitError, match="nutpie failed: all initial points failed"):
        compiled(campaign, "nutpie").sample(SamplerSettings())
