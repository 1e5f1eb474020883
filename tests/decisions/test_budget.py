"""One budget for several lakes: chances, errors, tables, words, files and the command line."""

from __future__ import annotations

import datetime as dt
import io
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from command_lines import joined
from drawn_fits import drawn_fit, records, with_thresholds
from fake_fits import independent
from rich.console import Console
from scipy import stats

from fishdown import Fit
from fishdown.cli import main
from fishdown.decisions.budget_lakes import LakeDays, behind, kg_above, lakes_below
from fishdown.decisions.budget_splits import Splits
from fishdown.decisions.budget_words import sentences
from fishdown.decisions.schedule import continued, pace
from fishdown.decisions.simulation import catches
from fishdown.display.budget import budget_table, splits_table
from fishdown.display.table import Source
from fishdown.errors import PlanError
from fishdown.figures.budget import describe, draw
from fishdown.terminal.render import in_terminal
from fishdown.units import shown_in

# The contract of budget.csv.
COLUMNS = (
    "split", "lake", "season", "field_days", "field_days_low", "field_days_high", "pulls", "cost",
    "currency", "catch_median", "catch_low", "catch_high", "threshold_kg_per_ha",
    "biomass_median_kg_per_ha", "biomass_low_kg_per_ha", "biomass_high_kg_per_ha",
    "probability_below_now", "now_mc_error", "probability_below", "mc_error", "lakes_below",
    "lakes_below_mc_error", "kg_above", "kg_above_mc_error", "lakes_behind_best",
    "lakes_behind_best_mc_error", "kg_behind_best", "kg_behind_best_mc_error", "told_apart", "aim",
    "gate", "fit", "seed"
)  # fmt: skip
PRICES = {"cost_per_pull": 100.0, "cost_per_field_day": 500.0}


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("budget")


@pytest.fixture(scope="module")
def drawn(home: Path) -> Fit:
    return drawn_fit(records(home / "three", ["Ashmere", "Birkwater", "Cold Tarn"]))


@pytest.fixture(scope="module")
def three(drawn: Fit) -> Fit:
    # Ashmere can be brought below within a dozen days, Birkwater hardly, Cold Tarn is below.
    return with_thresholds(drawn, 40.0, 22.0, 25.0)


@pytest.fixture(scope="module")
def failed(home: Path) -> Fit:
    return drawn_fit(records(home / "failed", ["Ashmere", "Birkwater"]), divergences=2)


def lake(
    name: str = "Pond", *, start: float = 120.0, share: float = 0.1, most: int = 8, seed: int = 1
) -> LakeDays:
    """Make a lake that loses a share a day, of log-normal biomass in kg/ha."""
    begin = np.exp(independent((4, 500), seed, np.log(start), 0.2))
    biomass = begin[:, :, None] * (1.0 - share) ** np.arange(most + 1)
    return LakeDays(
        lake=name, season="2024", threshold=100.0, area=10.0, pulls_a_day=2, cost_a_day=700.0,
        most=most, failure="", reason="", later_year=False, colder=False,
        catch=begin[:, :, None] - biomass, biomass=biomass,
    )  # fmt: skip


def splits_of(*lakes: LakeDays, days: int | None = 8, **options) -> Splits:
    return Splits(
        lakes, days, **{"amount": None, "aim": "lakes", "currency": "", "seed": 1} | options
    )


def test_the_expected_lakes_below_are_the_closed_form() -> None:
    lakes = [lake(), lake("Mere", start=150.0, seed=2), lake("Tarn", start=95.0, seed=3)]
    split = (2, 4, 0)
    expected = sum(
        stats.norm.cdf((np.log(100.0) - np.log(start * 0.9**days)) / 0.2)
        for start, days in zip((120.0, 150.0, 95.0), split, strict=True)
    )
    below, error = lakes_below(lakes, split)
    assert below == pytest.approx(expected, abs=4.0 * error)
    # 2,000 independent draws of three independent lakes.
    chances = [one.below(days).mean() for one, days in zip(lakes, split, strict=True)]
    by_hand = np.sqrt(sum(p * (1.0 - p) for p in chances) / 2_000)
    assert error == pytest.approx(by_hand, rel=0.1)


def test_the_expected_kg_above_are_the_closed_form() -> None:
    """Of a log-normal B, E(B − T)⁺ is the price of a call option (Black and Scholes 1973)."""
    one = lake(start=120.0)
    kg, error = kg_above([one], [1])
    middle, sd = np.log(120.0 * 0.9), 0.2
    z = (middle - np.log(100.0)) / sd
    expected = np.exp(middle + sd**2 / 2) * stats.norm.cdf(z + sd) - 100.0 * stats.norm.cdf(z)
    assert kg == pytest.approx(10.0 * expected, abs=4.0 * error)
    assert error < 0.1 * kg


def test_a_sum_is_never_sure() -> None:
    lakes = [lake(start=1.0), lake("Mere", start=9_999.0)]
    below, error = lakes_below(lakes, (0, 0))
    assert 1.0 - 1e-3 < below < 1.0 + 1e-3
    assert error > 0.0


def test_the_difference_is_of_the_same_draws() -> None:
    """Draw by draw, lakes that both splits treat alike add nothing to the error."""
    lakes = [lake(), lake("Mere", seed=2)]
    aimed = [one.aimed("lakes") for one in lakes]
    short, error = behind(aimed, ((3, 2), (3, 2)), (2, 2))
    between = (lakes[0].biomass[:, :, 3] < 100.0) & (lakes[0].biomass[:, :, 2] >= 100.0)
    assert short == pytest.approx(between.mean())
    assert error == pytest.approx(between.std() / np.sqrt(between.size), rel=0.1)
    assert behind(aimed, ((3, 2), (3, 2)), (3, 2)) == (0.0, 0.0)


def test_no_draw_judges_the_split_that_it_chose() -> None:
    """Of lakes that gain by luck alone the best split has no lead on others."""
    rng = np.random.default_rng(8)
    leads = []
    for _ in range(40):
        # Whatever the days, each draw is below with one half.
        lakes = [
            replace(lake(most=3), biomass=rng.uniform(0.0, 200.0, (4, 100, 4))) for _ in "abcd"
        ]
        found = splits_of(*lakes, days=4)
        assert found.behind(found.best) == (0.0, 0.0)
        leads.append(found.behind(found.none)[0])
    assert np.mean(leads) == pytest.approx(0.0, abs=4.0 * np.std(leads) / np.sqrt(40))


def test_two_lakes_alike_have_many_splits_alike() -> None:
    one = splits_of(lake(seed=1), lake("Mere", seed=1), days=3)
    assert {(1, 2), (2, 1)} <= {*one.alike}
    assert one.alike[0] == one.best
    assert all(not one.told_apart(split) for split in one.alike)
    far = splits_of(lake(start=120.0), lake("Mere", start=5_000.0), days=3)
    assert far.alike == ((3, 0),)
    assert far.told_apart(far.equal)


def test_the_nearest_lake_above_its_threshold_comes_first() -> None:
    lakes = [lake("far", start=400.0), lake("below", start=99.0), lake("near", start=115.0)]
    found = splits_of(*lakes, days=10)
    assert found.nearest == (2, 0, 8)
    # The odd day of an equal split is the nearest lake's.
    assert found.equal == (3, 3, 4)


def test_the_most_budget_is_the_split_itself_and_more_is_never_worse() -> None:
    lakes = [lake(start=140.0), lake("Mere", start=180.0, seed=2)]
    for options in ({"days": 9}, {"days": None, "amount": 6_500.0}, {"days": 9, "aim": "biomass"}):
        found = splits_of(*lakes, **options)
        spent = found.smaller
        assert spent[0][1] == spent[0][2] == found.none
        assert spent[-1][1] == found.best
        assert spent[-1][2] == found.equal
        gains = [
            sum(one.aimed(found.aim)[:, :, n].mean() for one, n in zip(lakes, best, strict=True))
            for _, best, _ in spent
        ]
        assert np.all(np.diff(gains) >= -1e-9)


def test_the_chances_are_those_of_direct_simulation(three: Fit) -> None:
    """Pulls ahead of the one lake by other random numbers, without the code of the budget."""
    frame = three.budget(12).frame
    row = frame[(frame["split"] == "best") & (frame["lake"] == "Ashmere")].iloc[0]
    assert row["pulls"] == 2 * row["field_days"]
    ahead = three.ahead(int(row["pulls"]), lake="Ashmere", seed=77).lakes[0]
    chance, error = ahead.below[:, -1]
    assert row["probability_below"] == pytest.approx(chance, abs=4.0 * (error + row["mc_error"]))
    assert row["biomass_median_kg_per_ha"] == pytest.approx(
        np.median(ahead.biomass[:, :, -1]), rel=0.02
    )
    assert row["probability_below_now"] == pytest.approx(ahead.below[0, 0])


def test_fish_that_a_known_share_leaves() -> None:
    """Of 1,000 fish of 1 kg on 10 ha, 2 pulls a day of one tenth leave 1,000 · 0.9^(2n)."""
    rng = np.random.default_rng(4)
    taken = catches(np.full(4_000, 1_000.0), np.full((4_000, 8), -np.log(0.9)), None, rng)
    left = 1_000.0 - np.cumsum(taken, axis=1)[:, 1::2].reshape(4, 1_000, 4)
    biomass = np.concatenate([np.full((4, 1_000, 1), 100.0), left / 10.0], axis=2)
    one = replace(lake(most=4), threshold=43.0, biomass=biomass, catch=100.0 - biomass)
    for days in (3, 4):
        exact = stats.binom.cdf(429, 1_000, 0.9 ** (2 * days))
        below, error = lakes_below([one], [days])
        assert below == pytest.approx(exact, abs=4.0 * error)


def test_a_lake_that_takes_all_has_the_numbers_of_ahead(three: Fit) -> None:
    frame = three.budget(6, seed=5).frame
    rows = frame[frame["field_days"] == 6].set_index(["split", "lake"])
    row = rows.loc[("nearest", "Ashmere")]
    last = three.ahead(12, lake="Ashmere", seed=5).frame().iloc[-1]
    for name in ("biomass_median_kg_per_ha", "biomass_high_kg_per_ha", "probability_below"):
        assert row[name] == pytest.approx(last[name])


def test_every_split_lake_by_lake(three: Fit) -> None:
    found = three.budget(12, **PRICES)
    frame = found.frame
    assert tuple(frame.columns) == COLUMNS
    assert frame.groupby("split", sort=False)["lake"].agg(list).map(tuple).nunique() == 1
    for _, rows in frame.groupby("split", sort=False):
        *lakes, total = rows.to_dict("records")
        assert total["lake"] == "all lakes"
        for name in ("field_days", "pulls", "cost"):
            assert total[name] == sum(one[name] for one in lakes)
        for one in lakes:
            assert one["cost"] == 700.0 * one["field_days"]
            assert 0.0 < one["probability_below"] < 1.0
            assert one["mc_error"] > 0.0
        chances = sum(one["probability_below"] for one in lakes)
        assert total["lakes_below"] == pytest.approx(chances)
        assert total["field_days"] <= 12
        assert total["lakes_behind_best"] >= -2.0 * total["lakes_behind_best_mc_error"]
    assert three.budget(12, **PRICES) == found


def test_money_limits_and_both_limits(three: Fit) -> None:
    by_money = three.budget(amount=4_300.0, **PRICES).frame
    assert by_money["cost"].max() <= 4_300.0
    assert by_money["field_days"].max() == 6
    both = three.budget(2, amount=4_300.0, **PRICES).frame
    assert both["field_days"].max() == 2


def test_the_aim_in_kg_is_met_by_no_other_split(three: Fit) -> None:
    by_kg, by_lakes = (three.budget(9, aim=aim).frame for aim in ("biomass", "lakes"))
    best = [frame[frame["split"] == "best"].iloc[-1] for frame in (by_kg, by_lakes)]
    assert best[0]["kg_above"] <= best[1]["kg_above"]
    assert best[0]["lakes_below"] <= best[1]["lakes_below"]
    assert by_kg["kg_above"].min() >= 0.0
    assert by_kg["lakes_behind_best"].isna().all()


def test_all_that_is_wrong_at_once(three: Fit) -> None:
    with pytest.raises(PlanError) as caught:
        three.budget(
            0, amount=-5.0, aim="fish", pulls_a_day=0, temperature=80.0, cost_per_pull=-1.0
        )
    said = str(caught.value)
    for words in (
        "days = 0: write 1 or more", "amount = -5: write a number above 0", "cost per pull = -1",
        "aim 'fish': write lakes or biomass", "pulls a day = 0",
        "80 °C is not a temperature of netted water",
    ):  # fmt: skip
        assert words in said
    with shown_in("us"), pytest.raises(PlanError, match=r"176 °F is not .* 32 °F to 104 °F"):
        three.budget(3, temperature=80.0)
    with pytest.raises(PlanError, match=r"how many field days there are .* or how much money"):
        three.budget()
    with pytest.raises(PlanError, match="an amount needs prices"):
        three.budget(amount=1_000.0)
    with pytest.raises(PlanError, match=r"pays for no field day: the cheapest costs 700\.00"):
        three.budget(amount=699.0, **PRICES)


def test_a_budget_needs_several_lakes_and_weights(home: Path) -> None:
    bare = drawn_fit(records(home / "bare", weighed=False))
    with pytest.raises(PlanError, match=r"several lakes, .*1 lake.*; no lake has an estimate"):
        bare.budget(5)


def test_as_many_field_days_as_can_be_predicted(three: Fit) -> None:
    for options in ({}, {"pulls_a_day": 3, "days_between": 1}, {"start": dt.date(2025, 1, 1)}):
        going = pace(three.campaign, 0, **options)
        last = continued(three.campaign, 0, going.most_days * going.pulls_a_day, **options)
        assert last.field_days[-1] == going.most_days
        with pytest.raises(PlanError, match=r"write a whole number|days at most"):
            continued(three.campaign, 0, (going.most_days + 1) * going.pulls_a_day, **options)


def test_a_lake_netted_long_ago_gets_nothing_and_one_may_not_begin_too_early(home: Path) -> None:
    folder = records(home / "old", ["Ashmere", "Birkwater"], [2023, 2024])
    for name in ("pulls", "marked", "measured", "bycatch"):
        table = pd.read_csv(folder / f"{name}.csv")
        late = table["date"].str.startswith("2024") & (table["lake"] == "Birkwater")
        table[~late].to_csv(folder / f"{name}.csv", index=False)
    fit = drawn_fit(folder)
    found = fit.budget(5, start=dt.date(2024, 8, 20))
    row = found.frame[found.frame["lake"] == "Birkwater"].iloc[0]
    assert row["field_days"] == 0
    assert np.isnan(row["probability_below"])
    assert "No field days for Birkwater: its last pull on record (2023-07-30)" in " ".join(
        found.sentences
    )
    with pytest.raises(
        PlanError, match=r"days = 0.*2024-07-01 lies before the last pull of Ashmere"
    ):
        fit.budget(0, start=dt.date(2024, 7, 1))
    with pytest.raises(PlanError, match="after the last pull of every lake"):
        fit.budget(5, start=dt.date(2026, 7, 1))


def test_lakes_whose_gate_failed_get_nothing_unless_overruled(failed: Fit) -> None:
    found = failed.budget(6)
    assert not found.passed
    assert (found.frame["field_days"] == 0).all()
    assert found.frame["biomass_median_kg_per_ha"].isna().all()
    assert found.curve.empty
    assert "No field days for Ashmere: withheld (" in " ".join(found.sentences)
    overruled = failed.budget(6, despite_gate=True)
    assert not overruled.passed
    assert overruled.sentences[0].startswith("WARNING, the gate failed in Ashmere and Birkwater")
    assert overruled.frame["biomass_median_kg_per_ha"].notna().any()


def test_one_lake_withheld_leaves_all_to_the_others() -> None:
    why, nothing = "R-hat 1.2", np.zeros((4, 500, 0))
    bad = replace(
        lake("Mere"), failure=why, reason=f"withheld ({why})", catch=nothing, biomass=nothing
    )
    found = splits_of(bad, lake("Pond", start=130.0), lake("Tarn", start=150.0), days=4)
    assert len(found.best) == 2
    said = " ".join(sentences(found, ("Sedge",)))
    assert "No field days for Mere: withheld (R-hat 1.2)." in said
    assert "No field days for Sedge: it has no pull on record." in said
    assert "of 2 lakes below" in said


def test_the_words_name_lakes_errors_and_cautions(three: Fit) -> None:
    said = " ".join(three.budget(12).sentences)
    assert said.startswith("With 12 field days, the split of field days with the highest expected")
    assert "± is the Monte-Carlo standard error" in said
    assert "An equal split (" in said
    assert "permits" in said
    capped = splits_of(lake(start=150.0, most=2), lake("Mere", start=1.0), days=5)
    words = " ".join(sentences(capped))
    assert "No more field days than these can be predicted in Pond." in words
    assert "3 field days are left over: no lake would gain by more." in words


def test_cells_of_the_tables(three: Fit) -> None:
    found = three.budget(12, **PRICES)
    source = Source("budget", found.frame)
    table = budget_table(source, found.shared)
    assert table.title == "Best split of 12 field days: medians and 90 % credible intervals"
    frame = found.frame
    for place, cells in enumerate(table.rows):
        assert str(cells[0]) == frame["lake"].iloc[place]
        assert str(cells[1]).split("\n")[0] == f"{frame['field_days'].iloc[place]}"
        assert len(cells) == len(table.columns)
    beside = splits_table(source)
    assert [str(cells[0]) for cells in beside.rows] == [
        "best", "equal", "nearest lake first", "no more netting"
    ]  # fmt: skip
    for cells in table.rows[:-1]:
        for chance in map(str, cells[-2:]):
            assert "±" in chance or chance in (">99", "<1")
    assert str(beside.rows[0][-1]) == "–"


def test_the_figure_and_its_words(three: Fit) -> None:
    curve = three.budget(12).curve
    assert curve["most"].tolist() == list(range(13))
    assert (curve["lakes_below_best"] - curve["lakes_below_equal"]).min() >= -1e-9
    (axes,) = draw(curve).axes
    assert axes.get_xlabel() == "field days available"
    assert len(axes.get_lines()) == 2
    assert "With 12: " in describe(curve)
    in_money = three.budget(amount=9_000.0, aim="biomass", **PRICES).curve
    (axes,) = draw(in_money, "EUR").axes
    assert axes.get_xlabel() == "money available, EUR"
    assert "kg" in axes.get_ylabel()


def test_the_command_prints_and_writes(three: Fit, tmp_path: Path, capsys) -> None:
    results = three.save(tmp_path / "out")
    assert main(["budget", str(results), "--days", "12", "--cost-per-pull", "90"]) == 0
    said = joined(capsys.readouterr().out)
    assert "Best split of 12 field days" in said
    assert "100 %" not in said
    assert "budget.csv, budget.png, budget.txt" in said
    frame = pd.read_csv(results / "budget.csv")
    assert tuple(frame.columns) == COLUMNS
    assert (results / "budget.png").stat().st_size > 0
    assert "permits" in (results / "budget.txt").read_text("utf-8")
    assert main(["budget", str(results)]) == 2
    assert "how many field days" in capsys.readouterr().err


def test_the_command_of_a_failed_fit(failed: Fit, tmp_path: Path, capsys) -> None:
    results = failed.save(tmp_path / "out")
    (results / "budget.png").write_bytes(b"of an earlier budget")
    assert main(["budget", str(results), "--days", "6"]) == 3
    assert "withheld" in capsys.readouterr().out
    assert not (results / "budget.png").exists()
    assert pd.read_csv(results / "budget.csv")["field_days"].eq(0).all()


def test_names_of_lakes_stand_whole_in_a_narrow_terminal(three: Fit) -> None:
    found = three.budget(12, **PRICES)
    out = io.StringIO()
    console = Console(width=80, file=out)
    console.print(in_terminal(budget_table(Source("budget", found.frame), found.shared)))
    for name in ("Ashmere", "Birkwater", "Cold Tarn", "all lakes"):
        assert name in out.getvalue()
