"""A study that is stopped and goes on."""

from __future__ import annotations

from pathlib import Path

import pytest

from fishdown.errors import FitError
from fishdown.results_log import ResultsLog

HEADER = {"model": "one_lake", "seed": 1, "levels": [0.5, 0.9]}


def test_goes_on_after_a_kill_in_the_middle_of_a_line(tmp_path: Path) -> None:
    path = tmp_path / "new" / "study.jsonl"
    log = ResultsLog(path, HEADER)
    log.add(0, {"places": {"density": 0.25}})
    log.add(3, {"places": {"density": 0.75}})
    with path.open("a", encoding="utf-8") as file:
        file.write('{"number": 4, "pla')
    again = ResultsLog(path, HEADER)
    assert again.rows == {0: {"places": {"density": 0.25}}, 3: {"places": {"density": 0.75}}}
    again.add(4, {"places": {"density": 0.5}})
    assert sorted(ResultsLog(path, HEADER).rows) == [0, 3, 4]


def test_refuses_another_study(tmp_path: Path) -> None:
    path = tmp_path / "study.jsonl"
    ResultsLog(path, HEADER).add(0, {"below": 0.5})
    before = path.read_bytes()
    with pytest.raises(FitError, match=r"another study \(different: seed\); name another"):
        ResultsLog(path, {**HEADER, "seed": 2})
    assert path.read_bytes() == before
    (tmp_path / "notes.txt").write_text("not a study\n", encoding="utf-8")
    with pytest.raises(FitError, match="is no results log"):
        ResultsLog(tmp_path / "notes.txt", HEADER)


def test_a_folder_that_cannot_be_made(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x", encoding="utf-8")
    with pytest.raises(FitError, match="cannot use"):
        ResultsLog(tmp_path / "file" / "study.jsonl", HEADER)


def wrong_above_one(row: dict[str, float]) -> str:
    return f"below = {row['below']}" if row["below"] > 1.0 else ""


@pytest.mark.parametrize(
    ("line", "said"),
    [
        (b'{"number": 1, "below": 0.\xff}', "the byte 0xff is no text"),
        (b'{"number": 1, "below"', "no result of a simulation"),
        (b'{"below": 0.5}', "no result of a simulation"),
        (b"[1, 2]", "no result of a simulation"),
        (b"", "no result of a simulation"),
        (b'{"number": "1", "below": 0.5}', "number = '1'"),
        (b'{"number": 1, "below": 1.5}', "below = 1.5"),
    ],
)
def test_a_line_that_was_changed_is_named(tmp_path: Path, line: bytes, said: str) -> None:
    path = tmp_path / "study.jsonl"
    log = ResultsLog(path, HEADER, wrong_above_one)
    for number in range(3):
        log.add(number, {"below": 0.5})
    lines = path.read_bytes().split(b"\n")
    lines[2] = line
    path.write_bytes(b"\n".join(lines))
    with pytest.raises(FitError, match=rf"study\.jsonl, line 3: .*{said}.*; delete this line, and"):
        ResultsLog(path, HEADER, wrong_above_one)
    # What the message says helps.
    path.write_bytes(b"\n".join(lines[:2] + lines[3:]))
    assert sorted(ResultsLog(path, HEADER, wrong_above_one).rows) == [0, 2]


def test_what_is_torn_in_the_middle_of_a_letter_is_dropped(tmp_path: Path) -> None:
    path = tmp_path / "study.jsonl"
    ResultsLog(path, HEADER).add(0, {"below": 0.5})
    whole = path.read_bytes()
    path.write_bytes(whole + "{ é".encode()[:-1])
    assert sorted(ResultsLog(path, HEADER).rows) == [0]
    assert path.read_bytes() == whole
