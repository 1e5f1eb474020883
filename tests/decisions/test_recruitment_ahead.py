"""Recruitment by stock, compensation of survival, and what a projection depends on."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from command_lines import assert_readable, joined
from drawn_fits import drawn_fit, records, with_thresholds
from lake_stocks import MANY, stock, young

from fishdown import Fit
from fishdown.cli import main
from fishdown.decisions.dependence import COLUMNS, POINTS, dependence_sentences
from fishdown.decisions.projection import Removal, project
from fishdown.decisions.recruitment import (
    COMPENSATION,
    OPTIONAL,
    SHAPE,
    STRONG_YEARS,
    by_stock,
    compensated,
    strong_years,
)
from fishdown.decisions.years import YearsAhead
from fishdown.errors import PlanError


def test_the_curve_goes_through_the_level_and_has_its_most_young_below_it() -> None:
    level = np.full(1001, 500.0)
    for shape in (0.8, 1.0, 2.0, 4.0):
        adults = np.linspace(0.0, 1500.0, 1001)
        ratio = by_stock(adults, level, np.full(1001, shape))
        assert by_stock(level, level, np.full(1001, shape)) == pytest.approx(1.0)
        assert adults[ratio.argmax()] == pytest.approx(500.0 / shape, abs=1.0)
        # Ricker 1954: the most young are a e^-1 / b of R = a N e^(-b N).
        assert ratio.max() == pytest.approx(np.exp(shape - 1.0) / shape, rel=1e-4)
        assert ratio[0] < 1e-4
        assert ratio.min() > 0.0


def test_compensation_is_that_of_the_three_lakes() -> None:
    """Weber et al. 2016: total survival 79 % and 54 % a year, without and with 43 % removed."""
    power = np.array(OPTIONAL[COMPENSATION].numbers[0])
    assert 0.57 * compensated(np.array(0.79), np.array(0.43), power) == pytest.approx(0.54)
    assert compensated(np.array(0.79), np.array(0.0), power) == pytest.approx(0.79)
    # Never above 1, whatever is removed, and about a quarter of the loss is made up for.
    shares = np.linspace(0.0, 1.0, 50)
    assert compensated(np.full(50, 0.97), shares, np.full(50, 6.0)).max() <= 1.0
    made_up = (0.54 - 0.57 * 0.79) / (0.43 * 0.79)
    assert made_up == pytest.approx(0.25, abs=0.03)


def test_a_lake_at_its_level_stays_and_others_settle_where_recruits_replace_the_dead() -> None:
    deaths = 0.2 * 1000.0 * MANY
    shape = 2.0
    lake = stock(60, times=MANY, stock_shape=shape)
    stays = project(lake, young(60, deaths), Removal()).fish[-1] / MANY
    np.testing.assert_allclose(stays, 1000.0, rtol=1e-3)
    for replacement in (0.5, 1.8):
        settles = project(lake, young(60, replacement * deaths), Removal()).fish[-1] / MANY
        expected = 1000.0 * (1.0 + np.log(replacement) / shape)
        np.testing.assert_allclose(settles, expected, rtol=2e-3)


def test_recruits_follow_the_adults_of_the_year_before_with_those_from_outside() -> None:
    lake = stock(2, times=MANY, stock_shape=2.0, exchange=0.25, outside_fish=400.0, survival=0.5)
    ends = project(lake, young(2, 100.0 * MANY), Removal("share", 0.6)).fish / MANY
    left = 1000.0
    for year in range(2):
        share = (0.75 * left + 0.25 * 400.0) / 1000.0
        start = 0.5 * share * 1000.0 + 100.0 * share * np.exp(2.0 * (1.0 - share))
        left = 0.4 * start
        np.testing.assert_allclose(ends[year], left, rtol=1e-3)


def test_survival_rises_after_the_netting_of_the_last_season_and_of_each_year() -> None:
    lake = stock(2, times=MANY, netted=0.3, compensation=2.0)
    ends = project(lake, young(2, 1.0), Removal("share", 0.5)).fish / MANY
    first = 0.5 * 1000.0 * 0.8 ** (0.7**2)
    np.testing.assert_allclose(ends[0], first, rtol=1e-3)
    np.testing.assert_allclose(ends[1], 0.5 * first * 0.8 ** (0.5**2), rtol=1e-3)


def test_an_empty_lake_stays_empty() -> None:
    lake = stock(3, fish=0.0, level=1000.0, stock_shape=2.0)
    ends = project(lake, young(3), Removal())
    assert np.isfinite(ends.fish).all()
    assert np.median(ends.fish[-1]) < 1.0


def test_strong_years_come_by_their_chance_and_leave_the_mean_as_it_is() -> None:
    wide = (1, 40_000)
    ratio = strong_years(np.full(wide, 0.1), np.full(wide, 5.0), 10, np.random.default_rng(4))
    usual = 1.0 / (1.0 + 0.1 * (5.0 * np.exp(0.125) - 1.0))
    ordinary = np.isclose(ratio, usual)
    # 400,000 years, so that the chance is known to 0.0005.
    assert 1.0 - ordinary.mean() == pytest.approx(0.1, abs=0.002)
    strong = np.log(ratio[~ordinary] / usual)
    assert np.median(strong) == pytest.approx(np.log(5.0), abs=0.02)
    assert strong.std() == pytest.approx(0.5, abs=0.01)
    assert ratio.mean() == pytest.approx(1.0, abs=0.01)
    # Every year anew: a strong year tells nothing of the next.
    assert np.corrcoef(ordinary[0, 0], ordinary[1, 0])[0, 1] == pytest.approx(0.0, abs=0.02)


@pytest.fixture(scope="module")
def pond(tmp_path_factory: pytest.TempPathFactory) -> Fit:
    return with_thresholds(drawn_fit(records(tmp_path_factory.mktemp("pond"))), 40.0)


def assumed(ahead: YearsAhead) -> pd.DataFrame:
    assert ahead.assumed is not None
    assert tuple(ahead.assumed.columns) == COLUMNS
    return ahead.assumed.set_index("assumption")


def test_each_assumption_is_the_projection_that_has_it(pond: Fit) -> None:
    table = assumed(pond.years(4, young="open", remove_fish=30))
    assert table["used"].eq("yes").sum() == 1
    for name, options in {
        "steady": {},
        "stock": {"recruitment": "stock"},
        "compensation": {"compensation": True},
        "stock and compensation": {"recruitment": "stock", "compensation": True},
    }.items():
        ahead = pond.years(4, young="open", remove_fish=30, **options)  # type: ignore[arg-type]
        last = ahead.frame.iloc[-1]
        assert assumed(ahead).loc[name, "used"] == "yes"
        for column in ("biomass_median_kg_per_ha", "probability_below"):
            assert table.loc[name, column] == last[column]
        hardest = ahead.frame["fish_a_year_for_80"].max()
        assert table.loc[name, "fish_a_year_for_80"] == hardest
        named = set(last["rates_from_prior"].split(", "))
        assert (SHAPE in named) == ("stock" in name)
        assert (COMPENSATION in named) == ("compensation" in name)
        assert ("recruitment depends on the fish left" in last["statement"]) == ("stock" in name)


def test_at_points_of_the_prior_recruits_are_what_they_are_there(pond: Fit) -> None:
    table = assumed(pond.years(4, young="open")).loc[list(POINTS)]
    for name in ("recruits_median_fish_per_ha", "biomass_median_kg_per_ha", "fish_a_year_for_80"):
        assert table[name].is_monotonic_increasing
    assert table["probability_below"].is_monotonic_decreasing
    # Replacement is log-normal, with spread 1 of a typical lake and that between lakes: 10 % and
    # 90 % lie 1.28 standard deviations from the median.
    recruits = table["recruits_median_fish_per_ha"]
    apart = np.log(recruits.iloc[2] / recruits.iloc[0]) / (2.0 * 1.2816)
    assert 1.0 < apart < 1.6
    ahead = pond.years(4, young="open")
    assert ahead.assumed is not None
    said = " ".join(dependence_sentences(ahead.assumed))
    assert "No record tells the recruitment of Pond" in said
    # Given recruits are not the prior's.
    given = assumed(pond.years(4, young="open", recruits=(2.0, 8.0)))
    assert not set(POINTS) & set(given.index)


def test_strong_years_are_a_scenario_of_their_own(pond: Fit) -> None:
    usual, strong = pond.years(4), pond.years(4, young="strong-years")
    assert "strong-years" not in set(usual.frame["young"])
    assert set(strong.frame["young"]) == {"strong-years"}
    assert set(STRONG_YEARS) <= set(strong.frame["rates_from_prior"].iloc[0].split(", "))
    assert "strong year classes come at random" in strong.frame["statement"].iloc[-1]
    assert any("the chance of a strong year class" in text for text in strong.assumes)
    # Of the same recruits on average they make the interval wider.
    point = "recruits 50 %"
    plain, random = (assumed(pond.years(4, young=name)) for name in ("open", "strong-years"))
    assert (
        random.loc[point, "recruits_median_fish_per_ha"]
        == plain.loc[point, "recruits_median_fish_per_ha"]
    )
    ends = [f"biomass_{end}_kg_per_ha" for end in ("low", "high")]
    assert random.loc[point, ends[0]] < plain.loc[point, ends[0]]
    assert random.loc[point, ends[1]] > plain.loc[point, ends[1]]


def test_nothing_is_said_without_weights_or_of_what_is_withheld(tmp_path: Path) -> None:
    bare = drawn_fit(records(tmp_path / "bare", weighed=False)).years(2)
    withheld = drawn_fit(records(tmp_path / "withheld"), divergences=40).years(2)
    for ahead in (bare, withheld):
        assert ahead.assumed is None
        assert ahead.depends == ()


def test_an_unknown_recruitment_is_refused(pond: Fit) -> None:
    with pytest.raises(PlanError, match="write steady or stock"):
        pond.years(2, recruitment="much")  # type: ignore[arg-type]


def test_the_command_and_the_page_say_which_is_used_and_what_it_changes(
    pond: Fit, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = pond.save(tmp_path / "fit")
    assert main(["years", str(folder), "--young", "open", "--recruitment", "stock"]) == 0
    printed = capsys.readouterr().out
    assert_readable(printed)
    told = joined(printed)
    assert "if recruitment depends on the fish left (as in this projection)" in told
    assert "Recruitment depends on the number of fish left." in told
    assert "the shape of the stock–recruit curve" in told
    assert main(["report", str(folder)]) == 0
    page = (folder / "report.html").read_text(encoding="utf-8").replace("\N{NO-BREAK SPACE}", " ")
    assert "No record tells the recruitment of Pond" in page
    assert "Last year of the projection by assumption" in page
