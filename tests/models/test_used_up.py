"""Of the marks not seen yet, more and more are lost ones: against counting fish by fish."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from fishdown.models.parts.marks.used_up import left_of, still_there


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


def test_before_netting_as_many_are_there_as_were_kept() -> None:
    share = np.array([0.1, 0.7, 1.0])
    assert still_there(share, left_of(0.0, 100.0), 1.7) == pytest.approx(share)
    # Fish that were stocked do not bring marks back, and an emptied lake is no division by zero.
    assert left_of(-50.0, 100.0) == 1.0
    assert 0.0 < still_there(0.9, left_of(100.0, 100.0), 1.0) < 1e-4
