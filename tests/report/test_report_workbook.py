"""The workbook of a fit: the tables as they are in the files, units in headings, no formulas."""

from __future__ import annotations

import openpyxl
import pytest
from drawn_fits import HOSTILE

from fishdown.cli import main
from fishdown.report.page import FILES, frames_of
from fishdown.report.workbook import heading, results_book


def table(sheet):
    header, *rows = sheet.iter_rows(values_only=True)
    return list(header), rows


@pytest.fixture(scope="module")
def book(demo_fit, tmp_path_factory):
    path = demo_fit.workbook(tmp_path_factory.mktemp("book"))
    assert path.name == "results.xlsx"
    return openpyxl.load_workbook(path)


def test_every_number_is_that_of_the_table(demo_fit, book):
    frames = frames_of(demo_fit, demo_fit.checks(), despite_gate=False)
    assert set(frames) <= set(book.sheetnames)
    for name, frame in frames.items():
        header, rows = table(book[name])
        assert len(header) == len(frame.columns) == len(set(header))
        assert len(rows) == len(frame)
        for place, column in enumerate(frame.columns):
            for row, value in zip(rows, frame[column], strict=True):
                if isinstance(row[place], float):
                    assert row[place] == pytest.approx(float(value), rel=1e-12)
                elif isinstance(row[place], int):
                    assert row[place] == value


def test_headings_have_units(book):
    header, _ = table(book["verdicts"])
    assert "Biomass median, kg/ha" in header
    assert "Threshold, kg/ha" in header
    assert "Area, ha" in header
    assert "Probability below, 0 to 1" in header
    assert table(book["removals"])[0][3:] == [
        "Fish",
        "Monte-Carlo standard error, fish",
        "kg",
        "Monte-Carlo standard error, kg",
    ]


@pytest.mark.parametrize(
    ("column", "words"),
    [
        ("biomass_low_kg_per_ha", "Biomass low, kg/ha"),
        ("kg", "kg"),
        ("fish", "Fish"),
        ("kg_mc_error", "Monte-Carlo standard error, kg"),
        ("fish_mc_error", "Monte-Carlo standard error, fish"),
        ("caught", "Caught, fish"),
        ("removed_low_kg", "Removed low, kg"),
        ("half_median_c", "Half median, °C"),
        ("rhat", "R-hat"),
        ("species", "Species"),
        ("wanted_probability", "Wanted probability, 0 to 1"),
        ("lake", "Lake"),
        ("heard", "Heard, fish"),
        ("narrower", "Interval narrower, share of its width"),
        ("narrower_mc_error", "Monte-Carlo standard error, share of the width"),
        ("firm_expected", "Probability of a firm verdict, 0 to 1"),
    ],
)
def test_words_of_headings(column, words):
    assert heading(column) == words


def test_the_methods_say_how_the_fit_came_about(demo_fit, book):
    methods = dict(table(book["methods"])[1])
    assert methods["Model"].startswith(demo_fit.spec.name)
    for file, digest in demo_fit.run["input_sha256"].items():
        assert methods[f"SHA-256 of {file}"] == digest
    assert {f"Part of the model: {part}" for part in demo_fit.spec.parts} <= methods.keys()
    listed = [row[0] for row in table(book["contents"])[1] if row[0]]
    assert listed == book.sheetnames[1:]
    assert set(listed) <= FILES.keys() | {"priors", "methods", "warnings"}


def test_names_that_look_like_formulas_stay_text(hostile_fit):
    book = results_book(hostile_fit, checks=())
    cells = [cell for sheet in book for row in sheet.iter_rows() for cell in row]
    assert not [cell for cell in cells if cell.data_type == "f"]
    named = [cell for cell in cells if cell.value in HOSTILE]
    assert named
    assert all(cell.quotePrefix for cell in named if cell.value.startswith("+"))
    species = [cell for cell in cells if cell.value == "@SUM(A1)"]
    assert species
    assert all(cell.quotePrefix for cell in species)


def test_the_command_writes_into_the_folder_of_the_fit(demo_fit, tmp_path, capsys):
    demo_fit.save(tmp_path / "fit")
    code = main(["workbook", str(tmp_path / "fit")])
    assert "results.xlsx" in "".join(capsys.readouterr().out.split())
    assert code == (0 if demo_fit.passed else 3)
    assert (tmp_path / "fit" / "results.xlsx").is_file()
    # It belongs to the fit: the next one removes it.
    demo_fit.save(tmp_path / "fit")
    assert not (tmp_path / "fit" / "results.xlsx").exists()
