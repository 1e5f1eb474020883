"""Pull by pull, added up, against the graph's own log-likelihood."""

from __future__ import annotations

import numpy as np
import pytest
from field_records import daily_pulls, write_folder
from graph_points import values_of_graph
from scipy import stats
from textbook import EVERY_MARK, textbook

import fishdown
from fishdown.models.data import fitting_spec
from fishdown.posterior.pointwise import informative_pulls, pull_log_densities
from fishdown.worlds import LakeTruth, World, simulate

BATCH = {"batch": "b", "mark": "fin_clip"}


@pytest.fixture(scope="module")
def campaign(tmp_path_factory: pytest.TempPathFactory) -> fishdown.Campaign:
    """Return two lakes with all that breaks the telescoping of the counting terms."""
    alder = daily_pulls(
        "Alder",
        [40, 31, 25, 9, 12, 30],
        recaptured=[4, 2, "", 0, 1, 5],
        released_again=[0, 6, 0, 0, 0, 2],
        spoiled=["no", "no", "no", "yes", "no", "no"],
        water_temp_c=[21.0, 18.5, "", 12.0, 9.0, ""],
        mesh_mm=[40, 60, 40, 60, 50, 40],
        bait_days=[0, 3, "", 7, 2, 1],
    )
    for pull, net in zip(alder, "ABABBA", strict=True):
        pull["net"] = net
    birch = daily_pulls("Birch", [9, 0, 14], recaptured=[1, 0, 2], water_temp_c=[20.0, 17.0, 15.0])
    marked = (("2024-05-01", "Alder", 30, 2), ("2024-06-03", "Alder", 20, 1))
    return fishdown.read(
        write_folder(
            tmp_path_factory.mktemp("records"),
            lakes=[{"lake": "Alder", "area_ha": 20}, {"lake": "Birch", "area_ha": 45}],
            pulls=[*alder, *birch],
            marked=[
                {"date": date, "lake": lake, **BATCH, "released": released, "died": died}
                for date, lake, released, died in (*marked, ("2024-05-01", "Birch", 25, 0))
            ],
        )
    )


@pytest.mark.parametrize(
    ("name", "parts"),
    [
        ("one_lake", {}),
        ("pooled_lakes", {"temperature": "none"}),
        ("pooled_lakes", {"evidence": "depletion"}),
        ("smooth_cooling", {}),
        ("detailed_nets", {}),
        ("few_passes", {}),
        ("marks_only", {}),
        ("one_lake", EVERY_MARK),
        ("marks_only", EVERY_MARK),
        ("one_lake", {"recaptures": "random"}),
        ("lost_marks", {}),
        ("hidden_fish", {}),
        ("hidden_fish", {"evidence": "depletion"}),
    ],
)
def test_pulls_add_up_to_the_graph(
    campaign: fishdown.Campaign, name: str, parts: dict[str, str]
) -> None:
    spec, _ = fitting_spec(campaign, fishdown.read_model(name).with_parts(**parts))
    posterior, potentials = values_of_graph(campaign, spec)
    found = pull_log_densities(posterior, campaign, spec)
    assert found.sizes == {"chain": 1, "draw": 3, "pull": 9}
    total = (found["catch"] + found["recaptures"]).sum("pull").values[0]
    expected = sum(potentials.get(one, 0.0) for one in ("counting", "catches", "recaptures"))
    assert total == pytest.approx(expected, rel=1e-10)


@pytest.fixture(scope="module")
def two_years() -> fishdown.Campaign:
    lakes = (LakeTruth("Alder", 20.0, 1_500), LakeTruth("Birch", 60.0, 3_000))
    world = World(lakes, years=2, rounds=3, batches=("both", "fin_clip"))
    return simulate(world, np.random.default_rng(1))[0]


@pytest.mark.parametrize(
    ("name", "parts"),
    [
        ("careful_marks", {"evidence": "marks"}),
        ("careful_marks", {"recaptures": "random"}),
        ("careful_marks", {"recaptures": "random", "evidence": "marks"}),
        ("shy_marks", {"evidence": "marks"}),
        ("many_years", {"evidence": "marks"}),
    ],
)
def test_several_years_and_batches_add_up_to_the_graph(
    two_years: fishdown.Campaign, name: str, parts: dict[str, str]
) -> None:
    """The shipped models as they are, with all else that draws must say: `test_at_draws`."""
    campaign = two_years
    spec, _ = fitting_spec(campaign, fishdown.read_model(name).with_parts(**parts))
    posterior, potentials = values_of_graph(campaign, spec)
    found = pull_log_densities(posterior, campaign, spec)
    total = (found["catch"] + found["recaptures"]).sum("pull").values[0]
    expected = sum(potentials.get(one, 0.0) for one in ("counting", "catches", "recaptures"))
    assert total == pytest.approx(expected, rel=1e-10)


def test_one_pull_is_a_betabinomial_and_a_hypergeometric(campaign: fishdown.Campaign) -> None:
    plain = {"temperature": "none", "nets": "alike", "nights": "alike", "drift": "none",
             "first_pulls": "alike"}  # fmt: skip
    spec, _ = fitting_spec(campaign, textbook(**plain))
    posterior, _ = values_of_graph(campaign, spec, points=1)
    # SciPy's hypergeometric wants whole numbers of fish.
    posterior["abundance"] = posterior["abundance"].round()
    found = pull_log_densities(posterior, campaign, spec).isel(chain=0, draw=0)
    N0 = float(posterior["abundance"].values[0, 0, 0])
    h = float(posterior["area_fished_ha"].values[0, 0, 0]) / 20.0
    s = float(posterior["schooling"].values[0, 0, 0])
    q = 1.0 - np.exp(-h)
    catch = stats.betabinom.logpmf(31, N0 - 40, (1 - q) / s**2, (1 - q) ** 2 / (q * s**2))
    assert float(found["catch"][1]) == pytest.approx(catch, rel=1e-10)
    # Two of the 28 marked fish that are at large from the start, less the four taken out.
    seen = stats.hypergeom.logpmf(2, N0 - 40, 28 - 4, 31)
    assert float(found["recaptures"][1]) == pytest.approx(seen, rel=1e-10)
    # Nobody looked at the third catch; the fourth pull was spoiled, its marks speak.
    assert float(found["recaptures"][2]) == 0.0
    assert float(found["catch"][3]) == 0.0
    assert float(found["recaptures"][3]) != 0.0
    assert informative_pulls(campaign, spec).all()
