"""Classical estimators count the marks of their season; those of earlier winters may be dead."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import fishdown
from fishdown.cli import main
from fishdown.formulas import chapman, classical_estimators

NAN = float("nan")
LAKES = [{"lake": "Alder", "area_ha": 20}]
# 600 marked in the first year, all at large at its end; in the second year 200 more. By then
# 4,000 fish, 800 a pull: of the 600 only 200 live, so 5 % are marked anew, 10 % in all.
CAUGHT, NEW, OLD = (800, 640, 512), (40, 32, 26), (40, 32, 25)


def marked(day: str, batch: str, released: int) -> dict[str, Any]:
    row = {"date": day, "lake": "Alder", "batch": batch, "mark": "fin_clip"}
    return {**row, "released": released}


def pulls(recaptured: bool) -> list[dict[str, Any]]:
    first = {"date": "2024-06-01", "lake": "Alder", "net": "A", "caught": 10}
    rows = [first | ({"recaptured": 0} if recaptured else {})]
    for day, (caught, new, old) in enumerate(zip(CAUGHT, NEW, OLD, strict=True), 1):
        row = {"date": f"2025-06-{day:02d}", "lake": "Alder", "net": "A", "caught": caught}
        rows.append(row | ({"recaptured": new + old} if recaptured else {}))
    return rows


def told(old: str, new: str) -> list[dict[str, Any]]:
    return [
        {"date": f"2025-06-{day:02d}", "lake": "Alder", "net": "A", "batch": batch, "count": count}
        for day, counts in enumerate(zip(OLD, NEW, strict=True), 1)
        for batch, count in zip((old, new), counts, strict=True)
    ]


def second_season(campaign: fishdown.Campaign) -> dict[str, Any]:
    frame = campaign.season_pulls(1).to_dataframe()
    return {row.method: row for row in classical_estimators(frame)}


def test_batches_tell_the_marks_of_earlier_years_apart(folder_of: Callable[..., Path]) -> None:
    campaign = fishdown.read(
        folder_of(
            lakes=LAKES,
            pulls=pulls(recaptured=False),
            marked=[marked("2024-05-01", "old", 600), marked("2025-05-01", "new", 200)],
            recaptures=told("old", "new"),
        )
    )
    of_season = campaign.pulls.isel(pull=slice(1, None))
    assert of_season["marks_at_large"].values.tolist() == [800, 720, 656]
    assert of_season["marks_of_season"].values.tolist() == [200, 160, 128]
    assert of_season["recaptured_of_season"].values.tolist() == list(NEW)
    rows = second_season(campaign)
    found = rows["Chapman, one marking"].estimate
    right = chapman(200, sum(CAUGHT), sum(NEW))
    assert (found.abundance, found.low, found.high) == (right.abundance, right.low, right.high)
    # The truth is 4,000. All marks counted as alive gave 8,000.
    assert found.low < 4_000 < found.high
    assert chapman(800, sum(CAUGHT), sum(NEW) + sum(OLD)).low > 7_000
    words = (
        "counts the marks released in this season; up to 600 of earlier seasons are left out, "
        "since it is not known how many of them are still alive"
    )
    assert found.note == words
    assert rows["Schnabel"].estimate.note.endswith(words)
    assert 3_500 < rows["Schnabel"].estimate.abundance < 4_500


@pytest.mark.parametrize(
    ("tables", "reason"),
    [
        (
            {
                "pulls": pulls(recaptured=True),
                "marked": [marked("2024-05-01", "old", 600), marked("2025-05-01", "new", 200)],
            },
            "up to 600 marked fish of earlier seasons were at large, and it is not known how many "
            "of them were still alive; 3 catches do not tell their marks from those of this "
            "season: name the batch of every recapture, and give each season batches of its own",
        ),
        # One name for the batches of both years.
        (
            {
                "pulls": pulls(recaptured=False),
                "marked": [marked("2024-05-01", "clip", 600), marked("2025-05-01", "clip", 200)],
                "recaptures": told("clip", "clip"),
            },
            "3 catches do not tell their marks from those of this season",
        ),
        (
            {"pulls": pulls(recaptured=True), "marked": [marked("2024-05-01", "old", 600)]},
            "no fish were marked in this season; up to 600 marked fish of earlier seasons",
        ),
    ],
)
def test_marks_that_cannot_be_told_apart_are_refused(
    folder_of: Callable[..., Path], tables: dict[str, Any], reason: str
) -> None:
    rows = second_season(fishdown.read(folder_of(lakes=LAKES, **tables)))
    for name in ("Chapman, one marking", "Schnabel", "Schumacher–Eschmeyer"):
        assert rows[name].estimate is None
        assert rows[name].refusal.startswith(reason) or reason in rows[name].refusal
    assert rows["Leslie"].estimate is not None


def test_a_single_unnamed_recapture_leaves_its_catch_untold(
    folder_of: Callable[..., Path],
) -> None:
    rows = told("old", "new")
    rows[0]["batch"] = ""
    campaign = fishdown.read(
        folder_of(
            lakes=LAKES,
            pulls=pulls(recaptured=False),
            marked=[marked("2024-05-01", "old", 600), marked("2025-05-01", "new", 200)],
            recaptures=rows,
        )
    )
    own = campaign.pulls["recaptured_of_season"].values
    np.testing.assert_array_equal(own, [0, NAN, NEW[1], NEW[2]])
    assert "1 catch does not tell" in second_season(campaign)["Schnabel"].refusal


def test_marks_of_one_season_are_those_of_the_ledger(folder_of: Callable[..., Path]) -> None:
    """A catch that was not examined, fish put back, more marked in between: all the same."""
    rows = pulls(recaptured=True)[1:]
    rows[1]["recaptured"] = ""
    rows[0]["released_again"] = 75
    campaign = fishdown.read(
        folder_of(
            lakes=LAKES,
            pulls=rows,
            marked=[marked("2025-05-01", "one", 300), marked("2025-06-02", "two", 60)],
        )
    )
    table = campaign.pulls
    np.testing.assert_array_equal(table["marks_of_season"], table["marks_at_large"])
    np.testing.assert_array_equal(table["recaptured_of_season"], table["recaptured"])


def test_the_command_says_which_marks_count(
    folder_of: Callable[..., Path], capsys: pytest.CaptureFixture[str]
) -> None:
    folder = folder_of(
        lakes=LAKES, pulls=pulls(recaptured=True), marked=[marked("2024-05-01", "old", 600)]
    )
    assert main(["formulas", str(folder)]) == 0
    printed = " ".join(capsys.readouterr().out.split())
    assert "Mark–recapture estimators count the fish marked in the season" in printed
    assert "no fish were marked in this season; up to 600 marked fish" in printed
