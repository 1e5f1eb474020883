"""Years ahead of a fit: where its rates come from, what is withheld, what is written."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from command_lines import assert_readable, joined
from drawn_fits import SIZE, drawn_fit, records

from fishdown import Fit
from fishdown.cli import main
from fishdown.decisions.lake_years import average_recruits, stock_of, young_of
from fishdown.decisions.projection import Removal, project
from fishdown.decisions.rates import rates
from fishdown.decisions.recruitment import SHAPE
from fishdown.decisions.years import COLUMNS
from fishdown.decisions.years_words import STRONG, taken
from fishdown.errors import PlanError
from fishdown.figures import years_ahead as figure
from fishdown.words import with_error


@pytest.fixture(scope="module")
def pond(tmp_path_factory: pytest.TempPathFactory) -> Fit:
    return drawn_fit(records(tmp_path_factory.mktemp("pond")))


def linked(folder: Path, *, young_eaten: bool, connected: bool = False) -> Fit:
    """Make a fit of two linked years whose rates are known and whose winters are alike."""
    records(folder, seasons=(2024, 2025))
    answers = ["yes" if answer else "no" for answer in (young_eaten, connected)]
    (folder / "lakes.csv").write_text(
        f"lake,area_ha,young_eaten,connected\nPond,10,{','.join(answers)}\n", encoding="utf-8"
    )
    fit = drawn_fit(folder, "many_years")
    common = {"recruit_variation": 1e-6, "process_error": 1e-6, "winter_spread": 1e-6}
    common |= {"young_eaten_effect": 0.1} if young_eaten else {}
    common |= {"exchange": 0.2, "outside_ratio": 1.5} if connected else {}
    rates: dict[str, Any] = {
        name: (("chain", "draw"), np.full(SIZE, value)) for name, value in common.items()
    }
    for name, value in (("survival", 0.8), ("recruits", 3.0)):
        rates[name] = (("chain", "draw", "lake"), np.full((*SIZE, 1), value))
    fit.tree["posterior"] = fit.tree["posterior"].to_dataset().assign(rates)
    return fit


@pytest.mark.parametrize("young_eaten", [False, True])
def test_rates_of_a_linked_fit_are_used_draw_by_draw(tmp_path: Path, young_eaten: bool) -> None:
    fit = linked(tmp_path / "records", young_eaten=young_eaten)
    ahead = fit.years(2, young="open", remove_share=0.25)
    start = fit.quantities["abundance_after"].isel(season=1).values
    # Recruits of a lake whose young are eaten are a tenth of what they would be.
    young = 10.0 * (30.0 if young_eaten else 3.0)
    first = 0.75 * (0.8 * start + young)
    second = 0.75 * (0.8 * first + young)
    assert ahead.frame["year"].tolist() == [2025, 2026, 2027]
    medians = [np.median(fish) for fish in (start, first, second)]
    # Survivors are binomial: of some 500 fish, 1.8 % a draw, of which a median keeps little.
    assert ahead.frame["fish_median"].tolist() == pytest.approx(medians, rel=5e-3)
    # Weights: survivors grow towards a final weight, recruits are light.
    drawn = rates(fit, np.random.default_rng(20), None, None).draws
    k, y = drawn["growth"], drawn["young_weight"]
    own = fit.quantities["mean_weight"].isel(season=0).values
    final = own * (1.0 + 0.2 * (1.0 - y) / (0.8 * k))
    weights = [fit.quantities["mean_weight_left"].isel(season=1).values]
    for left, fish in ((start, first / 0.75), (first, second / 0.75)):
        grown = weights[-1] + k * (final - weights[-1])
        weights.append((0.8 * left * grown + young * y * own) / fish)
    ends = zip((start, first, second), weights, strict=True)
    biomass = [np.median(fish * weight / 10.0) for fish, weight in ends]
    assert ahead.frame["biomass_median_kg_per_ha"].tolist() == pytest.approx(biomass, rel=5e-3)
    assert set(ahead.frame["rates_from_prior"]) == {"growth, young_weight"}
    assert not any("Not estimated from these records" in text for text in ahead.assumes)
    assert ahead.assumes[0].startswith(
        "Estimated by no model, but assumed: growth of the survivors"
    )


def test_scenarios_differ_by_the_young_alone(tmp_path: Path) -> None:
    fit = linked(tmp_path / "records", young_eaten=True)
    frame = fit.years(1).frame
    ends = frame[frame["years_ahead"] == 1].set_index("young")["fish_median"]
    assert ends["open"] - ends["eaten"] == pytest.approx(0.9 * 300.0, rel=0.02)
    assert ends["strong-year"] - ends["open"] == pytest.approx((STRONG - 1.0) * 300.0, rel=0.02)


def test_connected_waters_send_fish(tmp_path: Path) -> None:
    fit = linked(tmp_path / "records", young_eaten=False, connected=True)
    frame = fit.years(1, young="open").frame
    start = fit.quantities["abundance_after"].isel(season=1).values
    outside = 1.5 * fit.quantities["abundance_before"].isel(season=0).values
    expected = np.median(0.8 * (0.8 * start + 0.2 * outside) + 30.0)
    assert frame["fish_median"].iloc[1] == pytest.approx(expected, rel=5e-3)
    assert "exchange" in frame["rates_from_records"].iloc[0]


def test_what_no_record_tells_is_said_to_be_the_prior(pond: Fit) -> None:
    ahead = pond.years(3)
    priors = ahead.frame.set_index("young")["rates_from_prior"]
    assert "young_eaten_effect" in priors["eaten"].iloc[0]
    assert priors["open"].iloc[0] == (
        "survival, winter_spread, recruits, recruit_variation, process_error, growth, young_weight"
    )
    assert "priors of the model many_years: natural survival 0.9" in ahead.assumes[0]
    assert ahead.assumes[1].startswith("Without records of young fish this forecast is the prior's")
    given = pond.years(3, survival=(0.7, 0.9), recruits=(2.0, 8.0))
    assert set(given.frame["rates_given"]) == {"survival, recruits"}
    # Recruits of 2 to 8 fish/ha on the log scale have their middle at 4.
    assert "recruitment 4.0" in given.assumes[1]
    assert not any(text.startswith("Without records of young") for text in given.assumes)


@pytest.mark.parametrize(
    ("used", "scenario"),
    [((), "open"), ((SHAPE,), "open"), ((), "strong-years")],
    ids=["steady", "stock", "strong-years"],
)
@pytest.mark.parametrize("connected", [False, True])
def test_prior_alone_lets_no_open_lake_that_is_not_netted_rise_or_sink(
    tmp_path: Path, connected: bool, used: tuple[str, ...], scenario: str
) -> None:
    """Median biomass drifts by less than 5 % a year in either direction, from the level on."""
    folder = records(tmp_path / "records")
    lakes = pd.read_csv(folder / "lakes.csv").assign(connected="yes" if connected else "no")
    lakes.to_csv(folder / "lakes.csv", index=False)
    fit = drawn_fit(folder)
    before = fit.quantities["abundance_before"].values
    many = np.random.default_rng(2)
    rates_of = [rates(fit, np.random.default_rng(seed), None, None) for seed in range(40)]
    logs = []
    for found in rates_of:
        lake = stock_of(fit, found, 0, 0, many.standard_normal((2, 15, *SIZE)), used)
        lake = replace(lake, fish=before[..., 0], weight=lake.own_weight)
        recruits = young_of(average_recruits(fit, found, 0, scenario), found, scenario, 15, many)
        start = before[..., 0] * lake.own_weight
        logs.append(np.log(project(lake, recruits, Removal()).kg / start))
    year = np.arange(1, 16)
    drift = np.median(np.concatenate(logs, axis=1), axis=(1, 2)) / year
    assert np.abs(np.expm1(drift)).max() < 0.05
    # And it is wide: after five years, half and double are within the 90 % interval.
    low, high = np.quantile(np.concatenate(logs, axis=1)[4], [0.05, 0.95])
    assert low < np.log(0.75)
    assert high > np.log(1.5)


def test_the_yearly_removal_does_what_it_is_said_to_do(pond: Fit) -> None:
    frame = pond.years(4, young="strong-year").frame.iloc[1:]
    for unit in ("fish", "kg"):
        least = frame[f"{unit}_a_year_for_90"].max()
        assert least > 0.0
        enough = pond.years(4, young="strong-year", **{f"remove_{unit}": least}).frame.iloc[1:]
        less = pond.years(4, young="strong-year", **{f"remove_{unit}": 0.98 * least}).frame.iloc[1:]
        assert enough["probability_below"].min() >= 0.9 > less["probability_below"].min()


def test_the_same_seed_gives_the_same_numbers_whatever_is_asked(pond: Fit) -> None:
    all_three = pond.years(2).frame
    alone = pond.years(2, young="open").frame.reset_index(drop=True)
    same = all_three[all_three["young"] == "open"].reset_index(drop=True)
    pd.testing.assert_frame_equal(alone, same)
    assert pond.years(2, young="open", seed=4).frame["fish_median"].iloc[2] != pytest.approx(
        alone["fish_median"].iloc[2]
    )


def test_probabilities_are_never_certain(tmp_path: Path) -> None:
    fit = linked(tmp_path / "records", young_eaten=False)
    frame = fit.years(1, young="open", remove_share=1.0).frame
    assert frame["fish_median"].iloc[1] == 0.0
    assert 0.999 < frame["probability_below"].iloc[1] < 1.0
    assert "more than 99 %" in frame["statement"].iloc[1]


def test_a_failed_gate_withholds(tmp_path: Path) -> None:
    fit = drawn_fit(records(tmp_path / "records"), divergences=40)
    ahead = fit.years(2)
    assert ahead.frame["statement"].str.startswith("Withheld for Pond").all()
    assert ahead.frame["fish_median"].isna().all()
    assert ahead.holding == ()
    assert figure.missing(ahead.frame)
    shown = fit.years(2, despite_gate=True).frame
    assert shown["statement"].str.startswith("WARNING, the gate failed").all()


def test_all_problems_at_once(tmp_path: Path) -> None:
    fit = drawn_fit(records(tmp_path / "records", weighed=False))
    with pytest.raises(PlanError) as caught:
        fit.years(16, remove_kg=3.0, remove_share=1.5, survival=(0.9, 0.2), young="some")
    for part in (
        "16 years", "name one of them only", "share a year",
        "the mean weight in Pond is unknown",
        "write one of eaten, open, strong-year", "survival from 0.9 to 0.2",
    ):  # fmt: skip
        assert part in str(caught.value)


def test_removals_in_words() -> None:
    said = {"removal_kind": "share", "removal_a_year": 0.125}
    assert taken(said) == "12.5 % of the fish are removed every year"


@pytest.fixture
def saved(tmp_path: Path) -> Callable[..., Path]:
    def save(**options: Any) -> Path:
        divergences = options.pop("divergences", 0)
        fit = drawn_fit(records(tmp_path / "records", **options), divergences=divergences)
        return fit.save(tmp_path / "fit")

    return save


def test_the_command_prints_and_writes(
    saved: Callable[..., Path], capsys: pytest.CaptureFixture[str]
) -> None:
    folder = saved(lakes=("Pond", "A lake with a very long name indeed, north basin"))
    assert main(["years", str(folder), "--years", "3", "--remove-kg", "20"]) == 0
    printed = capsys.readouterr().out
    assert_readable(printed)
    assert "20.0 kg are removed every year, Pond at the end of 2027 holds" in joined(printed)
    assert "Not estimated from these records" in joined(printed)
    table = pd.read_csv(folder / "years.csv")
    assert list(table.columns) == list(COLUMNS)
    assert len(table) == 2 * 3 * 4
    assert (folder / "years_ahead.png").stat().st_size > 10_000
    ahead = table[table["years_ahead"] > 0]
    for column in ("fish_a_year_for_90", "kg_a_year_for_90"):
        needed = ahead[ahead[column] > 0]
        assert len(needed)
        assert needed[f"{column}_mc_error"].between(1e-6, 0.5 * needed[column].max()).all()
    # The largest of the years, as the sentence has it.
    worst = ahead[(ahead["lake"] == "Pond") & (ahead["young"] == "strong-year")]
    worst = worst.loc[worst["fish_a_year_for_90"].idxmax()]
    least = [worst[f"fish_a_year_for_90{column}"] for column in ("", "_mc_error")]
    assert f"{with_error(*least, whole=True)} fish or" in joined(printed)
    words = (folder / "years_ahead.txt").read_text(encoding="utf-8")
    assert "% below the threshold" in words


def test_fish_without_weights(
    saved: Callable[..., Path], capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["years", str(saved(weighed=False)), "--remove-fish", "5"]) == 0
    printed = capsys.readouterr().out
    assert_readable(printed)
    assert "biomass density (kg/ha) cannot be estimated" in joined(printed)


def test_a_failed_gate_leaves_code_3_and_no_figure(
    saved: Callable[..., Path], capsys: pytest.CaptureFixture[str]
) -> None:
    folder = saved(divergences=40)
    assert main(["years", str(folder), "--years", "2", "--despite-gate"]) == 3
    assert (folder / "years_ahead.png").exists()
    assert main(["years", str(folder), "--years", "2"]) == 3
    assert "Withheld for Pond" in capsys.readouterr().out
    # The figure of the first look does not belong to the second table.
    assert not (folder / "years_ahead.png").exists()


@pytest.mark.parametrize(
    ("asked", "remedy"),
    [
        (["--years", "16"], "write a whole number from 1 to 15"),
        (["--survival", "0.5", "1.5"], "both above 0 and below 1"),
        (["--remove-share", "2"], "between 0 and 1"),
    ],
)
def test_wrong_usage_is_one_clear_line(
    saved: Callable[..., Path],
    capsys: pytest.CaptureFixture[str],
    asked: list[str],
    remedy: str,
) -> None:
    folder = saved()
    assert main(["years", str(folder), *asked]) == 2
    error = capsys.readouterr().err
    assert error.startswith("fishdown: ")
    assert remedy in error
    assert error.count("\n") == 1
    assert not (folder / "years.csv").exists()
