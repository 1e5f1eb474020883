"""The table of all formulas: which design each is given, and why it is refused another."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from fishdown.errors import DesignError
from fishdown.formulas import (
    Row,
    chapman,
    classical_estimators,
    k_passes,
    leslie,
    log_catch_per_effort,
    schnabel,
    schumacher_eschmeyer,
    two_passes,
)

PUBLISHED = Path(__file__).parents[1] / "published"
OMAND = [131, 69, 99, 78, 56, 76, 49, 42, 63, 47]  # Omand 1951, values from memory


def table(days, nets, caught, **columns) -> pd.DataFrame:
    """Make pulls; columns left out say unmarked, removed for good, net in order."""
    first = pd.Timestamp("2031-09-01")
    values = {"recaptured": np.nan, "released_again": 0, "marks_at_large": 0.0, "spoiled": False}
    return pd.DataFrame(
        {
            "date": [first + pd.Timedelta(days=day) for day in days],
            "net": nets,
            "caught": caught,
            **values,
            **columns,
        }
    )


def one_net(caught, **columns) -> pd.DataFrame:
    return table(range(len(caught)), ["north"] * len(caught), caught, **columns)


def by_method(pulls: pd.DataFrame, level: float = 0.9) -> dict[str, Row]:
    return {row.method: row for row in classical_estimators(pulls, level=level)}


def shared(day_catches, nets: int) -> pd.DataFrame:
    """Spread each day's catch over several nets, which no formula looks at."""
    pulls = [
        (day, f"net {net}", catch // nets + (net < catch % nets))
        for day, catch in enumerate(day_catches)
        for net in range(nets)
    ]
    days, names, caught = zip(*pulls, strict=True)
    return table(days, names, caught)


@pytest.fixture(scope="module")
def omand() -> dict[str, Row]:
    return by_method(shared(OMAND, nets=7))


def test_days_are_the_points_of_leslie(omand):
    assert omand["Leslie"].estimate == leslie(OMAND, [7] * 10)
    assert omand["Leslie, half catch"].estimate.abundance == pytest.approx(1077.57, abs=0.005)
    assert omand["DeLury"].estimate.abundance == pytest.approx(1098.50, abs=0.005)
    assert omand["DeLury, half effort"].estimate.abundance == pytest.approx(1150.42, abs=0.005)


def test_days_of_equal_effort_are_passes(omand):
    estimate = omand["passes, maximum likelihood"].estimate
    per_day = k_passes(OMAND)
    assert estimate.abundance == 1118
    assert (estimate.low, estimate.high) == (per_day.low, per_day.high)
    # Seven pulls that each let 1 − q escape let 1 − p escape together.
    q = estimate.catchability
    assert (1 - q) ** 7 == pytest.approx(1 - per_day.catchability)
    step = 1e-6
    slope = ((1 - q + step) ** 7 - (1 - q) ** 7) / step  # dp/dq
    assert estimate.catchability_se == pytest.approx(per_day.catchability_se / slope, rel=1e-4)
    assert "0.096 per day of 7 pulls" in estimate.note
    assert omand["two passes"].refusal == "made for 2 passes: there are 10"


def test_omand_has_no_marks(omand):
    assert omand["Chapman, one marking"].refusal == "no marked fish were at large"
    assert omand["Schnabel"].refusal == "no catch was examined for marks"
    assert all((row.estimate is None) == bool(row.refusal) for row in omand.values())


def test_a_single_net_makes_each_pull_a_pass():
    # Mack Creek 1987 CC L (SOURCES.md): both passes on one day.
    with (PUBLISHED / "and_mack_cutthroat_pass_counts.csv").open(newline="") as file:
        catches = [
            int(row["trout_count"])
            for row in csv.DictReader(file)
            if (row["year"], row["section"], row["reach"]) == ("1987", "CC", "L")
        ]
    rows = by_method(table([0, 0], ["reach", "reach"], catches))
    assert rows["two passes"].estimate == two_passes(catches)
    assert str(rows["two passes"].estimate) == "124 [90% 121–127]"
    assert "2 points of catch per effort" in rows["Leslie"].refusal


def test_unequal_effort_is_no_pass_but_fine_for_leslie():
    pulls = table([0, 0, 1, 2, 2], list("ababc"), [60, 50, 48, 30, 38])
    rows = by_method(pulls)
    assert (
        "effort differs between days (1 to 2 pulls)" in rows["passes, maximum likelihood"].refusal
    )
    assert rows["Leslie"].estimate == leslie([110, 48, 68], [2, 1, 2])


def test_spoiled_pulls_remove_without_effort():
    pulls = one_net([200, 160, 125, 103, 83], spoiled=[False, False, True, False, False])
    rows = by_method(pulls)
    # Before each pull there were 1,000, 800, 640, 515 and 412 fish; a good pull takes 20 %.
    assert rows["Leslie"].estimate.abundance == pytest.approx(1000, rel=0.01)
    assert rows["Leslie"].estimate.catchability == pytest.approx(0.2, rel=0.01)
    assert "1 void pull (spoiled) took 125 fish" in rows["passes, weighted likelihood"].refusal
    assert "without effort" in rows["DeLury"].refusal


def test_a_spoiled_pull_without_fish_is_no_pass():
    pulls = one_net([200, 160, 0, 128], spoiled=[False, False, True, False])
    rows = by_method(pulls)
    assert rows["passes, maximum likelihood"].estimate == k_passes([200, 160, 128])
    everything = one_net([0, 0], spoiled=True)
    assert by_method(everything)["two passes"].refusal == "every pull was void (spoiled)"


def test_fish_put_back_are_not_removed():
    caught, back = [200, 180, 162, 146], [100, 90, 81, 0]
    rows = by_method(one_net(caught, released_again=back))
    removed = np.subtract(caught, back)
    assert rows["Leslie"].estimate == leslie(caught, [1] * 4, removed=removed)
    assert "271 fish of the catch were released again" in rows["passes, maximum likelihood"].refusal
    assert "did not leave the lake" in rows["DeLury"].refusal
    # What is put back after the last pull no longer matters.
    last = by_method(one_net([200, 150, 110], released_again=[0, 0, 110]))
    assert last["passes, maximum likelihood"].estimate == k_passes([200, 150, 110])


def test_one_marking_pools_the_examined_pulls():
    """The second catch was not examined; the marks are known before each pull all the same."""
    pulls = one_net(
        [100, 90, 80, 70],
        recaptured=[12, np.nan, 9, 8],
        marks_at_large=[150.0, 138.0, 128.0, 119.0],
    )
    rows = by_method(pulls)
    assert rows["Chapman, one marking"].estimate == chapman(150, 250, 29)
    assert rows["Schnabel"].estimate == schnabel(
        [100, 80, 70], [12, 9, 8], [150, 128, 119], removed_before=[0, 190, 270]
    )
    assert "270 fish were removed between" in rows["Schumacher–Eschmeyer"].refusal


def test_a_recapture_sample_may_go_back_alive():
    """One sample, all of it released: nothing of it can be caught again."""
    pulls = one_net([60, 50], recaptured=[np.nan, 7.0], marks_at_large=80, released_again=[0, 50])
    assert by_method(pulls)["Chapman, one marking"].estimate == chapman(80, 50, 7)


def test_marks_after_some_netting_still_give_abundance_before_it():
    pulls = one_net(
        [300, 100, 80, 70],
        recaptured=[0, 12, 9, 8],
        marks_at_large=[0, 150, 138, 129],
    )
    rows = by_method(pulls)
    after, before = chapman(150, 250, 29), rows["Chapman, one marking"].estimate
    assert before.abundance == after.abundance + 300
    assert (before.low, before.high) == (after.low + 300, after.high + 300)
    assert before.standard_error == after.standard_error
    # Pooled and sample by sample, allowing for removals, are nearly the same.
    assert rows["Schnabel"].estimate.abundance == pytest.approx(before.abundance, rel=0.05)


def test_a_classic_census_puts_everything_back():
    # Gerking 1953 (values from memory): marked fish go back, marks grow.
    with (PUBLISHED / "published_examples.csv").open(newline="") as file:
        text = next(row for row in csv.DictReader(file) if row["id"] == "gerking1953")["data"]
    C, R, M = ([int(n) for n in part.split("=")[1].split()] for part in text.split(";"))
    pulls = one_net(C, recaptured=np.array(R, dtype=float), released_again=C, marks_at_large=M)
    rows = by_method(pulls, level=0.95)
    assert rows["Schnabel"].estimate == schnabel(C, R, M, level=0.95)
    census = rows["Schumacher–Eschmeyer"].estimate
    assert census == schumacher_eschmeyer(C, R, M, level=0.95)
    assert str(census) == "423 [95% 300–719]"
    assert "27 marks were added before 2031-09-03" in rows["Chapman, one marking"].refusal
    assert "nothing was depleted" in rows["Leslie"].refusal


@pytest.mark.parametrize(
    ("columns", "reason"),
    [
        ({"marks_at_large": [150, 148, 120]}, "fell by 28 before 2031-09-03, but at most 3 were"),
        (
            {"marks_at_large": [150, 148, 145], "released_again": [0, 40, 0]},
            "40 fish were released again",
        ),
        ({"marks_at_large": [150, 148, 145], "recaptured": np.nan}, "no catch was examined"),
        ({"marks_at_large": [150, 150, 150], "recaptured": 0.0}, "no recaptures among 150 fish"),
    ],
)
def test_chapman_is_refused_other_designs(columns, reason):
    pulls = one_net([60, 50, 40], **({"recaptured": [2.0, 3.0, 1.0]} | columns))
    assert reason in by_method(pulls)["Chapman, one marking"].refusal


def test_more_fish_were_known_than_the_formula_finds():
    pulls = one_net([100, 50, 25], recaptured=[2.0, 1.0, 0.0], marks_at_large=[500.0, 498.0, 497.0])
    row = by_method(pulls)["three passes, closed form"]
    assert row.estimate.abundance < 672
    assert "below the 672 fish known to have been there" in row.estimate.note


@pytest.mark.parametrize(
    ("pulls", "reason"),
    [
        (one_net([5, 4]).drop(columns=["net", "spoiled"]), "lack the columns net, spoiled"),
        (one_net([5, 4]).iloc[:0], "there are no pulls"),
        (one_net([5, 4]).iloc[::-1], "2031-09-01 comes after 2031-09-02"),
        (
            one_net([5, 4], recaptured=[6.0, 1.0]),
            "2031-09-01: 6 fish recaptured out of a catch of 5",
        ),
        (one_net([5, 4], released_again=[5, 7]), "2031-09-02: 7 fish released again out of"),
        (one_net([5, -4]), "catches must be numbers of 0 or more: got -4"),
    ],
)
def test_broken_tables(pulls, reason):
    with pytest.raises(DesignError, match=reason):
        classical_estimators(pulls)


def test_importing_the_formulas_loads_neither_scipy_nor_pandas():
    import subprocess
    import sys

    code = (
        "import sys, fishdown.formulas; "
        "print([name for name in ('scipy', 'pandas') if name in sys.modules])"
    )
    shown = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert shown.stdout.strip() == "[]"


def test_leslie_and_delury_by_hours_beside_those_by_pulls() -> None:
    # Nets are left longer as catches fall, which by pulls hides a part of the decline.
    hours, caught = [2.0, 2.0, 2.5, 2.5], [100, 90, 80, 60]
    rows = by_method(one_net(caught, effort_h=hours))
    assert rows["Leslie, hours fished"].estimate == leslie(caught, hours)
    assert rows["DeLury, hours fished"].estimate == log_catch_per_effort(caught, hours)
    assert rows["Leslie, hours fished"].unit == "hour"
    assert rows["Leslie"].estimate == leslie(caught, [1] * 4)
    assert rows["Leslie"].unit == "pull"
    # Not where a pull that fished lacks them; one that did not fish may.
    some = [2.0, 2.0, np.nan, 2.5]
    assert "Leslie, hours fished" not in by_method(one_net(caught, effort_h=some))
    spoiled = one_net([100, 90, 0, 60], effort_h=some, spoiled=[False, False, True, False])
    found = by_method(spoiled)["Leslie, hours fished"].estimate
    assert found == leslie([100, 90, 0, 60], [2.0, 2.0, 0.0, 2.5])
    assert len(by_method(one_net(caught))) == len(by_method(one_net(caught, effort_h=some)))
