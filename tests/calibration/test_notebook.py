"""A study that is stopped and goes on."""

from __future__ import annotations

from pathlib import Path

import pytest

from fishdown.calibration.notebook import Notebook
from fishdown.errors import FitError

HEADER = {"model": "one_lake", "seed": 1, "levels": [0.5, 0.9]}


def test_goes_on_after_a_kill_in_the_middle_of_a_line(tmp_path: Path) -> None:
    path = tmp_path / "new" / "study.jsonl"
    book = Notebook(path, HEADER)
    book.add(0, {"places": {"density": 0.25}})
    book.add(3, {"places": {"density": 0.75}})
    with path.open("a", encoding="utf-8") as file:
        file.write('{"number": 4, "pla')
    again = Notebook(path, HEADER)
    assert again.rows == {0: {"places": {"density": 0.25}}, 3: {"places": {"density": 0.75}}}
    again.add(4, {"places": {"density": 0.5}})
    assert sorted(Notebook(path, HEADER).rows) == [0, 3, 4]


def test_refuses_another_study(tmp_path: Path) -> None:
    path = tmp_path / "study.jsonl"
    Notebook(path, HEADER).add(0, {"below": 0.5})
    before = path.read_bytes()
    with pytest.raises(FitError, match=r"another study \(different: seed\); name another file"):
        Notebook(path, {**HEADER, "seed": 2})
    assert path.read_bytes() == before
    (tmp_path / "notes.txt").write_text("not a study\n", encoding="utf-8")
    with pytest.raises(FitError, match="holds no study"):
        Notebook(tmp_path / "notes.txt", HEADER)


def test_a_folder_that_cannot_be_made(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x", encoding="utf-8")
    with pytest.raises(FitError, match="cannot use"):
        Notebook(tmp_path / "file" / "study.jsonl", HEADER)
