"""From the workbook of an agency to a clean campaign: the edits that it takes, one by one."""

from __future__ import annotations

from pathlib import Path

import pytest
from agency_book import FAULTS, agency_book

from fishdown.cli import main
from fishdown.records import Problem, read_records
from fishdown.records.codes import Wrong
from fishdown.records.problems import RecordsError
from fishdown.records.suggested import Suggested, suggested_settings

# Before settings were suggested together, each of these was an edit of its own.
SETTINGS = 18


def problems_of(path: Path) -> list[Problem]:
    try:
        return list(read_records(path).warnings)
    except RecordsError as error:
        return list(error.problems)


def suggested(path: Path) -> Suggested | None:
    return suggested_settings(path, problems_of(path))


def test_two_edits_bring_the_workbook_to_a_clean_campaign(tmp_path: Path) -> None:
    path = agency_book(tmp_path / "agency.xlsx")
    found = suggested(path)
    assert found is not None
    assert len(found.settings) == SETTINGS
    # The first: to paste the lines into the sheet of settings.
    rows = [(line, "") for line in found.lines]
    edits = 1
    assert rows[0][0] == 'headings.lakes.lake = "Waterbody"'
    left = [one for one in problems_of(agency_book(path, settings=tuple(rows)))
            if one.severity == "error"]  # fmt: skip
    assert [one.code for one in left] == [Wrong.DATES_IN_TWO_STYLES]
    assert [str(one) for one in left] == [str(one) for one in found.left]
    # The second: to import the pulls again with dates as they are, which is what the problem says.
    edits += len(left)
    records = read_records(agency_book(path, settings=tuple(rows), swapped=False))
    assert edits == 2 < len(FAULTS)
    assert all("nothing to do" in str(one) for one in records.warnings)

    # And it is what the crew meant: in metric units, each day its own, totals and notes left out.
    pulls = records.pulls
    assert len(pulls) == 16
    assert pulls["caught"].sum() == sum(
        90 - 8 * visit + 5 * trap for visit in range(8) for trap in (0, 1)
    )
    assert pulls["date"].dt.strftime("%m-%d").unique().tolist()[0] == "06-12"
    assert sorted(pulls["date"].dt.day.unique()) == [9, 12, 15, 18, 21, 24, 27, 30]
    assert pulls["water_temp_c"].max() == pytest.approx((71.5 - 32.0) / 1.8)
    assert pulls["water_temp_c"].notna().all()
    assert records.lakes["area_ha"].tolist() == pytest.approx([61 * 0.40468564, 24.5 * 0.40468564])
    assert records.measured["length_mm"].min() == pytest.approx(17.0 * 25.4)
    assert records.measured["weight_kg"].max() == pytest.approx(9.17 * 0.45359237)


def test_check_says_what_to_copy_and_what_is_left(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["check", str(agency_book(tmp_path / "agency.xlsx"))]) == 1
    said = capsys.readouterr().err
    assert "Copy these lines into the column setting of the sheet campaign" in said
    assert '\nheadings.pulls.water_temp_f = "Water temp (F)"\n' in said
    assert '\ndates = "month/day/year"\n' in said
    assert "The records were read again with them, and 1 problem left:" in said


PULLS = (
    "Tag;Gewässer;net;Carp;water temp\n"
    "14.06.2025;Sedge Lake;N1;120;19,5\n15.06.2025;Sedge Lake;N1;80;20\n"
)


def folder_of(path: Path, pulls: str, lakes: str = "lake,area_ha\nSedge Lake,42\n") -> Path:
    path.mkdir()
    (path / "campaign.toml").write_text('title = "A"\nspecies = "common carp"\n', encoding="utf-8")
    (path / "lakes.csv").write_text(lakes, encoding="utf-8")
    (path / "pulls.csv").write_text(pulls, encoding="utf-8")
    return path


def test_lines_for_a_folder_are_toml_to_put_on_top(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    pulls = PULLS.replace("Tag", "Day of lift").replace("Gewässer", 'the "site"')
    folder = folder_of(tmp_path / "a", pulls.replace('"site"', "site"))
    found = suggested(folder)
    assert found is not None
    assert found.lines == [
        'headings.pulls.date = "Day of lift"',
        'headings.pulls.lake = "the site"',
        'headings.pulls.caught = "Carp"',
        'headings.pulls.water_temp_c = "water temp"',
        'dates = "day.month.year"',
        'decimal = "comma"',
    ]
    assert found.left == ()
    assert main(["check", str(folder)]) == 1
    assert "no problem is left" in capsys.readouterr().err
    settings = folder / "campaign.toml"
    settings.write_text("\n".join(found.lines) + "\n" + settings.read_text("utf-8"), "utf-8")
    assert read_records(folder).pulls["water_temp_c"].tolist() == [19.5, 20.0]
    # There is nothing more to suggest.
    assert suggested(folder) is None


def test_fahrenheit_under_the_heading_of_another_unit(tmp_path: Path) -> None:
    pulls = (
        "date,lake,net,caught,{}\n2025-06-14,Sedge Lake,N1,120,68\n2025-06-15,Sedge Lake,N1,80,{}\n"
    )
    for number, heading in enumerate(("water_temp_c", "Temp")):
        folder = folder_of(tmp_path / f"{number}", pulls.format(heading, 66.2))
        found = suggested(folder)
        assert found is not None
        assert found.settings == {"headings.pulls.water_temp_f": heading}
        assert found.left == ()
    # Some readings are no °F of open water: then nothing is known.
    for number, reading in enumerate((19.5, 120)):
        assert (
            suggested(folder_of(tmp_path / f"x{number}", pulls.format("water_temp_c", reading)))
            is None
        )


@pytest.mark.parametrize(
    "heading",
    ["weight (g)", "length in cm", "comment", "weather", "weight and mass lb, wt"],
)
def test_what_is_not_certain_is_not_suggested(tmp_path: Path, heading: str) -> None:
    folder = folder_of(tmp_path / "a", "date,lake,net,caught\n2025-06-14,Sedge Lake,N1,120\n")
    more = ",other weight" if "mass" in heading else ""
    (folder / "measured.csv").write_text(
        f'date,lake,"{heading}"{more}\n2025-06-14,Sedge Lake,3{",3" if more else ""}\n', "utf-8"
    )
    found = suggested(folder)
    assert found is None or not found.settings


def test_headings_that_cannot_be_copied_are_not_suggested(tmp_path: Path) -> None:
    rows = "2025-06-14,Sedge Lake,N1,120\n"
    for number, heading in enumerate(("caught\x07fish", "fish " * 40, "2025-06-01,carp")):
        folder = folder_of(tmp_path / f"{number}", f"date,lake,net,{heading}\n{rows}")
        found = suggested(folder)
        assert found is None or not found.settings


def test_a_line_in_one_cell_is_a_setting(tmp_path: Path) -> None:
    # With quotation marks or without, as a spreadsheet program leaves it.
    for number, line in enumerate(("units = us", 'units="us"')):
        path = agency_book(tmp_path / f"{number}.xlsx", settings=((line, ""),))
        assert not [one for one in problems_of(path) if "setting" in one.wrong]
        assert suggested(path) is not None
    path = agency_book(tmp_path / "x.xlsx", settings=(("units = pounds", ""),))
    assert Wrong.UNKNOWN_UNITS in {one.code for one in problems_of(path)}


def test_a_clean_campaign_has_nothing_to_suggest(campaign) -> None:
    folder = campaign()
    assert suggested(folder) is None
