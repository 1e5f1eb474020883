"""The recipe of DEVELOPERS.md followed: an effect of wind, all of it in this file."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest

import fishdown
from fishdown.decisions.schedule import ordered
from fishdown.decisions.simulation import hazard_ahead
from fishdown.equality import by_value
from fishdown.identifiability.seasons import what_is_identified
from fishdown.models.inputs import over
from fishdown.models.part import Effect, Parameter
from fishdown.models.parts import join, leave
from fishdown.models.pull_table import PullTable
from fishdown.models.spec import model_folder, parse_model
from fishdown.records import read_records
from fishdown.records.covariates import Covariate
from fishdown.records.plausible import Range
from fishdown.records.tables import add_covariate, remove_covariate

TRUE_EFFECT = 0.4


@by_value
@dataclass(frozen=True, eq=False)
class WindInputs[A]:
    """Wind at each pull, in tens of m/s."""

    speed: A = field(metadata=over("pull"))


def _log_effect(
    xp: Any, choice: str, inputs: WindInputs[Any], values: Mapping[str, Any], reference: float
) -> Any:
    return xp.log(values["wind_effect"]) * inputs.speed


def _told(pulls: pd.DataFrame) -> tuple[str, str]:
    wind = pulls["wind_m_s"].dropna()
    if wind.nunique() < 2:
        return "", "no two wind speeds on record: no effect of wind"
    return f"wind ({wind.min():g}–{wind.max():g} m/s)", ""


WIND = Effect(
    name="wind",
    choices={"none": (), "log_linear": ("wind_effect",)},
    parameters={
        "wind_effect": Parameter("catchability ratio for 10 m/s of wind", label="ratio per 10 m/s")
    },
    inputs=lambda pulls, known: WindInputs(pulls.filled("wind_m_s", known) / 10.0),
    log_effect=_log_effect,
    unfed=lambda pulls: "no wind on record" if np.isnan(pulls["wind_m_s"]).all() else "",
    told=_told,
)


@pytest.fixture(autouse=True)
def wind() -> Iterator[None]:
    calm = Covariate("the wind", "wind at the pull", "m s-1", Range(0, 60, "m/s"), (0.0, 12.0))
    add_covariate("wind_m_s", calm)
    join(WIND)
    yield
    leave(WIND)
    remove_covariate("wind_m_s")


def model() -> fishdown.ModelSpec:
    text = (model_folder() / "one_lake.toml").read_text(encoding="utf-8")
    text = text.replace("[parts]", '[parts]\nwind = "log_linear"')
    prior = "wind_effect = { lognormal = { median = 1.0, log_sd = 0.7 } }"
    return parse_model(text.replace("[priors]", f"[priors]\n{prior}"), "windy_lake")


@pytest.fixture
def records(folder_of: Callable[..., Path]) -> Path:
    """Write a season in which 10 m/s of wind leave two fifths of the catch."""
    rng = np.random.default_rng(3)
    left, pulls = 3_000, []
    for day in range(1, 31):
        speed = float(rng.uniform(0.0, 20.0))
        share = 0.02 * TRUE_EFFECT ** (speed / 10.0) * rng.gamma(16.0, 1.0 / 16.0)
        caught = int(rng.binomial(left, share))
        left -= caught
        pulls.append({"date": f"2025-06-{day:02d}", "lake": "Alder", "net": "A", "caught": caught,
                      "recaptured": int(rng.binomial(caught, 0.1)), "wind_m_s": speed})  # fmt: skip
    return folder_of(
        lakes=[{"lake": "Alder", "area_ha": 20}],
        marked=[{"date": "2025-05-01", "lake": "Alder", "batch": "spring", "mark": "fin_clip",
                 "released": 300}],
        pulls=pulls,
    )  # fmt: skip


@pytest.mark.sampling
def test_a_part_of_ones_own_is_fitted_reported_and_told(records: Path) -> None:
    assert any("wind (" in str(one) for one in what_is_identified(read_records(records)))
    settings = fishdown.SamplerSettings(draws=600, tune=500, chains=2, cores=1, seed=1)
    # One pull a day: nights are left out. Drift would add to what wind does to a pull to come.
    calm = model().with_parts(drift="none")
    fit = fishdown.fit(fishdown.read(records), calm, settings=settings, compare_evidence=False)
    row = fit.estimates(despite_gate=True).set_index("quantity").loc["wind_effect"]
    assert row["low"] < TRUE_EFFECT < row["high"]
    assert row["high"] < 0.9
    assert row["unit"] == "ratio per 10 m/s"
    assert "wind_effect" in set(fit.prior_shares()["quantity"])
    # Pulls to come have the season's usual wind.
    rng, day = np.random.default_rng(1), dt.date(2025, 7, 15)
    posterior = fit.tree["posterior"].dataset
    warm = np.full((posterior["schooling"].size, 1), 20.0)
    ahead = hazard_ahead(fit, 0, ordered([(day, "A", 20.0)]), warm, rng)
    usual = float(np.median(fit.campaign.pulls["wind_m_s"])) / 10.0
    wanted = posterior["area_fished_ha"].isel(lake=0) / 20.0 * posterior["wind_effect"] ** usual
    wanted = wanted * posterior["later_pulls"]
    assert ahead[:, 0] == pytest.approx(wanted.values.ravel(), rel=1e-9)


def test_records_that_cannot_feed_it_leave_it_out(folder_of: Callable[..., Path]) -> None:
    folder = folder_of(
        lakes=[{"lake": "Alder", "area_ha": 20}],
        pulls=[{"date": f"2025-06-0{day}", "lake": "Alder", "net": "A", "caught": 40 - day}
               for day in range(1, 7)],
    )  # fmt: skip
    spec, notes = fishdown.models.data.fitting_spec(fishdown.read(folder), model())
    assert spec.part("wind") == "none"
    assert "no wind on record" in notes


def test_its_inputs_are_those_of_the_records() -> None:
    pulls = PullTable(
        season=np.zeros(2, np.int64), lake=np.zeros(2, np.int64), net=np.zeros(2, np.int64),
        seasons=(("Alder", "2025"),), nets=(("Alder", "A"),),
        date=np.array(["2025-06-01"] * 2, "datetime64[ns]"),
        columns={"wind_m_s": np.array([5.0, np.nan])},
    )  # fmt: skip
    assert WIND.inputs(pulls, pulls) == WindInputs(np.array([0.5, 0.5]))
