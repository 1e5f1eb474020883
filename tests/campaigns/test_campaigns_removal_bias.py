"""Catchability that falls from pass to pass: removal comes out low, marks do not.

Peterson, Thurow & Guzewich 2004, Trans. Am. Fish. Soc. 133:462–475: a first pass took 28 % of the
marked fish on average, later passes 1.71 times less, and removal overstated the efficiency of
three passes and understated abundance. Rosenberger & Dunham 2005, N. Am. J. Fish. Manage.
25:1395–1410: mark–recapture unbiased, removal low. (Abstracts.) The catches here are the expected
ones, rounded, of 2,000 fish with 400 of them marked; number and marks are invented.
"""

from __future__ import annotations

import numpy as np
import pytest
from campaigns_by_lake import by_lake
from field_records import daily_pulls, write_folder
from passes_by_hand import passes_by_hand

import fishdown
from fishdown.posterior.sampling import SamplerSettings

FISH, MARKED = 2000, 400
SHARES = (0.28, 0.28 / 1.71, 0.28 / 1.71)


def expected_catches(fish: float) -> list[int]:
    """Return what each pass takes on average, in whole fish."""
    catches = []
    for share in SHARES:
        catches.append(share * fish)
        fish -= catches[-1]
    return [round(caught) for caught in catches]


@pytest.fixture(scope="module")
def campaign(tmp_path_factory):
    return fishdown.read(
        write_folder(
            tmp_path_factory.mktemp("falling"),
            species="trout",
            lakes=[{"lake": "Creek", "area_ha": 1.0}],
            marked=[
                {
                    "date": "2024-05-28",
                    "lake": "Creek",
                    "batch": "b",
                    "mark": "fin_clip",
                    "released": MARKED,
                }
            ],
            pulls=daily_pulls("Creek", expected_catches(FISH), recaptured=expected_catches(MARKED)),
        )
    )


@pytest.fixture(scope="module")
def fits(campaign):
    spec = fishdown.read_model("few_passes")
    settings = SamplerSettings(draws=2000, seed=5)
    return {
        evidence: fishdown.fit(
            campaign,
            spec.with_parts(evidence=evidence),
            settings=settings,
            compare_evidence=evidence == "both",
        )
        for evidence in ("depletion", "marks", "both")
    }


def abundance(fit):
    assert fit.quality.passed
    return by_lake(fit.estimates(despite_gate=True)).loc["Creek"]


def test_expected_catches():
    assert expected_catches(FISH) == [560, 236, 197]
    assert expected_catches(MARKED) == [112, 47, 39]


def test_depletion_alone_comes_out_low(fits):
    """Its best guess, 1,201 by the enumerated mode, misses 4 of 10 fish and is sure of itself."""
    N = abundance(fits["depletion"])
    assert passes_by_hand(expected_catches(FISH)).mode == 1201
    assert N["high"] < 0.75 * FISH
    assert N["low"] < 1201 < N["high"]
    # Of all fish, removal believes to have caught far more than the passes took.
    efficiency = by_lake(fits["depletion"].estimates(), "removed_share").loc["Creek"]
    assert efficiency["low"] > sum(expected_catches(FISH)) / FISH


def test_marks_alone_hold_the_truth(fits):
    N = abundance(fits["marks"])
    assert N["low"] < FISH < N["high"]
    # Each catch carries the lake's marked share, so the likelihood centres on the truth; its
    # standard error is 4.5 %, and half of it covers prior and skew.
    assert N["median"] == pytest.approx(FISH, abs=0.5 * N["sd"])


def test_both_lie_between_and_are_withheld(fits):
    """A constant catchability cannot reconcile them: the joint interval misses the truth.

    So the two must not be blended in silence: the verdict is withheld, with the conflict named.
    """
    both = abundance(fits["both"])
    assert abundance(fits["depletion"])["median"] < both["median"] < FISH
    assert both["high"] < FISH
    assert np.isnan(by_lake(fits["both"].estimates()).loc["Creek", "median"])
    verdicts = fits["both"].verdicts()
    assert np.all(verdicts["gate"].str.contains("estimates contradict each other"))
    assert np.all(verdicts["statement"].str.startswith("Withheld"))
    for alone in ("depletion", "marks"):
        assert np.all(fits[alone].verdicts()["gate"] == "passed")
