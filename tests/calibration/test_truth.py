"""Lakes drawn from the priors, against the graph and against closed forms; nothing is sampled."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import xarray as xr
from graph_points import hazards_of_graph
from scipy import special, stats
from textbook import textbook

import fishdown
from fishdown.calibration.crew_notes import draw_campaign, left_of, records_of, worth_fitting
from fishdown.calibration.design import Design, design_for, fed
from fishdown.calibration.truth import Truth, draw_truth, effects
from fishdown.calibration.walked import with_truth
from fishdown.calibration.whole_fish import in_whole_fish
from fishdown.models.data import fitting_spec, model_data
from fishdown.models.graph import build
from fishdown.models.parts.open_lake.present import OpenLake
from fishdown.models.spec import model_names
from fishdown.posterior.at_draws import AtDraws, likelihood_of

# Other choices of a shipped model, which a model file of one's own may have.
VARIANTS: list[tuple[str, dict[str, str]]] = [
    *((name, {}) for name in model_names()),
    ("many_years", {"evidence": "marks"}),
    ("many_years", {"evidence": "depletion"}),
    ("many_years", {"pooling": "none"}),
    ("many_years", {"sizes": "by_season"}),
    ("many_years", {"weighed": "at_random"}),
    ("one_lake", {"weighed": "at_random"}),
    ("pooled_lakes", {"weighed": "by_catch"}),
]


def drawn(
    name: str, seed: int, **parts: str
) -> tuple[fishdown.ModelSpec, Design, fishdown.Campaign, Truth]:
    spec, _ = fed(fishdown.read_model(name).with_parts(**parts))
    design = design_for(spec)
    campaign, truth, _ = draw_campaign(spec, design, design.template(), np.random.default_rng(seed))
    return spec, design, campaign, truth


@pytest.mark.parametrize("name", model_names())
def test_the_design_feeds_every_part(name: str) -> None:
    # But for levels of years, for which a lake would need two seasons, for antennas, for runs of
    # another gear, for second looks, and for water that rises and falls.
    spec, left_out = fed(fishdown.read_model(name))
    exempt = {'sizes = "by_lake_and_year"', 'antenna = "heard"', 'surveys = "second_gear"'}
    exempt |= {'second_looks = "taken"', 'area = "by_date"'}
    assert set(left_out) <= exempt
    fitted, notes = fitting_spec(design_for(spec).template(), spec)
    assert notes == ()
    assert fitted == spec


@pytest.mark.parametrize(("name", "parts"), VARIANTS)
def test_the_graph_stands_where_the_truth_is(name: str, parts: dict[str, str]) -> None:
    # By the sampler's working variables, the graph has the parameters, fish and hazards that were
    # drawn without it.
    spec, _, campaign, truth = drawn(name, 3, **parts)
    data = model_data(campaign, spec)
    graph = build(spec, data, campaign.coords)
    few = xr.Dataset(
        {
            free.name: (("sample", *(f"{free.name}_{i}" for i in range(free.ndim))),
                        np.zeros((1, *free.shape.eval())))
            for free in graph.free_RVs
        }
        | {
            name: (("sample", "season"), np.zeros((1, len(truth.abundance))))
            for name in ("abundance", "carried_marks")
            if name in graph.named_vars
        }
    )  # fmt: skip
    few = with_truth(few, truth, spec, data).isel(sample=[1])
    abundance = AtDraws(graph, graph["abundance"])
    np.testing.assert_allclose(abundance(few)[0], truth.abundance)
    np.testing.assert_allclose(few["abundance"].values[0], truth.abundance)
    # In whole fish, the graph has the fish that the crew's nets met.
    moved, whole = in_whole_fish(few, data), truth.in_whole_fish()
    np.testing.assert_allclose(moved["abundance"].values[0], whole.abundance)
    if "vulnerable" not in truth.values:
        # To the last bit, or ties would be none.
        np.testing.assert_array_equal(moved["abundance"].values[0], whole.abundance)
    np.testing.assert_allclose(abundance(moved)[0], whole.abundance)
    if spec.part("years") == "apart":
        np.testing.assert_allclose(whole.unmarked, np.rint(truth.unmarked), atol=1e-6)
        assert (np.abs(whole.vulnerable_fish - truth.vulnerable_fish) <= 0.5).all()
    for parameter in ("area_fished_ha", "catchability", "mean_weight", "condition",
                      "survival", "winter_survival", "replacement",
                      "weight_variation"):  # fmt: skip
        if parameter in graph.named_vars:
            found = AtDraws(graph, graph[parameter])(few)[0]
            np.testing.assert_allclose(found, truth.values[parameter])
    if "overwinter_retention" in truth.values:
        found = AtDraws(graph, graph["carried_marks"])(few)[0]
        np.testing.assert_allclose(found, truth.carried, atol=1e-9)
    found = hazards_of_graph(few, campaign, spec, graph)[0]
    np.testing.assert_allclose(found, truth.hazard, rtol=1e-8)
    assert np.isfinite(likelihood_of(graph)(few)).all()


@pytest.mark.parametrize("name", ["careful_marks", "shy_marks"])
def test_marks_by_hand(name: str) -> None:
    spec, design, campaign, truth = drawn(name, 4)
    batches, per_lake = campaign.batches, len(design.batches)
    seen = np.nansum(batches["batch_recaptured"].values, axis=1)
    assert (seen <= truth.counting).all()
    assert seen.sum() == campaign.pulls["recaptured"].values.sum()
    if name == "shy_marks":
        assert per_lake == 1
        return
    double = batches["mark"].values == "both"
    tallies = sum(batches[kind].values for kind in ("both_seen", "clip_only", "tag_only"))
    np.testing.assert_array_equal(tallies, np.where(double, seen, 0.0))
    # Over many lakes, as many marks count as survival and either mark left allow.
    planned = model_data(design.template(), spec)
    rng = np.random.default_rng(5)
    share, expected = [], []
    for _ in range(200):
        values = (one := draw_truth(spec, design, planned, rng)).values
        c, t, alive = (
            values[part][0] for part in ("clip_retention", "tag_retention", "post_release_survival")
        )
        share.append(one.counting.reshape(3, 2).mean(axis=0) / [90, 60])
        expected.append([alive * (c + t - c * t), alive * c])
    off = np.array(share) - np.array(expected)
    assert (np.abs(off.mean(axis=0)) < 4.0 * off.std(axis=0) / np.sqrt(200)).all()


def test_fish_that_were_measured_by_hand() -> None:
    spec, _, _, truth = drawn("one_lake", 8, weighed="at_random")
    many = Design((40.0,), (0,), (20.0,), nets=1, weighed=4_000, measured=4_000, both=4_000)
    fish = records_of(truth, many, many.template(), np.random.default_rng(9))[0].fish
    length, weight = fish["length"].values, fish["weight"].values
    values = {name: float(np.ravel(value)[0]) for name, value in truth.values.items()}
    both = ~np.isnan(length) & ~np.isnan(weight)
    slope, level = np.polyfit(
        np.log(length[both]) - np.log(length[both]).mean(), np.log(weight[both]), 1
    )
    scatter = values["length_scatter"]
    assert slope == pytest.approx(values["length_exponent"], abs=0.1)
    mean_length = np.exp(np.log(length[both]).mean())
    condition = 1e5 * 1e3 * np.exp(level) / mean_length**3
    assert condition == pytest.approx(values["condition"], rel=5.0 * scatter / np.sqrt(4_000))
    for mine in (both, np.isnan(length)):
        error = values["weight_variation"] / np.sqrt(4_000)
        assert weight[mine].mean() == pytest.approx(values["mean_weight"], rel=6.0 * error)
    assert spec.part("lengths") == "log_log"


def test_fish_of_catches_by_hand() -> None:
    """Many fish of a few catches: what each catch weighs, and how catches scatter about that."""
    _, _, _, truth = drawn("one_lake", 8, lengths="none")
    set_to = {
        "net_selectivity": 1.2, "electrofishing_selectivity": 0.9, "weight_trend": 0.05,
        "weight_pull_spread": 0.05, "weight_variation": 0.3, "mean_weight": 2.0,
    }  # fmt: skip
    values = truth.values | {name: np.array([value]) for name, value in set_to.items()}
    truth = replace(truth, values=values)
    days = (0, 15, 30, 45, 60)
    many = Design((40.0,), days, (20.0,) * 5, nets=1, weighed=24_000)
    template = many.template()
    relative: list[list[float]] = [[] for _ in range(1 + len(days))]
    rng = np.random.default_rng(9)
    for _ in range(60):
        campaign, _ = records_of(truth, many, template, rng)
        day = (
            (campaign.fish["date"].values - campaign.pulls["date"].values[0])
            .astype("timedelta64[D]")
            .astype(int)
        )
        for place, when in enumerate((-30, *days)):
            gone = campaign.pulls["gone_before"].values[max(place - 1, 0)]
            share = (truth.abundance[0] - gone) / truth.abundance[0]
            expected = 2.0 * np.exp(0.05 * when / 30.0) * share**0.2
            expected *= 0.9 if when < 0 else 1.2
            relative[place].append(campaign.fish["weight"].values[day == when].mean() / expected)
    # 4,000 fish a catch: their own scatter of 0.3 / √4000 is small beside that of catches.
    found = np.array(relative)
    error = np.hypot(0.05, 0.3 / np.sqrt(4_000))
    assert found.mean(axis=1) == pytest.approx(np.ones(6), abs=4.0 * error / np.sqrt(60))
    assert found.std() == pytest.approx(error, rel=4.0 / np.sqrt(2 * found.size))


def test_level_of_the_hazard_and_truncated_abundance() -> None:
    spec, _ = fed(fishdown.read_model("one_lake"))
    design = design_for(spec)
    planned = model_data(design.template(), spec)
    rng = np.random.default_rng(4)
    drawn = [draw_truth(spec, design, planned, rng) for _ in range(4_000)]
    fish = np.array([truth.abundance[0] for truth in drawn])
    assert fish.min() > design.marked - 0.5
    median, log_sd = spec.priors["density"].numbers
    law = stats.lognorm(s=log_sd, scale=median * design.areas[0])
    beyond = law.cdf(design.marked - 0.5)
    assert stats.kstest((law.cdf(fish) - beyond) / (1.0 - beyond), "uniform").pvalue > 0.01
    one = drawn[0]
    level = np.log(one.hazard) - effects(spec, one.values, planned)
    np.testing.assert_allclose(level, np.log(one.values["area_fished_ha"][0] / design.areas[0]))


def test_marks_that_count_tie_the_chance_to_abundance() -> None:
    # In a pond that may hold fewer fish than were marked, many marks lost are the likelier story:
    # the chance to be kept is no longer that of its prior.
    spec, _ = fed(fishdown.read_model("lost_marks"))
    small = Design(
        (1.0, 1.0, 1.0), (0, 1), (20.0, 20.0), nets=2, batches=(("spring", "fin_clip", 60),)
    )
    planned = model_data(small.template(), spec)
    rng = np.random.default_rng(5)
    kept = [draw_truth(spec, small, planned, rng).values["mark_retention"][0] for _ in range(250)]
    middle, spread = spec.priors["mark_retention"].numbers
    prior = stats.johnsonsb(-special.logit(middle) / spread, 1.0 / spread)
    # By hand: the prior, weighted by the probability that three lakes hold their marks.
    grid = np.linspace(0.001, 0.999, 400)
    median, log_sd = spec.priors["density"].numbers
    marks = np.arange(61)
    room = stats.lognorm(s=log_sd, scale=median).sf(marks - 0.5)
    chance = np.array([(stats.binom.pmf(marks, 60, p) * room).sum() for p in grid])
    weight = prior.pdf(grid) * chance**3
    expected = (grid * weight).sum() / weight.sum()
    assert expected < prior.mean() - 0.005
    assert np.mean(kept) == pytest.approx(expected, abs=4.0 * np.std(kept) / np.sqrt(250))


def test_the_books_balance() -> None:
    spec, _ = fed(fishdown.read_model("pooled_lakes"))
    design = design_for(spec)
    campaign, truth, tries = draw_campaign(
        spec, design, design.template(), np.random.default_rng(6)
    )
    assert tries >= 1
    assert worth_fitting(campaign, design)
    for season in range(3):
        pulls = campaign.season_pulls(season)
        assert pulls["caught"].values.sum() == campaign.seasons["gone"].values[season]
        assert campaign.seasons["gone"].values[season] <= truth.abundance[season] + 0.5
        left = design.marked - pulls["recaptured"].values.sum()
        assert campaign.seasons["marks_left"].values[season] == left
    assert (
        model_data(campaign, spec).counts.bound <= truth.vulnerable_fish - truth.counting + 0.5
    ).all()


def test_fish_that_go_back_are_drawn_from_an_urn() -> None:
    spec, _ = fed(textbook("marks_only"))
    design = design_for(spec)
    template = design.template()
    planned = model_data(template, spec)
    rng = np.random.default_rng(7)
    truth = draw_truth(spec, design, planned, rng)
    found = [
        records_of(truth, design, template, rng)[0].pulls["recaptured"].values for _ in range(150)
    ]
    assert design.examined is not None
    law = stats.hypergeom(round(truth.abundance[0]), design.marked, design.examined)
    error = law.std() / np.sqrt(np.size(found))
    assert np.mean(found) == pytest.approx(law.mean(), abs=4.0 * error)


def test_fish_arrive_in_lakes_where_none_die() -> None:
    """The graph's own fish before each pull, where the crew's fish were drawn."""
    spec, _, campaign, truth = drawn("one_lake", 5, natural_deaths="none")
    assert spec.part("immigration") == "steady"
    data = model_data(campaign, spec)
    rates = OpenLake(immigration=truth.values["immigration"])
    fish = float(truth.abundance[0])
    gone = campaign.seasons["gone"].values[0]
    expected = rates.present(fish, gone, data.times.end)[0]
    assert left_of(truth, campaign, 0) == pytest.approx(expected)
    assert expected > fish - gone
