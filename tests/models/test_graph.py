"""The assembled graph against a density written out by hand with SciPy."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from field_records import daily_pulls
from graph_points import walk_to
from scipy import stats
from textbook import EVERY_MARK

import fishdown
from fishdown.models.data import fitting_spec, model_data
from fishdown.models.parts.marks.thinning import thinning_mass

# Fish known to have been there: caught, and marked fish never seen again.
BOUNDS = np.array([105 + 21, 23 + 22])


@pytest.fixture(scope="module")
def two_lakes(shared_folder_of: Callable[..., Path]) -> fishdown.Campaign:
    pulls = [
        *daily_pulls(
            "Alder",
            [40, 31, 25, 9],
            recaptured=[4, 2, 3, 0],
            water_temp_c=[21.0, 18.5, "", 12.0],
        ),
        *daily_pulls("Birch", [9, 0, 14], recaptured=[1, 0, 2], water_temp_c=[20.0, 17.0, 15.0]),
    ]
    folder = shared_folder_of(
        lakes=[{"lake": "Alder", "area_ha": 20}, {"lake": "Birch", "area_ha": 45}],
        pulls=pulls,
        marked=[
            {"date": "2024-05-01", "lake": lake, "batch": "b", "mark": "fin_clip", "released": n}
            for lake, n in (("Alder", 30), ("Birch", 25))
        ],
        measured=[{"date": "2024-06-01", "lake": "Alder", "weight_kg": w} for w in (1.2, 2.4, 3.1)],
    )
    return fishdown.read(folder)


def graph(campaign: fishdown.Campaign, name: str, **parts: str) -> tuple[Any, Any]:
    from fishdown.models.graph import build

    spec, _ = fitting_spec(campaign, fishdown.read_model(name).with_parts(**parts))
    coords = {"lake": campaign.lakes["lake"].values, "season": campaign.seasons["season"].values}
    return spec, build(spec, model_data(campaign, spec), coords)


def lognormal(value: float, median: float, log_sd: float) -> float:
    return float(stats.lognorm(log_sd, scale=median).logpdf(value))


def test_one_lake_density_is_priors_times_betabinomial_times_hypergeometric(
    two_lakes: fishdown.Campaign,
) -> None:
    # How catches and electrofishing differ from the lake: test_weighings.
    _, model = graph(two_lakes, "one_lake", weighed="at_random", **EVERY_MARK)
    names = [variable.name for variable in model.free_RVs]
    log_density = model.compile_logp(jacobian=False)

    def at(
        abundance: list[float],
        fished: list[float],
        effect: list[float],
        s: list[float],
        step: float,
        later: float,
    ) -> tuple[float, float]:
        m, v = np.array([2.2, 3.0]), 0.35
        pulls = two_lakes.pulls.to_dataframe()
        gap_sd = np.hypot(1.0, 0.35)  # a reading the day before
        temperature = np.where(
            pulls["temperature"].isna(), (18.5 + 12.0) / 2 + gap_sd * step, pulls["temperature"]
        )
        # One net a lake: all pulls but the first of a season.
        again = pulls.duplicated("season_index").to_numpy(float)
        # The sampler's own variable: the catch of a typical pull, per the lake's mean abundance
        # and mean log effect of temperature and earlier pulls.
        catch = np.empty(2)
        for lake, (area, mine) in enumerate(
            zip((20.0, 45.0), (pulls.index < 4, pulls.index >= 4), strict=True)
        ):
            fish = abundance[lake] - pulls["gone_before"][mine].mean()
            cold = np.log(effect[lake]) * (20.0 - temperature[mine].mean()) / 10.0
            catch[lake] = (
                fished[lake] / area * fish * np.exp(cold + np.log(later) * again[mine].mean())
            )
        natural = {
            "log_room": np.log(np.array(abundance) - BOUNDS + 0.5),
            "typical_catch": catch, "temperature_effect": effect,
            "temperature_step": [step], "schooling": s, "mean_weight": m, "weight_variation": v,
            "later_pulls": later,
        }  # fmt: skip
        assert set(names) == set(natural)
        point = {}
        for variable in model.free_RVs:
            value = np.asarray(natural[variable.name], float)
            transform = model.rvs_to_transforms[variable]
            moved = (
                value
                if transform is None
                else transform.forward(value, *variable.owner.inputs).eval()
            )
            point[model.rvs_to_values[variable].name] = moved
        ours = float(log_density(point))

        expected = stats.norm.logpdf(step) + lognormal(later, 0.75, 0.4)
        expected += lognormal(v, 0.4, 0.5)
        for lake, area in enumerate((20.0, 45.0)):
            N = abundance[lake]
            # The sampler's own variable again: the logarithm of the room above the bound.
            expected += lognormal(N, 60.0 * area, 1.5) + np.log(N - BOUNDS[lake] + 0.5)
            # The prior is that of the area fished; its density moves by the ratio of the two.
            expected += lognormal(fished[lake], 1.0, 1.2) + np.log(fished[lake] / catch[lake])
            expected += lognormal(effect[lake], 0.4, 0.75)
            expected += lognormal(m[lake], 2.0, 2.0) + lognormal(s[lake], 0.7, 0.5)
            mine = pulls[pulls["season_index"] == lake]
            for row, T in zip(mine.itertuples(), temperature[mine.index], strict=True):
                h = fished[lake] / area * effect[lake] ** ((20.0 - T) / 10.0)
                q = 1 - np.exp(-h * later ** again[row.Index])
                a, b = (1 - q) / s[lake] ** 2, (1 - q) ** 2 / (q * s[lake] ** 2)
                left = N - row.gone_before
                expected += stats.betabinom.logpmf(row.caught, left, a, b)
                expected += stats.hypergeom.logpmf(
                    row.recaptured, left, row.marks_at_large, row.caught
                )
        weights = np.array([1.2, 2.4, 3.1])
        expected += stats.gamma(1 / v**2, scale=m[0] * v**2).logpdf(weights).sum()
        return ours, float(expected)

    first, second = (
        at([800.0, 300.0], [1.1, 0.6], [0.5, 0.8], [0.6, 0.9], 0.4, 0.7),
        at([200.0, 900.0], [4.0, 0.2], [0.3, 1.4], [1.2, 0.5], -1.5, 1.3),
    )
    # A density needs no particular constant; ours keeps all of them.
    assert first[0] == pytest.approx(first[1], rel=1e-9)
    assert second[0] == pytest.approx(second[1], rel=1e-9)


def test_pooling_falls_away_with_one_lake(folder_of: Callable[..., Path]) -> None:
    campaign = fishdown.read(
        folder_of(lakes=[{"lake": "Alder", "area_ha": 20}], pulls=daily_pulls("Alder", [9, 5, 3]))
    )
    spec, notes = fitting_spec(campaign, fishdown.read_model("pooled_lakes"))
    assert spec.part("pooling") == "none"
    assert notes == (
        "one lake: no pooling",
        "no water temperature: catchability is taken as constant",
        "one net in each lake: no differences between nets",
        "one pull a night: differences between nights are part of the variation between pulls",
        "no season has pulls on 3 dates over 10 days: "
        "no slow change of the share that a pull takes",
        "no weights: no biomass",
    )


def test_pooled_lakes_share_what_they_have_in_common(two_lakes: fishdown.Campaign) -> None:
    _, model = graph(two_lakes, "pooled_lakes")
    names = {variable.name for variable in model.free_RVs}
    assert {"area_fished_ha_typical", "lake_spread", "area_exponent", "temperature_spread"} <= names
    assert model.named_vars_to_dims["area_fished_ha"] == ("lake",)


def test_nothing_to_tell_abundance_from_is_an_error(two_lakes: fishdown.Campaign) -> None:
    unseen = two_lakes.pulls.assign(recaptured=("pull", np.full(7, np.nan)))
    with pytest.raises(fishdown.FitError, match="the abundance of Alder 2024, Birch"):
        model_data(replace(two_lakes, pulls=unseen), fishdown.read_model("marks_only"))


@pytest.mark.parametrize(
    ("name", "parameter"), [("hidden_fish", "vulnerable"), ("lost_marks", "mark_retention")]
)
def test_marks_that_do_not_all_count(
    folder_of: Callable[..., Path], name: str, parameter: str
) -> None:
    """Recaptures hold for the marks that count; catches for the vulnerable fish."""
    campaign = fishdown.read(
        folder_of(
            lakes=[{"lake": "Alder", "area_ha": 20}],
            pulls=daily_pulls("Alder", [40, 31, 25], recaptured=[4, 2, 3]),
            marked=[
                {"date": "2024-05-01", "lake": "Alder", "batch": "b", "mark": "fin_clip",
                 "released": 50}
            ],
        )
    )  # fmt: skip
    _, model = graph(campaign, name)
    log_density = model.compile_logp(jacobian=False)
    pulls = campaign.pulls.to_dataframe()
    bound = 96 - 9  # unmarked fish caught

    def at(
        unmarked: float, share: float, chance: float, fished: float, s: float
    ) -> tuple[float, float]:
        vulnerable_fish = unmarked + share * 50
        N = vulnerable_fish / chance if parameter == "vulnerable" else vulnerable_fish
        above = (share - 8.5 / 50) / (42 / 50)  # nine marks were seen again; half a fish beyond
        # At the most 41 marks can be lost.
        step, log_slope = walk_to(above, 42, 50 * (1 - chance))
        catch = fished / 20.0 * (vulnerable_fish - pulls["gone_before"].mean())
        natural = {
            "log_room": np.array([np.log((unmarked - bound + 0.5) / share)]),
            parameter: chance,
            "share_step": np.array([step]),
            "typical_catch": np.array([catch]),
            "schooling": np.array([s]),
        }
        assert {variable.name for variable in model.free_RVs} == set(natural)
        point = {}
        for variable in model.free_RVs:
            value = np.asarray(natural[variable.name], float)
            transform = model.rvs_to_transforms[variable]
            if transform is not None:
                value = transform.forward(value, *variable.owner.inputs).eval()
            point[model.rvs_to_values[variable].name] = value
        median, sd = (0.85, 1.3) if parameter == "vulnerable" else (0.97, 1.5)
        prior = stats.johnsonsb(-np.log(median / (1 - median)) / sd, 1.0 / sd)
        expected = prior.logpdf(chance) + stats.binom.logpmf(round(share * 50), 50, chance)
        expected -= np.log(thinning_mass(np.array([50.0]), np.array([chance]))[0])
        expected += np.log(42 / 50) + log_slope
        expected += lognormal(s, 0.7, 0.5) + lognormal(N, 1200.0, 1.5)
        expected += lognormal(fished, 1.0, 1.2) + np.log(fished / catch)
        expected += np.log(unmarked - bound + 0.5)
        expected -= np.log(chance) if parameter == "vulnerable" else 0.0
        q = 1 - np.exp(-fished / 20.0)
        a, b = (1 - q) / s**2, (1 - q) ** 2 / (q * s**2)
        removed_marks = 0.0
        for row in pulls.itertuples():
            left = vulnerable_fish - row.gone_before
            expected += stats.betabinom.logpmf(row.caught, left, a, b)
            marks = share * 50 - removed_marks
            expected += stats.hypergeom.logpmf(row.recaptured, left, marks, row.caught)
            removed_marks += row.recaptured
        return float(log_density(point)), float(expected)

    for ours, expected in (at(700.0, 0.8, 0.75, 1.1, 0.6), at(260.0, 0.4, 0.5, 3.0, 1.1)):
        assert ours == pytest.approx(expected, rel=1e-9)


def test_no_boolean_is_a_factor(two_lakes: fishdown.Campaign) -> None:
    """PyTensor prints a traceback where one is, in some orders of its rewrites; here it raises."""
    import pytensor
    from pytensor.compile.mode import get_mode
    from pytensor.graph.fg import FunctionGraph

    from fishdown.models.graph import build

    uneven = fishdown.read_model("shy_marks")
    spec = replace(
        uneven,
        parts={**uneven.parts, "marks": "lost"},
        priors={
            **uneven.priors,
            "mark_retention": fishdown.read_model("lost_marks").priors["mark_retention"],
        },
    )
    spec, _ = fitting_spec(two_lakes, spec.with_parts(pooling="none"))
    model = build(spec, model_data(two_lakes, spec), two_lakes.coords)
    density = FunctionGraph(outputs=[model.logp(), model.dlogp()], clone=True)
    refused = ""
    with pytensor.config.change_flags(on_opt_error="raise"):
        try:
            get_mode("NUMBA").excluding("inplace").optimizer.rewrite(density)
        except TypeError as error:  # said here: pytest would spell out the whole graph
            refused = str(error)
    assert not refused
