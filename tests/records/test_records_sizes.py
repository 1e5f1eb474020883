"""Sizes of measured fish: off the standard of the species, or chosen by size."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest
from expected import at
from scipy import stats

from fishdown.identifiability.seasons import what_is_identified
from fishdown.records import read_records
from fishdown.records.codes import Odd
from fishdown.records.rules_sizes import (
    STANDARD_INTERCEPT,
    STANDARD_SLOPE,
    relative_weight,
)
from fishdown.records.selection import rank_distance

HEADER = "date,lake,net,length_mm,weight_kg\n"
PUBLISHED = Path(__file__).parents[1] / "published" / "carp_published_facts.csv"


def carp(length, condition=1.4):
    return f"{length},{condition * 1e-8 * length**3:.3f}"


def rows(fish, date="2025-06-02", net="N1"):
    return "".join(f"{date},Sedge Lake,{net},{size}\n" for size in fish)


def test_standard_weight_is_the_published_one():
    """Bister et al. 2000 (value from memory), and what is printed of Lake Winona's carp.

    Mundahl et al. 2024 print relative weights of 117 and 107 % of the two basins; the mean length
    and weight of all, 614 mm and 3.42 kg, must come out between them, give or take that a mean
    weight is above the weight at the mean length.
    """
    facts = {
        row["item"]: row["value"]
        for row in csv.DictReader(PUBLISHED.read_text("utf-8").splitlines())
    }
    line = "Common carp standard weight"
    assert float(facts[f"{line} intercept (log10 g on log10 mm TL)"]) == STANDARD_INTERCEPT
    assert float(facts[f"{line} slope"]) == STANDARD_SLOPE
    # by hand: 10^(−4.639 + 2.920 × log10 500) = 1,745.8 g
    assert relative_weight(500.0, 1.7458) == pytest.approx(100.0, abs=0.01)
    mean = relative_weight(
        float(facts["Lake Winona carp mean total length"]),
        float(facts["Lake Winona carp mean weight"]),
    )
    assert 100.0 < mean < 117.0


def test_pounds_and_fish_off_the_standard_are_one_warning(campaign, problems):
    fish = [carp(560), carp(610), "520,6.0", "480,0.6", carp(450)]
    folder = campaign(measured=HEADER + rows(fish))
    assert problems(folder) == [
        at(
            Odd.OFF_STANDARD_WEIGHT,
            "measured.csv",
            None,
            "weight_kg",
            fish=2,
            lightest=50,
            heaviest=200,
        )
    ]


def test_a_file_in_pounds_is_named_fish_by_fish_up_to_five(campaign, lines):
    fish = [carp(length, 1.4 * 2.2046) for length in range(420, 500, 10)]
    (line,) = lines(campaign(measured=HEADER + rows(fish)))
    assert "8 common carp" in line
    assert line.count("row ") == 5
    assert "and 3 more)" in line


def test_other_species_short_fish_and_impossible_weights_have_no_standard(campaign, lines):
    fish = [carp(560), "520,6.0", "150,0.2"]
    other = ("campaign.toml", '"common carp"', '"silver carp"\nthreshold_kg_per_ha = 90')
    assert lines(campaign(other, measured=HEADER + rows(fish))) == []
    assert lines(campaign(measured=HEADER + rows([carp(560), "150,0.2"]), name="short")) == []
    grams = lines(campaign(measured=HEADER + rows([carp(560), "560,2500"]), name="grams"))
    assert len(grams) == 1
    assert "times too heavy" in grams[0]


def test_ranks_are_mann_and_whitneys():
    rng = np.random.default_rng(4)
    one, other = rng.normal(0.4, 1.0, 23), rng.normal(0.0, 1.0, 31)
    expected = stats.mannwhitneyu(one, other, method="asymptotic", use_continuity=False)
    assert 2 * stats.norm.sf(abs(rank_distance(one, other))) == pytest.approx(expected.pvalue)
    assert rank_distance(one, other) > 0 > rank_distance(other, one)


LONG, SHORT = range(560, 640, 5), range(430, 500, 5)


def test_larger_fish_weighed(campaign, lines):
    """16 weighed of 560–635 mm beside 14 measured of 430–495 mm, by hand.

    Σ L³ / n is 0.2143 m³ for the weighed and 0.1607 for all 30: 33 % above.
    """
    fish = [*map(carp, LONG), *(f"{length}," for length in SHORT)]
    folder = campaign(measured=HEADER + rows(fish))
    cubes = [np.array(lengths, float) ** 3 for lengths in (LONG, [*LONG, *SHORT])]
    assert cubes[0].mean() / cubes[1].mean() == pytest.approx(1.333, abs=0.0005)
    assert lines(folder) == [
        "warning: measured.csv, weight_kg: in Sedge Lake 2025 the 16 weighed fish are longer "
        "than the 14 that were measured only (half of them above 597.5 mm and 462.5 mm); from "
        "the weights alone, biomass would be about 33 % too high; weigh fish as they come; "
        "until then the others' weights follow from their lengths"
    ]
    said = str(what_is_identified(read_records(folder))[0])
    assert "16 weights and 14 more lengths (length–weight relation of 16 fish): biomass" in said
    assert (
        "larger fish were more likely to be weighed: from the weights alone, biomass would be "
        "about 33 % too high"
    ) in said
    assert "a length but no weight" not in said


def test_smaller_fish_weighed_and_too_few_to_weigh_by_length(campaign, lines):
    fish = [*map(carp, list(SHORT)[:9]), *(f"{length}," for length in LONG)]
    (line,) = lines(campaign(measured=HEADER + rows(fish)))
    assert "the 9 weighed fish are shorter than the 16 that were measured only" in line
    assert "too low; weigh fish as they come, and measure 10 or more of those weighed" in line


def test_fish_weighed_as_they_come_raise_no_warning(campaign, lines):
    mixed = sorted([*LONG, *SHORT])
    fish = [carp(length) if place % 2 else f"{length}," for place, length in enumerate(mixed)]
    assert lines(campaign(measured=HEADER + rows(fish))) == []


def test_fish_picked_from_large_catches(campaign, lines):
    """Sedge Lake: 16 of 120 fish of N1 on 2 June, all 14 fish of N2 on 10 June."""
    measured = rows(map(carp, LONG)) + rows(map(carp, SHORT), "2025-06-10", "N2")
    pull = ("pulls.csv", "2025-06-10,Sedge Lake,N1,60", "2025-06-10,Sedge Lake,N2,14")
    folder = campaign(pull, measured=HEADER + measured)
    whole, everything = (np.array(x, float) ** 3 for x in (SHORT, [*LONG, *SHORT]))
    excess = everything.mean() / whole.mean() - 1
    assert lines(folder) == [
        "warning: measured.csv: in Sedge Lake 2025 catches of which only a part was measured gave "
        "larger fish than catches measured whole (half of them above 597.5 mm and 462.5 mm): if "
        f"fish were selected by size, biomass is about {100 * excess:.0f} % too high; "
        "measure fish as they come, such as every fifth; leave selected fish out"
    ]
    said = str(what_is_identified(read_records(folder))[0])
    assert "larger fish seem to have been selected for measuring: biomass may be" in said


def test_what_a_season_without_weights_borrows(campaign):
    pulls = (
        "date,lake,net,caught\n2024-06-02,Sedge Lake,N1,90\n2024-06-09,Sedge Lake,N1,50\n"
        "2025-06-02,Sedge Lake,N1,60\n2025-06-09,Sedge Lake,N1,40\n"
        "2025-06-02,Heron Pond,P1,30\n2025-06-09,Heron Pond,P1,10\n"
    )
    files = {"pulls": pulls, "marked": None, "bycatch": None, "detections": None}
    folder = campaign(measured=HEADER + rows([carp(560)]), **files)
    before, _, heron, _ = map(str, what_is_identified(read_records(folder)))
    assert "no weights: biomass from the mean weight of the lake's other seasons" in before
    assert (
        "no weights: biomass only from the mean weight of other lakes, by partial pooling"
    ) in heron
