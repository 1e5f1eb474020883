"""Nonsense is refused with the range of real values; what looks like a slip is pointed at."""

from __future__ import annotations

import numpy as np
import pytest
from expected import at
from schooling_catches import TARGET, false_alarms, found_slips

from fishdown.records.codes import Odd, Wrong
from fishdown.records.plausible import PLAUSIBLE
from fishdown.records.rules_plausible import far_above_neighbours, neighbours_of

AREA = "write the area of the lake, 0.001 to 40,000,000 ha"
THRESHOLD = "write the biomass density to get below, 0.01 to 100,000 kg/ha"
LENGTH = "write the length of the fish, 1 to 10,000 mm, or leave the cell empty"
WEIGHT = "write the weight of the fish, 0.000001 to 100,000 kg, or leave the cell empty"


@pytest.mark.parametrize(
    ("file", "old", "new", "line"),
    [
        (
            "lakes",
            ",42,",
            ",1e9,",
            at(Wrong.IMPLAUSIBLY_LARGE, "lakes.csv", 2, "area_ha", advice=AREA),
        ),
        (
            "lakes",
            ",42,",
            ",5e-324,",
            at(Wrong.IMPLAUSIBLY_SMALL, "lakes.csv", 2, "area_ha", advice=AREA),
        ),
        (
            "measured",
            "560,2.5",
            "1e300,2.5",
            at(Wrong.IMPLAUSIBLY_LARGE, "measured.csv", 2, "length_mm", advice=LENGTH),
        ),
        (
            "measured",
            "560,2.5",
            "1e200,1",
            at(Wrong.IMPLAUSIBLY_LARGE, "measured.csv", 2, "length_mm", advice=LENGTH),
        ),
        (
            "measured",
            ",1.8",
            ",1e-300",
            at(Wrong.IMPLAUSIBLY_SMALL, "measured.csv", 6, "weight_kg", advice=WEIGHT),
        ),
    ],
)
def test_what_nothing_real_can_be(campaign, problems, file, old, new, line):
    assert problems(campaign((f"{file}.csv", old, new))) == [line]


def test_thresholds(campaign, problems):
    of_lake = campaign(
        ("lakes.csv", "connected", "threshold_kg_per_ha"),
        ("lakes.csv", "42,no", "42,1e308"),
        ("lakes.csv", "6.5,yes", "6.5,"),
    )
    assert problems(of_lake) == [at(Wrong.IMPLAUSIBLY_LARGE, "lakes.csv", 2, "threshold_kg_per_ha")]
    of_all = campaign(
        ("campaign.toml", "species", "threshold_kg_per_ha = 1e308\nspecies"), name="all"
    )
    assert problems(of_all) == [
        at(Wrong.IMPLAUSIBLY_LARGE, "campaign.toml", 2, "threshold_kg_per_ha", advice=THRESHOLD)
    ]


def test_the_least_and_the_most_pass(campaign, lines):
    area, length = PLAUSIBLE["area_ha"], PLAUSIBLE["length_mm"]
    folder = campaign(
        ("lakes.csv", ",42,", f",{area.most:.0f},"),
        ("measured.csv", "450,\n", f"{length.least:g},\n"),
    )
    assert lines(folder) == []


def test_a_column_of_lengths_in_metres_is_one_problem(campaign, problems):
    rows = "".join(f"2025-06-02,Sedge Lake,N1,0.{50 + fish}\n" for fish in range(12))
    (line,) = problems(campaign(measured="date,lake,net,length_mm\n" + rows))
    assert line == (
        at(
            Wrong.IMPLAUSIBLY_SMALL,
            "measured.csv",
            2,
            "length_mm",
            advice=LENGTH,
            throughout=[2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13],
        )
    )


def test_more_fish_than_a_lake_holds(campaign, problems):
    pulls = "date,lake,net,caught\n" + "".join(
        f"2025-06-{day:02d},Heron Pond,P1,{caught}\n"
        for day, caught in ((3, 9_000_000), (4, 10_000_000), (5, 9_500_000))
    )
    found = problems(campaign(pulls=pulls, marked=None, measured=None, bycatch=None))
    assert found == [
        at(
            Wrong.FISH_ABOVE_PLAUSIBLE,
            "pulls.csv",
            3,
            "caught",
            fish=28500000,
            done="removed",
            season="Heron Pond 2025",
            density=pytest.approx(4.385e06, rel=1e-3),
            area_ha=6.5,
            most=1000000,
        )
    ]


def season_of(*catches):
    return "date,lake,net,caught\n" + "".join(
        f"2025-06-{day:02d},Sedge Lake,N1,{caught}\n" for day, caught in enumerate(catches, 1)
    )


def test_a_digit_too_many(campaign, problems):
    pulls = season_of(48, 61, 35, 44, 520, 39, 28, 42)
    found = problems(campaign(pulls=pulls, marked=None, measured=None, bycatch=None))
    assert found == [
        at(
            Odd.CATCH_FAR_ABOVE_OTHERS,
            "pulls.csv",
            6,
            "caught",
            times=10,
            season="Sedge Lake 2025",
            usual=42,
        )
    ]


def test_false_alarms_among_honest_schools():
    """At most 2 % of campaigns; of 5,000 with seed 11 there were 0.7 %, 500 here.

    With concentration 20 instead of 60 there were 1.1 %, with 200 there were 0.3 %. A first form
    of the rule, by the median absolute deviation, gave 50 % and was dropped.
    """
    assert false_alarms(500, 60.0, 11) <= TARGET


def test_a_third_of_such_slips_is_found_where_catches_scatter_least():
    """Of pulls that take 3–10 %, 35 % of 1,000 with seed 12; a small catch times ten is no news."""
    assert 0.25 <= found_slips(300, 60.0, 12) <= 0.45


def test_catches_that_scatter_or_are_few_are_left_alone():
    assert far_above_neighbours(np.array([0, 0, 0, 40, 0, 1, 0, 0.0])) == []
    assert far_above_neighbours(np.array([4, 300, 50, 2, 2_000, 9, 70.0])) == []
    assert far_above_neighbours(np.array([40, 38, 4_000, 41, 43.0])) == []


@pytest.mark.parametrize(("place", "first", "last"), [(0, 1, 12), (20, 14, 26), (39, 27, 38)])
def test_neighbours_are_the_nearest_twelve(place, first, last):
    found = neighbours_of(np.arange(40.0), place)
    assert len(found) == 12
    assert (found.min(), found.max()) == (first, last)
    assert place not in found


def weights_of(values):
    rows = "".join(f"2025-06-02,Sedge Lake,N1,{value}\n" for value in values)
    return "date,lake,net,weight_kg\n" + rows


def test_forty_identical_weights(campaign, lines):
    said = "are exactly 2.35 kg (rows 2, 3, 4, 5, 6 and 35 more); check whether one mean weight was"
    (line,) = lines(campaign(measured=weights_of([2.35] * 40)))
    assert line.startswith(
        'warning: measured.csv, row 2, weight_kg = "2.35": 40 of 40 weights of Sedge Lake 2025 '
    )
    assert said in line
    others = [1.8, 1.9, 2.0, 2.15, 2.3, 2.45, 2.6, 2.75, 3.1]
    (line,) = lines(campaign(measured=weights_of([2.35] * 40 + others), name="among_others"))
    assert said in line
    assert "40 of 49 weights" in line


def test_weights_of_a_coarse_scale_are_left_alone(campaign, lines):
    """Whole kilograms, and tenths of them, as real scales give."""
    rng = np.random.default_rng(5)
    fish = rng.lognormal(np.log(2.4), 0.25, 200)
    for digits in (0, 1):
        values = [f"{max(value, 0.1):.{digits}f}" for value in fish]
        folder = campaign(measured=weights_of(values), name=f"digits{digits}")
        assert [line for line in lines(folder) if "exactly" in line] == []


def test_fish_measured_years_from_all_netting(campaign, problems):
    rows = "2015-06-02,Sedge Lake,,1.7\n" * 2 + "2024-06-02,Sedge Lake,,1.7\n"
    table = "date,lake,net,weight_kg\n" + rows
    assert problems(campaign(measured=table)) == [
        at(
            Odd.MEASURED_YEARS_AWAY,
            "measured.csv",
            2,
            "date",
            years=pytest.approx(10, rel=1e-3),
            rows=[2, 3],
        )
    ]


def test_fish_marked_years_before_all_netting(campaign, lines):
    (line,) = lines(campaign(("marked.csv", "2025-04-22", "2015-04-22")))
    assert line.startswith(
        'warning: marked.csv, row 2, date = "2015-04-22": marked 10.1 years before the next'
    )


@pytest.mark.parametrize(
    ("file", "old", "new", "line"),
    [
        (
            "pulls",
            "10,Sedge Lake,N1",
            "10,Sedge Lake,n1",
            'pulls.csv, row 4, net = "n1": differs from the net "N1" (row 2) by capital letters '
            'only (row 4), and counts as another net; write "N1" if it is the same',
        ),
        (
            "bycatch",
            "N1,channel catfish,4,1\n",
            "N1,pike,4,1\n2025-06-02,Sedge Lake,N2,Pike,1,\n",
            'bycatch.csv, row 3, species = "Pike": differs from the species "pike" (rows 2 and 4) '
            "by capital letters only (row 3), and counts as another species; write "
            '"pike" if it is the same',
        ),
    ],
)
def test_names_that_differ_by_capital_letters(campaign, lines, file, old, new, line):
    measured = "date,lake,net,weight_kg\n2025-06-02,Sedge Lake,N2,2\n"
    found = lines(campaign((f"{file}.csv", old, new), measured=measured))
    assert found == [f"warning: {line}"]


def test_nets_of_different_lakes_may_differ_by_case(campaign, lines):
    assert lines(campaign(("pulls.csv", "P1,40", "n1,40"), measured=None, bycatch=None)) == []
