"""What the measured fish feed: which parts fall away, and where a mean weight comes from."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from field_records import daily_pulls
from scipy import stats

import fishdown
from fishdown.models.data import fitting_spec, model_data
from fishdown.models.parts.weights.measured import fitting_weights, weight_data, weight_origins
from fishdown.records.rules_sizes import FEWEST_PAIRS

LAKES = ("Alder", "Birch")
YEARS = ("2023", "2024")


@pytest.fixture
def campaign_of(folder_of: Callable[..., Path]) -> Callable[..., fishdown.Campaign]:
    """Two lakes in two years; fish as (lake, year, length in mm, weight in kg)."""

    def make(
        fish: Sequence[tuple[str, str, float | str, float | str]], years: Sequence[str] = YEARS
    ) -> fishdown.Campaign:
        return fishdown.read(
            folder_of(
                lakes=[{"lake": lake, "area_ha": 5} for lake in LAKES],
                pulls=[
                    pull
                    for lake in LAKES
                    for year in years
                    for pull in daily_pulls(lake, [40, 20, 9], start=f"{year}-06-01")
                ],
                measured=[
                    {"date": f"{year}-06-01", "lake": lake, "length_mm": mm, "weight_kg": kg}
                    for lake, year, mm, kg in fish
                ],
            )
        )

    return make


def pairs(lake: str, year: str, count: int, factor: float = 1.4e-8) -> list[Any]:
    lengths = 400 + 20 * np.arange(count)
    return [(lake, year, int(mm), round(factor * mm**3, 3)) for mm in lengths.tolist()]


def parts_left(campaign: fishdown.Campaign, name: str = "pooled_lakes") -> tuple[str, ...]:
    parts = fishdown.read_model(name).parts
    left = {**parts, **fitting_weights(campaign, parts)[0]}
    return tuple(left[part] for part in ("weights", "lengths", "sizes"))


def test_lengths_speak_once_enough_fish_have_both(campaign_of: Callable[..., Any]) -> None:
    campaign = campaign_of([*pairs("Alder", "2023", FEWEST_PAIRS), ("Birch", "2024", 500, "")])
    assert parts_left(campaign) == ("measured", "log_log", "by_lake_and_year")
    _, notes = fitting_weights(campaign, fishdown.read_model("pooled_lakes").parts)
    assert notes == ()


def test_too_few_pairs_are_noted(campaign_of: Callable[..., Any]) -> None:
    campaign = campaign_of([*pairs("Alder", "2023", FEWEST_PAIRS - 1), ("Birch", "2024", 500, "")])
    changes, notes = fitting_weights(campaign, fishdown.read_model("pooled_lakes").parts)
    assert changes["lengths"] == "none"
    assert notes == (
        "1 fish with a length but no weight: 9 with both are too few to estimate weight from "
        "length (10 needed)",
    )


def test_what_has_nothing_to_add_falls_away_in_silence(campaign_of: Callable[..., Any]) -> None:
    campaign = campaign_of(pairs("Alder", "2023", 20), years=["2023"])
    assert parts_left(campaign) == ("measured", "none", "by_season")
    assert fitting_weights(campaign, fishdown.read_model("pooled_lakes").parts)[1] == ()


def test_only_lengths_say_nothing_of_weight(campaign_of: Callable[..., Any]) -> None:
    assert parts_left(campaign_of([("Birch", "2024", 500, "")])) == ("none", "none", "by_season")


def test_sums_by_hand(campaign_of: Callable[..., Any]) -> None:
    fish = [*pairs("Alder", "2023", 10), ("Alder", "2024", 640, ""), ("Birch", "2024", "", 2.5)]
    campaign = campaign_of(fish)
    plain = fishdown.read_model("pooled_lakes").with_parts(weighed="at_random")
    data = weight_data(campaign, plain.parts)
    lengths = np.log(400 + 20 * np.arange(10))
    assert data.centre == pytest.approx(lengths.mean())
    assert data.lengths.tolist() == [10, 1, 0, 0]
    assert data.length_total_log == pytest.approx([0, np.log(640) - lengths.mean(), 0, 0], abs=1e-9)
    assert data.weighed.tolist() == [0, 0, 0, 1]
    assert data.weight_total.tolist() == [0, 0, 0, 2.5]
    assert data.pairs.tolist() == [10, 0]
    slope = data.pair_squares[1, 0] / data.pair_squares[0, 0]
    weights = np.log([kg for _, _, _, kg in fish[:10]])
    assert slope == pytest.approx(stats.linregress(lengths, weights).slope)
    unrelated = weight_data(campaign, plain.with_parts(lengths="none").parts)
    assert unrelated.weighed.tolist() == [10, 0, 0, 1]
    assert unrelated.lengths.sum() == unrelated.pairs.sum() == 0


WEIGHED = pairs("Alder", "2023", 10)


@pytest.mark.parametrize(
    ("model", "fish", "origins"),
    [
        ("one_lake", WEIGHED, ["weighed", "years", "nothing", "nothing"]),
        ("pooled_lakes", WEIGHED, ["weighed", "years", "lakes", "lakes"]),
        # Weight at length is known for Alder; Birch has it from Alder only when they are pooled.
        (
            "one_lake",
            [*WEIGHED, ("Alder", "2024", 500, ""), ("Birch", "2023", 500, "")],
            ["weighed", "lengths", "nothing", "nothing"],
        ),
        (
            "pooled_lakes",
            [*WEIGHED, ("Alder", "2024", 500, ""), ("Birch", "2023", 500, "")],
            ["weighed", "lengths", "lengths", "years"],
        ),
    ],
)
def test_where_a_mean_weight_comes_from(
    campaign_of: Callable[..., Any], model: str, fish: list[Any], origins: list[str]
) -> None:
    campaign = campaign_of(fish)
    spec, _ = fitting_spec(campaign, fishdown.read_model(model))
    assert list(weight_origins(campaign, spec.parts)) == origins


def test_the_graph_is_priors_times_gamma_times_regression(campaign_of: Callable[..., Any]) -> None:
    """Both levels and the relation, written out fish by fish with SciPy."""
    from fishdown.models.graph import build

    fish = [
        *pairs("Alder", "2023", 10),
        ("Alder", "2023", "", 2.2),
        ("Alder", "2024", 480, ""),
        ("Alder", "2024", 610, ""),
        ("Birch", "2023", 550, 2.9),
    ]
    campaign = campaign_of(fish)
    plain = fishdown.read_model("pooled_lakes").with_parts(weighed="at_random")
    spec, _ = fitting_spec(campaign, plain)
    model = build(spec, model_data(campaign, spec), campaign.coords)
    bare = spec.with_parts(weights="none")
    without = build(bare, model_data(campaign, bare), campaign.coords)
    measured = np.log([mm for _, _, mm, kg in fish if mm and kg])
    centre = measured.mean()
    values = {
        "mean_weight_typical": 2.0, "weight_spread": 0.3, "weight_year_spread": 0.2,
        "log_weight_of_lake": np.array([0.8, 1.1]),
        "log_mean_weight": np.array([0.7, 0.9, 1.2, -0.4]),  # the last: spreads from its lake
        "weight_variation": 0.5, "condition_typical": 1.3, "condition_spread": 0.1,
        "log_condition": np.log([1.35, 1.5]), "length_exponent": 3.1, "length_scatter": 0.1,
    }  # fmt: skip

    def log_density(model: Any) -> float:
        point = {
            name: np.array(value) for name, value in model.initial_point(random_seed=1).items()
        }
        for variable in model.free_RVs:
            if variable.name in values:
                value = np.asarray(values[variable.name], float)
                transform = model.rvs_to_transforms[variable]
                if transform is not None:
                    value = transform.forward(value, *variable.owner.inputs).eval()
                point[model.rvs_to_values[variable].name] = value
        return float(model.compile_logp(jacobian=False)(point))

    added = {v.name for v in model.free_RVs} - {v.name for v in without.free_RVs}
    assert added == set(values)
    expected = sum(
        float(spec.priors[name.removesuffix("_typical")].log_density(values[name]))
        for name in values
        if not name.startswith("log_")
    )
    expected += stats.norm(np.log(2.0), 0.3).logpdf([0.8, 1.1]).sum()
    expected += stats.norm([0.8, 0.8, 1.1], 0.2).logpdf([0.7, 0.9, 1.2]).sum()
    expected += (
        stats.norm().logpdf(-0.4)
        + stats.norm(np.log(1.3), 0.1).logpdf(values["log_condition"]).sum()
    )
    season = {("Alder", "2023"): 0.7, ("Alder", "2024"): 0.9, ("Birch", "2023"): 1.2}
    for lake, year, mm, kg in fish:
        mean, v = np.exp(season[lake, year]), 0.5
        if not mm:
            v = np.sqrt((1 + 0.5**2) * np.exp(0.1**2) - 1)
            expected += stats.gamma(v**-2, scale=mean * v**2).logpdf(kg)
            continue
        condition = values["log_condition"][LAKES.index(lake)]
        alpha = condition + 3 * centre - 8 * np.log(10.0)
        z = np.exp(alpha + 0.1**2 / 2 + 3.1 * (np.log(mm) - centre))
        expected += stats.gamma(v**-2, scale=mean * v**2).logpdf(z) + np.log(3.1 * z)
        if kg:
            middle = alpha + 3.1 * (np.log(mm) - centre)
            expected += stats.norm(middle, 0.1).logpdf(np.log(kg))
    assert log_density(model) - log_density(without) == pytest.approx(expected, abs=1e-5)
