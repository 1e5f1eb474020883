"""The ledger of marks, held against sums done by hand."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from fishdown.records.ledger import keep_ledger, marked_before_pulls

NAN = float("nan")


def ledger(caught, recaptured, put_back, marked_before, examined=None):
    columns = (
        caught,
        recaptured,
        caught if examined is None else examined,
        put_back,
        marked_before,
    )
    return keep_ledger(*(np.array(column, dtype="float64") for column in columns))


def test_marks_are_released_and_removed():
    # 50 marked, 20 more before the third pull.
    # Pull 1: 50 at large, 5 taken out. Pull 2: 45, of 4 marked 3 are put back, 1 taken out.
    # Pull 3: 44 + 20 = 64, 2 taken out. Pull 4: 62, all marked fish put back.
    kept = ledger([100, 80, 60, 30], [5, 4, 2, 1], [0, 3, 0, 10], [50, 50, 70, 70])
    assert kept.at_large.tolist() == [50, 45, 64, 62]
    assert kept.removed.tolist() == [5, 1, 2, 0]


def test_a_catch_nobody_looked_through_holds_marks_at_the_share_of_the_season():
    # Looked through: 6 + 2 marked of 120 + 80 fish, a share of 4 %. 50 fish hold 2.
    kept = ledger([120, 50, 80], [6, NAN, 2], [0, 0, 0], [40, 40, 40])
    assert kept.removed.tolist() == [6, 2, 2]
    assert kept.at_large.tolist() == [40, 34, 32]
    assert np.isnan(kept.recaptured[1])


def test_of_a_catch_looked_through_in_part_the_rest_holds_marks_at_that_share():
    # 8 marked of 240 fish looked at; of the second catch 50 were not.
    kept = ledger([120, 130, 40], [6, 2, 0], [0, 0, 0], [60, 60, 60], examined=[120, 80, 40])
    share = 8 / 240
    np.testing.assert_allclose(kept.removed, [6, 2 + 50 * share, 0])
    np.testing.assert_allclose(kept.at_large, [60, 54, 52 - 50 * share])
    assert kept.examined.tolist() == [120, 80, 40]


def test_marked_fish_put_back_count_first_whether_seen_or_not():
    # 3 marked fish seen, one more among the 20 not looked at; 2 fish are put back.
    kept = ledger([80], [3], [2], [60], examined=[60])
    np.testing.assert_allclose(kept.removed, [3 + 20 * 3 / 60 - 2])


def test_where_nobody_looked_or_nothing_was_to_see():
    kept = ledger([80, 50, 40], [0, NAN, NAN], [0, 0, 0], [0, 0, 30], examined=[20, 50, 40])
    # Without marks at large all are known to be unmarked; the last catch is not known.
    assert kept.examined.tolist() == [80, 50, 0]


def test_marked_fish_of_such_a_catch_are_put_back_first():
    # A share of 4 %: 2 marked of 50, one of them put back.
    kept = ledger([200, 50], [8, NAN], [0, 1], [40, 40])
    assert kept.removed.tolist() == [8, 1]


def test_the_share_leaves_out_pulls_before_the_marking():
    # With the first pull the share would be 10 / 1,100; without it 10 %.
    kept = ledger([1000, 100, 50], [0, 10, NAN], [0, 0, 0], [0, 60, 60])
    assert kept.removed.tolist() == [0, 10, 5]


def test_an_estimate_leaves_the_marks_that_come_back_later():
    # At 50 % the 18 fish would hold 9 of the 10 marks, but 5 come back in the last pull.
    kept = ledger([18, 10], [NAN, 5], [0, 0], [10, 10])
    assert kept.removed.tolist() == [5, 5]
    assert kept.at_large.tolist() == [10, 5]


def test_marks_released_between_need_not_be_spared():
    kept = ledger([18, 10], [NAN, 5], [0, 0], [10, 14])
    assert kept.removed.tolist() == [9, 5]
    assert kept.at_large.tolist() == [10, 5]


@pytest.mark.parametrize(("caught", "marked_before"), [(0, 30), (40, 0)])
def test_empty_means_none_where_there_is_nothing_to_see(caught, marked_before):
    kept = ledger([caught], [NAN], [0], [marked_before])
    assert kept.recaptured.tolist() == [0]


def test_marks_nobody_looked_for_stay():
    kept = ledger([90, 60], [NAN, NAN], [0, 0], [25, 25])
    assert kept.at_large.tolist() == [25, 25]
    assert kept.removed.tolist() == [0, 0]


def test_the_ledger_never_lacks_the_marks_that_were_seen():
    rng = np.random.default_rng(20250614)
    for _ in range(200):
        count = int(rng.integers(1, 12))
        caught = rng.integers(0, 40, count).astype(float)
        marked_before = np.cumsum(rng.integers(0, 15, count)).astype(float)
        put_back = rng.integers(0, 6, count).astype(float)
        recaptured, at_large = np.zeros(count), marked_before.copy()
        for pull in range(count):
            now = min(caught[pull], at_large[pull])
            recaptured[pull] = rng.integers(0, now + 1)
            at_large[pull + 1 :] -= max(recaptured[pull] - put_back[pull], 0)
        seen = np.where(rng.random(count) < 0.4, NAN, recaptured)
        kept = ledger(caught, seen, put_back, marked_before)
        assert (kept.at_large >= np.nan_to_num(kept.recaptured) - 1e-9).all()
        assert (kept.removed >= 0).all()
        assert (kept.removed <= np.minimum(caught, kept.at_large) + 1e-9).all()


def test_marks_at_large_are_those_of_every_earlier_day_and_order():
    """Against the definition, pair by pair."""
    rng = np.random.default_rng(5)
    days = pd.date_range("2024-06-01", periods=4)
    pulls = pd.DataFrame({"date": rng.choice(days, 40), "turn": rng.integers(1, 5, 40) * 1.0})
    marked = pd.DataFrame(
        {
            "date": [*rng.choice(days, 38), pd.NaT, pd.NaT],
            "order": rng.choice([1.0, 2.0, 3.0, np.nan], 40),
            "released": rng.integers(0, 50, 40) * 1.0,
            "died": rng.choice([0.0, 1.0, np.nan], 40),
        }
    )
    expected = [
        sum(
            fish.released - (0 if np.isnan(fish.died) else fish.died)
            for fish in marked.itertuples()
            if fish.date < pull.date or (fish.date == pull.date and fish.order < pull.turn)
        )
        for pull in pulls.itertuples()
    ]
    assert marked_before_pulls(pulls, marked).tolist() == expected
    assert marked_before_pulls(pulls, marked.iloc[:0]).tolist() == [0.0] * 40
