"""Marked fish seen in other lakes: counts by hand, limits by SciPy, and where they are told."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from command_lines import joined
from drawn_fits import drawn_fit
from field_records import daily_pulls
from scipy import stats

import fishdown
from fishdown.cli import main
from fishdown.marks_elsewhere import marks_elsewhere, share_seen
from fishdown.records import read_records

LAKES = [{"lake": name, "area_ha": area} for name, area in (("Alder", 12), ("Birch", 30))]
PULLS = [
    *daily_pulls("Alder", [40, 31, 25, 28], recaptured=["", "", "", ""]),
    *daily_pulls("Birch", [50, 36, 30, 22], recaptured=["", "", "", ""]),
]
DAY, NET = PULLS[0]["date"], PULLS[0]["net"]


def batch(lake: str, name: str, released: int, mark: str = "pit_tag", died: int = 0) -> Any:
    return {"date": "2024-05-01", "lake": lake, "batch": name, "mark": mark,
            "released": released, "died": died}  # fmt: skip


MARKED = [
    batch("Alder", "A", 60, died=2),
    batch("Alder", "clips", 30, "fin_clip"),
    batch("Birch", "B", 80),
    # Clips alike in both lakes tell nothing.
    batch("Birch", "clips", 20, "fin_clip"),
]


def recapture(lake: str, name: str, count: int, tag: str = "") -> dict[str, Any]:
    return {"date": DAY, "lake": lake, "net": NET, "batch": name, "count": count, "tag_id": tag}


RECAPTURES = [
    recapture("Alder", "A", 4),
    recapture("Birch", "B", 3),
    recapture("Birch", "A", 2),
    recapture("Birch", "A", 1, "T01"),
    recapture("Birch", "clips", 5),
]


@pytest.fixture
def records(folder_of: Callable[..., Path]) -> Callable[..., Path]:
    def write(heard: tuple[str, ...] = (), recaptures: Any = RECAPTURES) -> Path:
        tables: dict[str, Any] = {"recaptures": recaptures}
        if heard:
            tables["tags"] = [
                {"lake": "Alder", "batch": "A", "tag_id": f"T{number:02}"} for number in range(9)
            ]
            tables["detections"] = [
                {"time": f"2024-06-0{1 + turn % 3}T23:05:00Z", "lake": "Birch", "net": NET,
                 "tag_id": tag} for turn, tag in enumerate((*heard, *heard))
            ]  # fmt: skip
        measured = [
            {"date": DAY, "lake": lake, "net": NET, "weight_kg": 2.0 + 0.1 * fish}
            for lake in ("Alder", "Birch")
            for fish in range(5)
        ]
        return folder_of(lakes=LAKES, pulls=PULLS, marked=MARKED, measured=measured, **tables)

    return write


def rows(folder: Path) -> list[tuple[Any, ...]]:
    return [tuple(row) for row in marks_elsewhere(read_records(folder)).itertuples(index=False)]


def test_counts_by_hand(records: Callable[..., Path]) -> None:
    # Of 58 tags of Alder three were in catches of Birch; the clips are its own.
    assert rows(records()) == [("Alder", "Birch", 58, 3, 0)]


def test_a_fish_is_counted_once(records: Callable[..., Path]) -> None:
    """T01 was caught as well as heard, and T02 was heard on two nights."""
    assert rows(records(("T01", "t-02", "T02", "T07"))) == [("Alder", "Birch", 58, 3, 2)]


def test_heard_only(records: Callable[..., Path]) -> None:
    assert rows(records(("T03",), RECAPTURES[:2])) == [("Alder", "Birch", 58, 0, 1)]


def test_none(records: Callable[..., Path]) -> None:
    assert rows(records((), RECAPTURES[:2])) == []


@pytest.mark.parametrize(("seen", "marked"), [(3, 58), (0, 40), (12, 12)])
def test_limits_are_scipy_s(seen: int, marked: int) -> None:
    limits = stats.binomtest(seen, marked).proportion_ci(0.9, method="exact")
    expected = [seen / marked, limits.low, limits.high]
    assert share_seen(seen, marked) == pytest.approx(expected, abs=1e-9)


def test_check_says_so(records: Callable[..., Path], capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", str(records(("T02",)))]) == 0
    said = joined(capsys.readouterr().out)
    assert (
        "Marks of Alder seen in Birch: 4 of 58 (3 in catches and 1 heard by antennas), 6.9 % (90 % "
        "exact limits 2.4 to 15.1 %). At least so many moved; no estimate uses it" in said
    )
    low, high = stats.binomtest(4, 58).proportion_ci(0.9, method="exact")
    assert (round(100 * low, 1), round(100 * high, 1)) == (2.4, 15.1)


def test_a_fit_and_its_page_have_them(records: Callable[..., Path], tmp_path: Path) -> None:
    campaign = fishdown.read(records(("T02",)))
    assert fishdown.Campaign.from_tree(campaign.to_tree()) == campaign
    assert campaign.elsewhere["marked_there"].attrs["units"] == "count"
    fit = drawn_fit(records(("T02",)))
    table = fit.elsewhere()
    assert table[["marked", "caught", "heard"]].to_numpy().tolist() == [[58, 3, 1]]
    page = fit.report(tmp_path / "page").read_text(encoding="utf-8")
    part = page.split('id="table-elsewhere"')[1].split("</table>")[0]
    assert "Alder" in part
    assert "they count as unmarked where they were seen" in part.replace("\N{NO-BREAK SPACE}", " ")
