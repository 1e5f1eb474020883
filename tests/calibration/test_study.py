"""A small study, stopped and gone on with; and the verdict on places that are known."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy import stats

import fishdown
from fishdown.calibration import study
from fishdown.calibration.design import fed
from fishdown.calibration.simulation import LOG_LIKELIHOOD, Job
from fishdown.calibration.study import Calibration
from fishdown.checks.spread import places_among

SETTINGS = fishdown.SamplerSettings(draws=150, tune=150, chains=2, seed=5)


def places_of(posterior_sd: float, simulations: int = 400) -> np.ndarray:
    """Rank the truth of a conjugate toy: mean with prior N(0, 1), one record N(mean, 1)."""
    rng = np.random.default_rng(8)
    truth = rng.normal(size=simulations)
    record = rng.normal(truth, 1.0)
    draws = rng.normal(record / 2.0, posterior_sd, (199, simulations))
    return places_among(truth, draws, rng)


def calibration_of(**places: np.ndarray) -> Calibration:
    rows = {
        number: {"places": {name: float(values[number]) for name, values in places.items()}}
        for number in range(len(next(iter(places.values()))))
    }
    return Calibration(fishdown.read_model("one_lake"), rows)


def test_the_right_posterior_is_even_and_a_wrong_one_is_not() -> None:
    right = places_of(np.sqrt(0.5))
    assert stats.kstest(right, "uniform").pvalue > 0.01
    assert calibration_of(right=right).calibrated
    narrow = calibration_of(right=right, narrow=places_of(0.4))
    assert not narrow.calibrated
    outcome = narrow.table().set_index("quantity")["outcome"]
    assert outcome["right"] == "even"
    assert "too narrow" in outcome["narrow"]
    assert "too wide" in calibration_of(wide=places_of(1.4)).table()["outcome"].iloc[0]
    assert "too high" in calibration_of(high=right**2).table()["outcome"].iloc[0]
    assert len(narrow.figure().axes) == 4


@pytest.mark.parametrize("count", [6, 20])
def test_few_simulations_cannot_tell(count: int) -> None:
    found = calibration_of(right=places_of(np.sqrt(0.5))[:count])
    assert all(even.even for even in found.spread.values())
    assert (found.outcome, found.calibrated) == ("cannot tell", False)
    assert found.table()["outcome"].tolist() == ["cannot tell"]
    assert "cannot tell" in repr(found)
    assert found.simulations_needed > count


def test_few_simulations_can_show_a_gross_fault() -> None:
    found = calibration_of(high=np.full(6, 0.001))
    assert found.outcome == "not calibrated"


def test_places_are_those_of_spawned_seeds() -> None:
    job = Job("{}", SETTINGS, 11)
    children = np.random.SeedSequence(11).spawn(3)
    mine = [job.generator(number).integers(2**40) for number in range(3)]
    assert mine == [np.random.default_rng(child).integers(2**40) for child in children]


def test_a_study_stopped_and_gone_on_with(tmp_path: Path) -> None:
    # As small a model as has a biomass: a model that is fed cannot be kept compiled on disk.
    spec, _ = fed(fishdown.read_model("few_passes").with_parts(lengths="none"))
    kept = tmp_path / "study.jsonl"
    seen: list[tuple[int, int]] = []
    first = fishdown.calibrate(
        spec,
        simulations=4,
        settings=SETTINGS,
        keep_in=kept,
        on_progress=lambda done, total: seen.append((done, total)),
    )
    assert seen == [(number, 4) for number in range(5)]
    lines = kept.read_text(encoding="utf-8").splitlines()
    kept.write_text("\n".join(lines[:3]) + "\n", encoding="utf-8")
    again = fishdown.calibrate(spec, simulations=8, settings=SETTINGS, keep_in=kept)
    # What is done again comes out the same, to the last draw.
    assert {number: again.rows[number] for number in range(4)} == first.rows
    assert again.simulations == 8
    assert set(again.places) == {*spec.priors, LOG_LIKELIHOOD, "biomass_after"}
    # Eight simulations show next to nothing, so that they call no model calibrated.
    assert again.outcome == "cannot tell"
    assert (again.table()["held_by_90"] > 0.5).all()
    with pytest.raises(fishdown.FitError, match="another calibration"):
        fishdown.calibrate("one_lake", simulations=1, settings=SETTINGS, keep_in=kept)
    # Another sampler, of all simulations at once: the same lakes, and places but for chance.
    numpyro = replace(SETTINGS, sampler="numpyro")
    other = tmp_path / "together.jsonl"
    together = fishdown.calibrate(spec, simulations=3, settings=numpyro, keep_in=other)
    for number, row in together.rows.items():
        assert row["tries"] == again.rows[number]["tries"]
        for name, place in row["places"].items():
            assert place == pytest.approx(again.rows[number]["places"][name], abs=0.25)


def test_on_a_cluster_of_two(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    distributed = pytest.importorskip("distributed")
    monkeypatch.setattr(study, "simulation", lambda job, number: {"seed": job.seed + number})
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, processes=False, dashboard_address=":0"
    ) as both:
        found = fishdown.calibrate(
            "few_passes",
            simulations=5,
            settings=SETTINGS,
            keep_in=tmp_path / "study.jsonl",
            scheduler=both.scheduler_address,
        )
    assert found.rows == {number: {"seed": 5 + number} for number in range(5)}
