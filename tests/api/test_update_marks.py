"""What a fit cannot take up by its draws: pens and second looks that were added since."""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import pytest
from drawn_fits import drawn_fit, records

import fishdown
from fishdown.posterior.reweighting import taken_up


def look_again(folder: Path, second: int) -> None:
    date = pd.read_csv(folder / "pulls.csv")["date"].iloc[0]
    (folder / "second_looks.csv").write_text(
        f"date,lake,found_first,found_second\n{date},Pond,3,{second}\n", encoding="utf-8"
    )


def pen(folder: Path, marked: int) -> None:
    rows = pd.read_csv(folder / "marked.csv")
    rows.assign(penned=30, pen_alive=29, pen_marked=marked).to_csv(
        folder / "marked.csv", index=False
    )


@pytest.mark.parametrize(
    ("write", "numbers", "why"),
    [
        (look_again, (0, 2), "the fish looked at twice changed"),
        (pen, (28, 20), "the fish in pens changed"),
    ],
)
def test_they_are_fitted_anew(tmp_path: Path, write, numbers, why) -> None:
    folder = records(tmp_path / "r")
    write(folder, numbers[0])
    fit = drawn_fit(folder, "one_lake")
    unchanged, entry = taken_up(fit, fishdown.read(folder))
    assert (entry["how"], unchanged is None) == ("unchanged", False)
    write(folder, numbers[1])
    found, entry = taken_up(fit, fishdown.read(folder))
    assert (found, entry["how"], entry["why"]) == (None, "refitted", why)
