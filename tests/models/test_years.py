"""Years linked: the transition against moments and SciPy's densities, and what must be refused."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from field_records import daily_pulls
from graph_points import values_of_graph
from scipy import special, stats
from textbook import textbook

import fishdown
from fishdown.errors import FitError, ModelFileError
from fishdown.models.data import fitting_spec, model_data
from fishdown.models.parts.counting.counts import count
from fishdown.models.parts.years.links import winters
from fishdown.models.parts.years.transition import Transition, replaced, survival_of_winter
from fishdown.posterior.pointwise import pull_log_densities


def marking(lake: str, year: int, released: int) -> dict[str, Any]:
    return {
        "date": f"{year}-05-01", "lake": lake, "batch": f"{lake} {year}", "mark": "fin_clip",
        "released": released,
    }  # fmt: skip


@pytest.fixture(scope="module")
def four_years(shared_folder_of: Callable[..., Path]) -> fishdown.Campaign:
    """Alder: netted in 2021 and 2024, marked in 2021 and 2022. Birch enters late, in 2023."""
    return fishdown.read(
        shared_folder_of(
            lakes=[
                {"lake": "Alder", "area_ha": 20, "connected": "yes", "young_eaten": ""},
                {"lake": "Birch", "area_ha": 45, "connected": "", "young_eaten": "yes"},
            ],
            pulls=[
                *daily_pulls("Alder", [40, 31, 25], recaptured=[4, 2, 3], start="2021-06-01"),
                *daily_pulls("Alder", [30, 12], recaptured=[14, 8], start="2024-06-01"),
                *daily_pulls("Birch", [9, 14], recaptured=["", ""], start="2023-06-01"),
                *daily_pulls("Birch", [8, 5], recaptured=["", ""], start="2024-06-01"),
            ],
            marked=[marking("Alder", 2021, 30), marking("Alder", 2022, 10)],
        )
    )


def test_every_year_is_a_season(four_years: fishdown.Campaign) -> None:
    seasons = four_years.seasons
    assert seasons["season"].values.tolist() == [
        "Alder 2021", "Alder 2022", "Alder 2023", "Alder 2024", "Birch 2023", "Birch 2024",
    ]  # fmt: skip
    assert seasons["marked"].values.tolist() == [30, 10, 0, 0, 0, 0]
    assert seasons["carried_most"].values.tolist() == [0, 21, 31, 31, 0, 0]
    assert seasons["marks_left"].values.tolist() == [21, 31, 31, 9, 0, 0]
    assert seasons["gone"].values.tolist() == [96, 0, 0, 42, 23, 13]
    assert np.isnat(seasons["first_day"].values).tolist() == [False, True, True, *[False] * 3]
    netted = four_years.netted
    assert netted.coords["season"] == ["Alder 2021", "Alder 2024", "Birch 2023", "Birch 2024"]
    assert netted.pulls["season_index"].values.tolist() == [0, 0, 0, 1, 1, 2, 2, 3, 3]
    assert netted.netted is netted


def test_winters_and_the_fewest_marks_that_must_have_lasted(four_years: fishdown.Campaign) -> None:
    spec, _ = fitting_spec(four_years, fishdown.read_model("many_years"))
    found = winters(four_years, count(four_years, spec.parts), with_marks=True)
    assert found.starts.tolist() == [0, 4]
    assert list(zip(found.before, found.after, strict=True)) == [(0, 1), (1, 2), (2, 3), (4, 5)]
    # 22 marks were seen in 2024; 10 of them may be those of 2022, so 12 came from 2021.
    assert found.marks_needed.tolist() == [0, 12, 22, 22, 0, 0]
    assert found.marks_gained.tolist() == [21, 10, 0, -22, 0, 0]
    assert [level.tolist() for level in found.carrying] == [[0], [1], [2]]
    silent = winters(four_years, count(four_years, spec.parts), with_marks=False)
    assert silent.carrying == ()


def test_seasons_apart_cannot_place_marks_of_earlier_years(four_years: fishdown.Campaign) -> None:
    with pytest.raises(FitError, match=r"Alder 2024 held marked fish of earlier years.*many_years"):
        model_data(four_years.netted, fishdown.read_model("pooled_lakes"))


def test_two_seasons_in_a_year_cannot_be_linked(folder_of: Callable[..., Path]) -> None:
    pulls = daily_pulls("Alder", [40, 31, 25, 9])
    for pull, season in zip(pulls, ("early", "early", "late", "late"), strict=True):
        pull["season"] = season
    campaign = fishdown.read(folder_of(lakes=[{"lake": "Alder", "area_ha": 20}], pulls=pulls))
    spec, _ = fitting_spec(campaign, fishdown.read_model("many_years"))
    with pytest.raises(FitError, match="Alder late: a second season in one year"):
        model_data(campaign, spec)


def with_part(text: str, part: str) -> str:
    """Put another choice of one part into the text of a model file."""
    name = part.split()[0]
    kept = [line for line in text.splitlines() if line.split(" ")[0] != name]
    return "\n".join(kept).replace("[parts]", f"[parts]\n{part}")


@pytest.mark.parametrize("part", ['marks = "lost"', 'deaths = "unseen"', 'vulnerable = "some"'])
def test_years_do_not_go_with_marks_lost_within_a_season(part: str) -> None:
    text = (fishdown.models.spec.model_folder() / "many_years.toml").read_text(encoding="utf-8")
    with pytest.raises(
        ModelFileError, match=r"overwinter_retention|has post_release_survival already"
    ):
        fishdown.models.spec.parse_model(with_part(text, part), "mine")


def test_one_year_a_lake_leaves_nothing_to_link(folder_of: Callable[..., Path]) -> None:
    lakes = [{"lake": name, "area_ha": 20} for name in ("Alder", "Birch")]
    pulls = [*daily_pulls("Alder", [40, 31]), *daily_pulls("Birch", [9, 14])]
    campaign = fishdown.read(folder_of(lakes=lakes, pulls=pulls))
    spec, notes = fitting_spec(campaign, fishdown.read_model("many_years"))
    assert (spec.part("years"), spec.part("seasons")) == ("apart", "alike")
    assert "one year in each lake: years are not linked" in notes
    assert "survival" not in spec.priors


@pytest.mark.parametrize("exchanged", [0.0, 0.3])
def test_start_has_the_moments_of_survivors_immigrants_and_recruits(exchanged: float) -> None:
    """By simulation: binomial survivors, Poisson immigrants, gamma recruits of CV 0.8."""
    left, survival, recruits, variation, outside = 400, 0.7, 50.0, 0.8, 200.0
    rng, count = np.random.default_rng(3), 400_000
    old = rng.binomial(left, survival * (1.0 - exchanged), count)
    moved = rng.poisson(survival * exchanged * outside, count)
    young = rng.poisson(rng.gamma(variation**-2, recruits * variation**2, count))
    start = old + moved + young
    winter = Transition(left, survival, recruits, variation, exchanged, outside)
    assert start.mean() == pytest.approx(winter.expected, rel=0.003)
    assert start.std() / start.mean() == pytest.approx(
        np.sqrt(np.expm1(winter.spread**2)), rel=0.01
    )
    assert winter.centre == pytest.approx(np.log(winter.expected) - 0.5 * winter.spread**2)
    # Recruits regressed on all fish, where neither they nor the survivors come near 0.
    line = np.polyfit(start, young, 1)
    for fish in (winter.expected, 1.1 * winter.expected):
        share = winter.share_of_recruits(fish)
        assert share * fish == pytest.approx(np.polyval(line, fish), rel=0.02)


def test_share_of_recruits_is_a_share_whatever_the_fish() -> None:
    winter = Transition(400.0, 0.7, 50.0, 2.0)
    shares = winter.share_of_recruits(np.array([1.0, 50.0, 200.0, 330.0, 1e3, 1e6]))
    assert ((shares > 0.0) & (shares < 1.0)).all()
    assert (np.diff(shares[2:]) > 0.0).all()


def test_luck_of_a_winter_moves_the_logit_of_survival() -> None:
    survival = survival_of_winter(0.9, 0.5, np.array([-2.0, 0.0, 2.0]))
    moved = special.logit(survival) - special.logit(0.9)
    np.testing.assert_allclose(moved, [-1.0, 0.0, 1.0], atol=1e-12)


def test_replaced_lake_is_expected_to_stay_where_it_is() -> None:
    level, survival = 1_200.0, np.array([0.5, 0.77, 0.97])
    closed = Transition(level, survival, replaced(survival, level), 1.0)
    np.testing.assert_allclose(closed.expected, level)
    # Connected waters of the lake's own density make no difference.
    open_water = Transition(level, survival, replaced(survival, level), 1.0, 0.3, level)
    np.testing.assert_allclose(open_water.expected, level)


def test_pulls_add_up_to_the_graph(four_years: fishdown.Campaign) -> None:
    spec, _ = fitting_spec(four_years, fishdown.read_model("many_years"))
    posterior, potentials = values_of_graph(four_years, spec)
    found = pull_log_densities(posterior, four_years, spec)
    total = (found["catch"] + found["recaptures"]).sum("pull").values[0]
    expected = sum(potentials[one] for one in ("counting", "catches", "recaptures"))
    assert total == pytest.approx(expected, rel=1e-10)


def test_graph_is_priors_times_hypergeometric_times_winter(folder_of: Callable[..., Path]) -> None:
    campaign = fishdown.read(
        folder_of(
            lakes=[{"lake": "Alder", "area_ha": 20}],
            pulls=[
                *daily_pulls("Alder", [40, 31], recaptured=[4, 2], start="2021-06-01"),
                *daily_pulls("Alder", [30, 12], recaptured=[9, 4], start="2022-06-01"),
            ],
            marked=[marking("Alder", 2021, 30), marking("Alder", 2022, 10)],
        )
    )
    from fishdown.models.graph import build

    spec = textbook("many_years").with_parts(
        evidence="marks", weights="none", temperature="none", seasons="alike", pooling="none"
    )
    data = model_data(campaign, spec)
    model = build(spec, data, campaign.coords)
    bound = data.counts.bound
    assert bound.tolist() == [71 - 6 + 0, 42 - 13]
    needed, left = 3.0, 24.0  # 13 marks seen in 2022, 10 of them may be new; 30 − 6 were left
    room = left - needed + 1.0

    def ours(N: list[int], carried: int, **known: float) -> tuple[float, float]:
        unmarked = np.array([N[0] - 30.0, N[1] - 10.0 - carried])
        phi, w, z, kappa = (known[name] for name in ("survival", "w", "z", "kappa"))
        b, c, t = (known[name] for name in ("b", "c", "t"))
        lives = special.expit(special.logit(phi) + w * z)
        part = (carried - needed + 0.5) / room
        # The sampler's own variable: how far the number lies from what is expected of it.
        p = lives * kappa
        scale = 1 / np.sqrt(1 + room * p * (1 - p))
        step = (np.log(part / (1 - part)) - np.log(p / (1 - p))) / scale
        natural = {
            "log_room": np.log(unmarked - bound + 0.5),
            "carried_step": [step],
            "survival": [phi], "overwinter_retention": kappa, "replacement": [b],
            "recruit_variation": c, "process_error": t, "winter_spread": w, "winter_step": [z],
        }  # fmt: skip
        assert {variable.name for variable in model.free_RVs} == set(natural)
        point = {}
        for variable in model.free_RVs:
            value = np.asarray(natural[variable.name], float)
            transform = model.rvs_to_transforms[variable]
            if transform is not None:
                value = transform.forward(value, *variable.owner.inputs).eval()
            point[model.rvs_to_values[variable].name] = value
        prior = stats.johnsonsb(-np.log(0.91 / 0.09) / 0.68, 1.0 / 0.68)
        expected = prior.logpdf(phi) + stats.beta.logpdf(kappa, 12, 2) + stats.norm.logpdf(z)
        for value, median, log_sd in ((b, 1.0, 1.0), (c, 1.0, 0.4), (w, 0.6, 0.6), (t, 0.15, 0.35)):
            expected += stats.lognorm.logpdf(value, log_sd, scale=median)
        expected += stats.lognorm.logpdf(N[0], 1.5, scale=60.0 * 20.0)
        expected += np.log(unmarked - bound + 0.5).sum()
        young = b * (1 - phi) * N[0]
        mean = lives * (N[0] - 71) + young
        variance = lives * (1 - lives) * (N[0] - 71) + young + (c * young) ** 2
        spread = np.sqrt(np.log1p(variance / mean**2) + t**2)
        expected += stats.lognorm.logpdf(N[1], spread, scale=mean * np.exp(-(spread**2) / 2))
        expected += stats.binom.logpmf(carried, left, lives * kappa)
        expected += np.log(room * scale * part * (1 - part))
        expected += stats.hypergeom.logpmf(4, N[0], 30, 40)
        expected += stats.hypergeom.logpmf(2, N[0] - 40, 26, 31)
        expected += stats.hypergeom.logpmf(9, N[1], 10 + carried, 30)
        expected += stats.hypergeom.logpmf(4, N[1] - 30, 1 + carried, 12)
        return float(log_density(point)), expected

    log_density = model.compile_logp(jacobian=False)
    names = ("survival", "w", "z", "kappa", "b", "c", "t")
    for N, carried, values in (
        ([400, 300], 11, (0.7, 0.4, -0.8, 0.9, 1.3, 1.1, 0.1)),
        ([180, 90], 3, (0.55, 0.9, 0.3, 0.6, 0.4, 0.5, 0.3)),
        ([2500, 1900], 24, (0.9, 0.2, 1.7, 0.97, 3.0, 1.5, 0.05)),
    ):
        found, expected = ours(N, carried, **dict(zip(names, values, strict=True)))
        assert found == pytest.approx(expected, rel=1e-9)
