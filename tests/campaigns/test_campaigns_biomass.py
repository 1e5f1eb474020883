"""From number and weight to kg/ha: weighed trout of Mack Creek, printed facts on carp.

Trout: Gregory & Arismendi 2020 (CC0), all six reaches of 2012. Carp: Mundahl et al. 2024, Water
16(18):2571 (abstract). `tests/published/SOURCES.md` names both in full.
"""

from __future__ import annotations

import numpy as np
import pytest
import xarray as xr
from campaigns_by_lake import by_lake, mack_creek_catches, published_rows
from field_records import daily_pulls, write_folder
from scipy import stats
from textbook import textbook

import fishdown
from fishdown.posterior.quantities import reported_quantities
from fishdown.posterior.sampling import SamplerSettings

SETTINGS = SamplerSettings(draws=2000, seed=6)
# Six reaches of 50 m; a width of 5 m is invented, and so is the threshold.
CREEK_HA, CREEK_THRESHOLD = 0.15, 50.0


@pytest.fixture(scope="module")
def weights_kg() -> np.ndarray:
    rows = published_rows("and_mack_trout_weights_2012.csv")
    return np.array([float(row["weight_g"]) for row in rows]) / 1000.0


@pytest.fixture(scope="module")
def trout(weights_kg, tmp_path_factory):
    catches = [c for reach, c in mack_creek_catches().items() if reach.startswith("2012")]
    both_passes = np.sum(catches, axis=0).tolist()
    assert both_passes == [646, 144]
    day = "2012-09-04"
    campaign = fishdown.read(
        write_folder(
            tmp_path_factory.mktemp("trout"),
            species="cutthroat trout",
            threshold=CREEK_THRESHOLD,
            lakes=[{"lake": "Mack Creek", "area_ha": CREEK_HA}],
            pulls=daily_pulls("Mack Creek", both_passes, start=day),
            measured=[{"date": day, "lake": "Mack Creek", "weight_kg": w} for w in weights_kg],
        )
    )
    fit = fishdown.fit(campaign, "few_passes", settings=SETTINGS)
    assert fit.quality.passed
    return fit


def test_mean_weight_is_the_sample_mean(trout, weights_kg):
    """784 weighed trout, 8.36 g on average, standard error 0.37 g (numpy)."""
    error = stats.sem(weights_kg)
    assert (len(weights_kg), round(1e3 * error, 2)) == (784, 0.37)
    posterior = by_lake(trout.estimates(), "mean_weight").loc["Mack Creek"]
    assert posterior["mean"] == pytest.approx(weights_kg.mean(), abs=error)
    assert posterior["low"] < weights_kg.mean() < posterior["high"]


def test_biomass_is_number_times_weight_over_area(trout, weights_kg):
    """By hand: 646²/(646 − 144) = 831.31 trout, less 790 after netting, × mean weight / area.

    A posterior's median differs from the product of the best values by about the square of its
    relative standard error, here 4.6 %² = 0.2 %; 1 % leaves room for Monte-Carlo error. What is
    left after netting is known to a quarter only, and its interval must hold the product.
    """
    number = 646**2 / (646 - 144)
    before = by_lake(trout.estimates(), "biomass_before").loc["Mack Creek"]
    by_hand = number * weights_kg.mean() / CREEK_HA
    assert before["median"] == pytest.approx(by_hand, rel=0.01)
    after = by_lake(trout.estimates(), "biomass_after").loc["Mack Creek"]
    assert after["low"] < (number - 790) * weights_kg.mean() / CREEK_HA < after["high"]


def test_verdict_on_trout(trout, weights_kg):
    """The normal approximation by hand puts P(below 50 kg/ha) at 0.96: very likely."""
    number, number_error = 646**2 / (646 - 144), 10.38
    mean = number * weights_kg.mean() / CREEK_HA
    relative = np.hypot(number_error / number, stats.sem(weights_kg) / weights_kg.mean())
    by_hand = stats.norm.cdf(CREEK_THRESHOLD, mean, mean * relative)
    assert 0.90 < by_hand < 0.99
    before, after = (row for _, row in trout.verdicts().iterrows())
    assert (before["when"], before["words"]) == ("before", "very likely")
    assert (after["when"], after["words"]) == ("after", "virtually certain")


# Printed: fish/ha and kg/ha of the two basins of Lake Winona. Basin areas are invented.
BASINS = {"west": (105.0, 360.0), "east": (34.0, 116.0)}
BASIN_HA, CARP_KG = 100.0, 3.42
# Invented marks of fish that all go back, enough to make the printed densities known to 4 %:
# released, caught and recaptured, so that released × caught / recaptured is 10,500 and 3,400 fish.
MARKS = {"west": (2000, 2100, 400), "east": (1000, 1360, 400)}


def test_printed_carp_facts():
    facts = {row["item"]: row["value"] for row in published_rows("carp_published_facts.csv")}
    assert float(facts["Lake Winona carp mean weight"]) == CARP_KG
    for basin, (density, biomass) in BASINS.items():
        assert float(facts[f"Lake Winona density {basin} basin"]) == density
        assert float(facts[f"Lake Winona biomass {basin} basin"]) == biomass
    # 6,944 adults, printed as more than 6,900.
    adults = float(facts["Lake Winona total biomass"]) / CARP_KG
    assert float(facts["Lake Winona adult number (more than)"]) < adults < 7000


@pytest.fixture(scope="module")
def carp(tmp_path_factory):
    """Both basins with invented marks, and invented weights around the printed mean."""
    day = "2020-06-01"
    spread = stats.gamma(11.0).ppf((np.arange(200) + 0.5) / 200)  # 200 fish a basin, variation 0.3
    weights = CARP_KG * spread / spread.mean()
    campaign = fishdown.read(
        write_folder(
            tmp_path_factory.mktemp("carp"),
            lakes=[{"lake": basin, "area_ha": BASIN_HA} for basin in BASINS],
            marked=[
                {
                    "date": "2020-05-01",
                    "lake": basin,
                    "batch": "b",
                    "mark": "pit_tag",
                    "released": released,
                }
                for basin, (released, _, _) in MARKS.items()
            ],
            pulls=[
                row
                for basin, (_, caught, recaptured) in MARKS.items()
                for row in daily_pulls(
                    basin, [caught], day, recaptured=recaptured, released_again=caught
                )
            ],
            measured=[
                {"date": day, "lake": basin, "weight_kg": round(w, 4)}
                for basin in BASINS
                for w in weights
            ],
        )
    )
    fit = fishdown.fit(campaign, textbook("marks_only"), settings=SETTINGS)
    assert fit.quality.passed
    return fit


def test_biomass_of_known_carp_is_the_printed_one(carp):
    """Without any uncertainty, 105 × 3.42 = 359.1 and 34 × 3.42 = 116.3 kg/ha.

    Printed are 360 and 116, within the rounding of the printed factors (½ fish/ha).
    """
    density = xr.DataArray(
        [[[number for number, _ in BASINS.values()]]], dims=("chain", "draw", "season")
    )
    known = xr.Dataset(
        {"abundance": density * BASIN_HA, "mean_weight": xr.full_like(density, CARP_KG)}
    )
    biomass = reported_quantities(known, carp.campaign, carp.spec)["biomass_before"].values.ravel()
    assert biomass == pytest.approx([359.1, 116.28])
    for said, (density_of_basin, printed) in zip(biomass, BASINS.values(), strict=True):
        assert printed == pytest.approx(said, rel=0.5 / density_of_basin)


@pytest.mark.parametrize("basin", BASINS)
def test_both_basins_are_above_100_kg_per_ha(carp, basin):
    """The marks are invented: this follows the printed density into the statement, no more.

    At 116 kg/ha known to 4 %, 100 kg/ha is 3.9 standard errors away.
    """
    biomass = by_lake(carp.estimates(), "biomass_before").loc[basin]
    assert biomass["low"] < BASINS[basin][1] < biomass["high"]
    verdicts = carp.verdicts()
    mine = verdicts[verdicts["lake"] == basin]
    assert np.all(mine["threshold_kg_per_ha"] == 100.0)
    assert np.all(mine["probability_below"] < 0.01)
    assert set(mine["words"]) == {"exceptionally unlikely"}
    assert np.all(mine["statement"].str.contains("common carp"))
