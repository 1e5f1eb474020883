"""The pulls to come of a fit: table, words, gate, files, command line."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from command_lines import assert_readable, joined
from drawn_fits import drawn_fit, records, with_thresholds

from fishdown import Fit
from fishdown.cli import main
from fishdown.decisions.pulls_file import read_pulls_ahead
from fishdown.errors import PlanError
from fishdown.figures.ahead import describe, draw
from fishdown.models.data import model_data

# The contract of ahead.csv.
COLUMNS = (
    "lake", "season", "pull", "date", "net", "temperature_median_c", "temperature_low_c",
    "temperature_high_c", "colder_than_readings", "catch_median", "catch_low", "catch_high",
    "catch_expected_kg", "catch_mc_error_kg", "fish_left_median", "fish_left_low", "fish_left_high",
    "threshold_kg_per_ha", "biomass_median_kg_per_ha", "biomass_low_kg_per_ha",
    "biomass_high_kg_per_ha", "probability_below", "mc_error", "field_days", "cost",
    "expected_loss", "loss_mc_error", "currency", "gate", "fit", "seed"
)  # fmt: skip


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("ahead")


@pytest.fixture(scope="module")
def two(home: Path) -> Fit:
    return with_thresholds(drawn_fit(records(home / "two", ["Ashmere", "Birkwater"])), 36.0)


@pytest.fixture(scope="module")
def failed(home: Path) -> Fit:
    return drawn_fit(records(home / "failed"), divergences=2)


@pytest.fixture
def results(two: Fit, tmp_path: Path) -> Path:
    return two.save(tmp_path / "out")


def test_no_cost_grows_with_pulls_times_pulls_or_lakes_times_lakes(
    two: Fit, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Count the two that did: a median over all pulls a row, and all records read anew a lake."""
    fresh = replace(two)
    read, medians = [], []
    monkeypatch.setattr(
        "fishdown.posterior.fitted.model_data", lambda *of: read.append(of) or model_data(*of)
    )
    median = np.median
    monkeypatch.setattr(np, "median", lambda *of, **how: medians.append(of) or median(*of, **how))
    asked = []
    # The first time the fit itself is judged too.
    for pulls in (5, 5, 30):
        medians.clear()
        fresh.ahead(pulls).frame()
        asked.append(len(medians))
    assert asked[1] == asked[2]
    assert len(read) == 1


def test_the_table_begins_now_and_only_goes_down(two: Fit) -> None:
    frame = two.ahead(8).frame()
    assert list(frame.columns) == list(COLUMNS)
    assert frame.groupby("lake").size().to_dict() == {"Ashmere": 9, "Birkwater": 9}
    now = frame[frame["pull"] == 0].set_index("lake")
    verdict = two.verdicts().query("when == 'after'").set_index("lake")
    for name in ("biomass_median_kg_per_ha", "probability_below", "mc_error"):
        np.testing.assert_allclose(now[name], verdict[name])
    for _, rows in frame.groupby("lake"):
        assert (rows["biomass_median_kg_per_ha"].diff().dropna() < 0).all()
        assert (rows["probability_below"].diff().dropna() >= 0).all()
        assert (rows["catch_low"] <= rows["catch_median"]).iloc[1:].all()
    assert frame["cost"].isna().all()
    assert frame["expected_loss"].isna().all()


def test_the_same_lake_alone_and_with_others(two: Fit) -> None:
    together = two.ahead(4).frame().query("lake == 'Birkwater'").reset_index(drop=True)
    pd.testing.assert_frame_equal(two.ahead(4, lake="Birkwater").frame(), together)
    assert not two.ahead(4, lake="Birkwater", seed=21).frame().equals(together)


def test_colder_water_takes_fewer(two: Fit) -> None:
    warm, cold = (
        two.ahead(6, temperature=celsius).frame()["catch_expected_kg"].sum() for celsius in (22, 16)
    )
    assert cold < 0.9 * warm
    words = two.ahead(2, temperature=9.0).sentences()[0]
    assert "From pull 1 on" in words
    assert "and the priors, not on the records" in words
    assert "colder" not in two.ahead(2, temperature=20.0).sentences()[0]


def test_needed_and_its_words(two: Fit) -> None:
    found = two.ahead(40, lake="Ashmere", temperature=20.0, cost_per_pull=100.0)
    needed = found.needed().set_index("wanted_probability")
    (lake,) = found.lakes
    assert lake.below is not None
    for wanted, row in needed.iterrows():
        assert lake.below[0, int(row["pulls"])] >= wanted > lake.below[0, int(row["pulls"]) - 1]
        assert row["cost"] == 100.0 * row["pulls"]
    words = found.sentences(0.9)[0]
    assert f"it takes {int(needed['pulls'][0.9])} pulls" in words
    few = two.ahead(1, lake="Ashmere")
    assert few.needed()["pulls"].isna().all()
    assert "For a probability of 90 %, 1 pull is not enough." in few.sentences(0.9)[0]


def test_a_failed_gate_withholds(failed: Fit) -> None:
    found = failed.ahead(3)
    assert not found.passed
    assert found.sentences()[0].startswith("Pulls ahead withheld for Pond in 2024: 2 divergent")
    assert found.frame()[["catch_median", "biomass_median_kg_per_ha"]].isna().all(axis=None)
    assert found.needed()["pulls"].isna().all()
    assert "withheld" in describe(found.frame())
    assert not any(axes.collections for axes in draw(found.frame()).axes)
    despite = failed.ahead(3, despite_gate=True)
    assert despite.sentences()[0].startswith("WARNING, the gate failed (2 divergent")
    assert despite.frame()["biomass_median_kg_per_ha"].notna().all()


def test_chains_that_disagree_about_cold_water_withhold_it(two: Fit) -> None:
    """At 20 °C, the reference, they agree."""
    tree = two.tree.copy()
    posterior = two.tree["posterior"].to_dataset()
    effect = posterior["temperature_effect"].copy()
    effect.values[0] *= 0.3
    tree["posterior"] = tree["posterior"].copy()
    tree["posterior"].dataset = posterior.assign(temperature_effect=effect)
    apart = replace(two, tree=tree)
    assert apart.ahead(3, temperature=20.0).passed
    cold = apart.ahead(3, temperature=8.0)
    assert "R-hat of share_left" in cold.sentences()[0]
    assert cold.frame()["catch_median"].isna().all()


def test_without_weights_it_speaks_of_fish(home: Path) -> None:
    bare = drawn_fit(
        records(home / "bare", weighed=False, warm=False, marked=0, bycatch=()), "few_passes"
    )
    found = bare.ahead(3, cost_above=100.0)
    words = found.sentences()[0]
    assert "without weights biomass density (kg/ha) cannot be estimated" in words
    frame = found.frame()
    assert frame["probability_below"].isna().all()
    assert frame["temperature_median_c"].isna().all()
    assert (frame["fish_left_median"].diff().dropna() < 0).all()
    assert found.needed().empty
    assert "kg/ha" not in describe(found.frame())
    assert draw(found.frame()).axes[0].get_ylabel() == "remaining, fish"


def test_the_figure_and_its_words(two: Fit) -> None:
    found = two.ahead(10, cost_per_pull=100.0, cost_above=9_000.0)
    figure = draw(found.frame())
    left, below = figure.axes[0], figure.axes[2]
    assert left.get_ylabel() == "remaining, kg/ha"
    assert "%" in below.get_ylabel()
    biomass = found.lakes[0].biomass
    assert biomass is not None
    np.testing.assert_allclose(left.lines[0].get_ydata(), np.median(biomass, axis=(0, 1)))
    assert describe(found.frame()).startswith("Ashmere 2024: from ")


@pytest.mark.parametrize(
    ("options", "said"),
    [
        ({}, "one of the two"),
        ({"pulls": 2, "lake": "Ashmare"}, "there are Ashmere, Birkwater"),
        ({"pulls": 2, "cost_above": -1.0}, "cost above = -1: write a number, 0 or more"),
        ({"pulls": 2, "value_per_kg": float("nan")}, "value per kg = nan"),
    ],
)
def test_what_cannot_be_asked(two: Fit, options: dict, said: str) -> None:
    with pytest.raises(PlanError, match=said):
        two.ahead(**options)


# --- the command line


def test_command(results: Path, capsys: pytest.CaptureFixture[str]) -> None:
    asked = ["ahead", str(results), "--pulls", "6", "--cost-per-pull", "100", "--until", "0.7"]
    assert main([*asked, "--cost-above", "5000", "--value-per-kg", "2"]) == 0
    said = capsys.readouterr().out
    assert_readable(said)
    assert "…" not in said.replace("threshold of …", "")
    assert "Pulls to come in Ashmere" in said
    assert "When to stop in Birkwater" in said
    assert "For a probability of 70 %" in joined(said)
    assert " 100 %" not in said
    table = pd.read_csv(results / "ahead.csv")
    assert list(table.columns) == list(COLUMNS)
    assert len(table) == 14
    assert (results / "ahead.png").stat().st_size > 10_000


def test_command_with_a_plan(results: Path, capsys: pytest.CaptureFixture[str]) -> None:
    plan = results / "plan.csv"
    plan.write_text(
        "date,lake,net,water_temp_c\n2024-09-03,Birkwater,A,15\n2024-09-01,Birkwater,new net,\n",
        encoding="utf-8",
    )
    assert main(["ahead", str(results), "--plan", str(plan)]) == 0
    assert_readable(capsys.readouterr().out)
    table = pd.read_csv(results / "ahead.csv")
    assert set(table["lake"]) == {"Birkwater"}
    assert table["net"].tolist()[1:] == ["new net", "A"]
    assert table["temperature_low_c"].iloc[2] == table["temperature_high_c"].iloc[2] == 15.0
    assert table["temperature_low_c"].iloc[1] < table["temperature_high_c"].iloc[1]


def test_every_problem_of_a_plan_at_once(results: Path, capsys: pytest.CaptureFixture[str]) -> None:
    plan = results / "plan.csv"
    plan.write_text(
        "date,lake,net,water_temp_c\n2024-09-31,Birkwater,A,15\n2024-09-01,Birkwatr,A,\n"
        "2024-05-01,Ashmere,,12\n2024-05-01,Ashmere,A,99\n",
        encoding="utf-8",
    )
    assert main(["ahead", str(results), "--plan", str(plan)]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert "fishdown: 5 problems in the plan:" in said.err
    for place in (
        'plan.csv, row 2, date = "2024-09-31": no such day in the calendar',
        'plan.csv, row 3, lake = "Birkwatr": no pulls in a lake of this name; did you mean',
        "plan.csv, row 4, net: empty cell; write the name of a net",
        'plan.csv, row 5, date = "2024-05-01": 2024-05-01 lies before the last pull of Ashmere',
        'plan.csv, row 5, water_temp_c = "99": 99 °C is not a temperature',
    ):
        assert place in said.err
    assert not (results / "ahead.csv").exists()


def test_a_temperature_in_fahrenheit_is_refused_as_it_is_written(two: Fit, tmp_path: Path) -> None:
    plan = tmp_path / "plan.csv"
    plan.write_text("date,lake,net,water_temp_f\n2024-09-01,Ashmere,A,200\n", encoding="utf-8")
    refused = (
        r'plan.csv, row 2, water_temp_f = "200": 200 °F is not a temperature of netted water; '
        "write 32 °F to 104 °F"
    )
    with pytest.raises(PlanError, match=refused):
        read_pulls_ahead(plan, two.campaign)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("date,lake\n2024-09-01,Ashmere\n", "plan.csv, net: missing column"),
        ("date,lake,net,bait\n2024-09-01,Ashmere,A,3\n", "plan.csv, bait: unknown column"),
        ("date;lake;net\n", "0 pulls; write 1 to 1,000 rows"),
        ("date,lake,net\n2026-09-01,Ashmere,A\n", "2026-09-01 lies 763 days after the last pull"),
        ("date,lake,net\n", "0 pulls; write 1 to 1,000 rows"),
        ("", "empty file"),
        ('date,lake,net\n"2024', "quotation marks"),
        ("date,lake,net\n9999-06-01,Ashmere,A\n", "not in the years 1950 to 2100"),
        (f"date,lake,net\n{'x' * 140_000},Ashmere,A\n", "row 2: a cell of more than 131,072"),
    ],
)
def test_a_plan_that_is_no_plan(
    results: Path, capsys: pytest.CaptureFixture[str], text: str, said: str
) -> None:
    plan = results / "plan.csv"
    plan.write_text(text, encoding="utf-8")
    assert main(["ahead", str(results), "--plan", str(plan)]) == 2
    assert said in capsys.readouterr().err


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (["--pulls", "3", "--lake", "Ashmare"], "no pulls in a lake named 'Ashmare'"),
        (["--pulls", "3", "--from", "2024-06-01"], "before the last pull of Ashmere (2024-07-30)"),
        (["--pulls", "3", "--temp", "70"], "70 °C is not a temperature of netted water"),
        (
            ["--pulls", "900", "--days-between", "1000"],
            "the last of 900 pulls in Ashmere would come 450,000 days after the last pull on "
            "record (2024-07-30); pulls are predicted for 366 days at most",
        ),
        (["--pulls", "3", "--days-between", "200"], "would come 400 days after the last pull"),
        (["--pulls", "3", "--from", "2099-12-31"], "2099-12-31 lies 27,547 days"),
        (["--pulls", "5000"], "write a whole number from 1 to 1,000"),
        (["--plan", "nowhere.csv"], "nowhere.csv: there is no such file; check the spelling"),
        (["--plan", "p.csv", "--temp", "3"], "--temp does not go with --plan"),
    ],
)
def test_wrong_usage(
    results: Path, capsys: pytest.CaptureFixture[str], options: list[str], said: str
) -> None:
    assert main(["ahead", str(results), *options]) == 2
    error = capsys.readouterr()
    assert said in error.err
    assert error.out == ""
    assert not (results / "ahead.csv").exists()


@pytest.mark.parametrize(
    ("options", "said"),
    [
        ([], "one of the arguments --pulls --plan is required"),
        (["--pulls", "0"], "write a whole number, 1 or more"),
        (["--pulls", "3", "--from", "9 June"], "write the day as 2025-06-10"),
        (["--pulls", "3", "--from", "9999-06-01"], "'9999-06-01': not in the years 1950 to 2100"),
        (["--pulls", "3", "--until", "1"], "write a probability between 0 and 1"),
        (["--pulls", "3", "--temp", "cold"], "write a number"),
    ],
)
def test_a_wrong_option(capsys: pytest.CaptureFixture[str], options: list[str], said: str) -> None:
    with pytest.raises(SystemExit) as stopped:
        main(["ahead", "results", *options])
    assert stopped.value.code == 2
    assert said in capsys.readouterr().err


def test_command_at_a_failed_gate(
    failed: Fit, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    results = failed.save(tmp_path / "out")
    assert main(["ahead", str(results), "--pulls", "3"]) == 3
    said = capsys.readouterr().out
    assert_readable(said)
    assert "Pulls ahead withheld for Pond in 2024" in joined(said)
    assert "kg/ha (" not in said
    assert main(["ahead", str(results), "--pulls", "3", "--despite-gate"]) == 3
    assert "WARNING: a gate failed" in capsys.readouterr().out


def test_odd_names_are_printed_as_they_are(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    name = "[bold]$x$:fish:"
    results = drawn_fit(records(tmp_path / "records", [name])).save(tmp_path / "out")
    assert main(["ahead", str(results), "--pulls", "2"]) == 0
    assert name in capsys.readouterr().out


def test_nothing_is_left_half_written(two: Fit, tmp_path: Path, stop: Callable[[], None]) -> None:
    (tmp_path / "ahead.csv").write_text("mine", encoding="utf-8")
    stop()
    with pytest.raises(RuntimeError):
        two.ahead(2).save(tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == ["ahead.csv"]
    assert (tmp_path / "ahead.csv").read_text(encoding="utf-8") == "mine"


@pytest.fixture
def stop(monkeypatch: pytest.MonkeyPatch) -> Callable[[], None]:
    def broken(*arguments: object, **options: object) -> None:
        raise RuntimeError

    return lambda: monkeypatch.setattr("fishdown.figures.files.save_figure", broken)
