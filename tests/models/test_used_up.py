"""Of the marks not seen yet, more and more are lost ones: against counting fish by fish."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from field_records import daily_pulls
from scipy import stats

import fishdown
from fishdown.models.data import fitting_spec, model_data
from fishdown.models.parts.marks.used_up import odds_of_mark, share_left, still_there


@pytest.mark.parametrize("there", [0.3, 0.8, 1.0])
def test_marks_that_no_pull_took(there: float) -> None:
    """Of 60 marks so many are there; those escape the nets by chance; the rest is never seen."""
    marks, left, odds = 60, 0.2, 1.3
    escapes = left**odds
    both = np.zeros(marks + 1)
    for kept in range(marks + 1):
        chance = stats.binom.pmf(kept, marks, there)
        escaped = np.arange(kept + 1)
        # By how many are at large by the records: those lost, and those that escaped.
        at_large = marks - kept + escaped
        weight = chance * stats.binom.pmf(escaped, kept, escapes)
        both[0] += float((weight * at_large).sum())
        both[1] += float((weight * escaped).sum())
    assert still_there(there, left, odds) == pytest.approx(both[1] / both[0], rel=1e-9)


@pytest.mark.parametrize("odds", [0.6, 1.0, 1.5])
def test_marks_in_a_catch_are_those_of_fish_that_may_not_be_there(odds: float) -> None:
    """Of 12 marks each is there by chance; 40 fish without; 15 are caught: by enumeration."""
    marks, others, taken, there = 12, 40, 15, 0.7
    # Each fish by itself, and the catch given: any share of the unmarked gives the same.
    q = taken / (others + there * marks)
    caught = odds * q / (1.0 - q + odds * q)
    seen = np.arange(marks + 1)
    by_kept = np.zeros(marks + 1)
    for kept in range(marks + 1):
        of_kept = stats.binom.pmf(seen, kept, caught) * stats.binom.pmf(taken - seen, others, q)
        by_kept += stats.binom.pmf(kept, marks, there) * of_kept
    ratio = odds_of_mark(there, odds, taken, others + there * marks)
    law = stats.nchypergeom_fisher(marks + others, marks, taken, ratio)
    assert law.pmf(seen) == pytest.approx(by_kept / by_kept.sum(), rel=1e-6)


def test_before_netting_as_many_are_there_as_were_kept() -> None:
    share = np.array([0.1, 0.7, 1.0])
    assert still_there(share, share_left(0.0, 100.0), 1.7) == pytest.approx(share)
    # Fish that were stocked do not bring marks back, and an emptied lake is no division by zero.
    assert share_left(-50.0, 100.0) == 1.0
    assert 0.0 < still_there(0.9, share_left(100.0, 100.0), 1.0) < 1e-4


@pytest.mark.parametrize(("marks", "fewest"), [("effective", 130), ("all_count", 130 + 60 - 12)])
def test_a_lake_need_not_hold_marks_that_may_be_lost(
    folder_of: Callable[..., Path], marks: str, fewest: int
) -> None:
    """All fish taken were there; marks that were not seen only where every mark counts."""
    campaign = fishdown.read(
        folder_of(
            lakes=[{"lake": "Alder", "area_ha": 20}],
            pulls=daily_pulls("Alder", [60, 40, 30], recaptured=[6, 4, 2]),
            marked=[{"date": "2024-05-01", "lake": "Alder", "batch": "spring",
                     "mark": "fin_clip", "released": 60}],
        )
    )  # fmt: skip
    spec = fishdown.read_model("one_lake")
    if marks != "effective":
        parts = {"antenna": "none", "surveys": "none", "second_looks": "none",
                 "natural_deaths": "none"}  # fmt: skip
        spec = spec.with_parts(marks=marks, **parts)
    counts = model_data(campaign, fitting_spec(campaign, spec)[0]).counts
    assert counts.bound[0] + counts.marks_at_start.sum() == fewest
