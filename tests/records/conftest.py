"""A small clean campaign, and ways to spoil it."""

from __future__ import annotations

from datetime import date

import pytest

from fishdown.records import read_records
from fishdown.records.problems import RecordsError

CLEAN = {
    "campaign.toml": 'title = "Two lakes of the Wend"\nspecies = "common carp"\n',
    "lakes.csv": "lake,area_ha,connected\nSedge Lake,42,no\nHeron Pond,6.5,yes\n",
    "marked.csv": (
        "date,lake,batch,mark,released,died\n"
        "2025-04-22,Sedge Lake,S1,both,50,2\n"
        "2025-04-23,Heron Pond,H1,fin_clip,30,\n"
    ),
    "pulls.csv": (
        "date,lake,net,caught,recaptured,released_again,water_temp_c\n"
        "2025-06-02,Sedge Lake,N1,120,6,0,19.5\n"
        "2025-06-02,Sedge Lake,N2,80,2,,19.5\n"
        "2025-06-10,Sedge Lake,N1,60,3,1,21\n"
        "2025-06-03,Heron Pond,P1,40,8,,20\n"
        "2025-06-12,Heron Pond,P1,25,5,,22.5\n"
    ),
    "measured.csv": (
        "date,lake,net,length_mm,weight_kg\n"
        "2025-06-02,Sedge Lake,N1,560,2.5\n"
        "2025-06-02,Sedge Lake,N1,610,3.2\n"
        "2025-06-02,Sedge Lake,N2,480,1.55\n"
        "2025-06-03,Heron Pond,P1,520,2\n"
        "2025-06-03,Heron Pond,P1,,1.8\n"
        "2025-06-03,Heron Pond,P1,450,\n"
        "2025-06-10,Sedge Lake,,590,2.95\n"
        "2025-06-10,Sedge Lake,N1,600,3\n"
    ),
    "bycatch.csv": (
        "date,lake,net,species,count,dead\n"
        "2025-06-02,Sedge Lake,N1,channel catfish,4,1\n"
        "2025-06-03,Heron Pond,P1,pike,1,\n"
    ),
    "detections.csv": (
        "time,lake,net,tag_id\n"
        "2025-06-02T22:04:00-06:00,Sedge Lake,N1,00A1\n"
        "2025-06-03T04:10:30Z,Sedge Lake,N1,00A2\n"
    ),
}


@pytest.fixture
def campaign(tmp_path):
    """Write the clean campaign, with changes: (file, old text, new text), or whole files."""

    def write(*changes, name="campaign", **files):
        texts = CLEAN | {f"{key}.csv": text for key, text in files.items()}
        for file, old, new in changes:
            assert old in texts[file]
            texts[file] = texts[file].replace(old, new, 1)
        folder = tmp_path / name
        folder.mkdir()
        for file, text in texts.items():
            if text is not None:
                (folder / file).write_text(text, encoding="utf-8")
        return folder

    return write


@pytest.fixture
def problems():
    """Read a campaign and give its problems, or its warnings."""

    def read(path):
        try:
            return list(read_records(path).warnings)
        except RecordsError as error:
            return list(error.problems)

    return read


@pytest.fixture
def lines(problems):
    """Read a campaign and give the lines of its problems, or of its warnings."""
    return lambda path: [str(problem) for problem in problems(path)]


def _cell(text):
    """Store a cell as a spreadsheet program does once a person typed this text."""
    for kind in (date.fromisoformat, int, float):
        try:
            return kind(text)
        except ValueError:
            continue
    return text or None


@pytest.fixture
def as_workbook():
    """Turn a folder of plain CSV files (no commas in cells) into a workbook."""
    import tomllib

    openpyxl = pytest.importorskip("openpyxl")

    def convert(folder, path):
        book = openpyxl.Workbook()
        sheet = book.active
        sheet.title = "campaign"
        settings = tomllib.loads((folder / "campaign.toml").read_text(encoding="utf-8"))
        for row in [("setting", "value"), *settings.items()]:
            sheet.append(row)
        for file in sorted(folder.glob("*.csv")):
            sheet = book.create_sheet(file.stem)
            for line in file.read_text(encoding="utf-8").splitlines():
                sheet.append([_cell(cell) for cell in line.split(",")])
        book.save(path)
        book.close()
        return path

    return convert
