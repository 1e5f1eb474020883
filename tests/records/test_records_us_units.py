"""Records in US customary units are those in metric units, and problems speak of what was written.

Conversions: the international yard and pound of 1959 (Federal Register 24:5348) and NIST Special
Publication 811, appendix B: an acre is 4046.8564224 m², a pound 0.45359237 kg, an inch 25.4 mm;
t(°F) = 1.8 t(°C) + 32.
"""

from __future__ import annotations

import pytest
from expected import at
from pandas.testing import assert_frame_equal

from fishdown.records import read_records
from fishdown.records.codes import Wrong
from fishdown.records.us_columns import METRIC
from fishdown.units import US_UNITS, as_metric, label, shown, shown_change, shown_in, with_unit


@pytest.mark.parametrize(
    ("unit", "us", "metric"),
    [
        ("ha", 1.0, 0.40468564224),
        ("kg", 1.0, 0.45359237),
        ("mm", 1.0, 25.4),
        # 100 kg/ha is 89.2 lb/acre.
        ("kg/ha", 100 * 0.40468564224 / 0.45359237, 100.0),
        ("°C", 32.0, 0.0),
        ("°C", 212.0, 100.0),
        ("°C", -40.0, -40.0),
    ],
)
def test_conversions(unit, us, metric):
    assert US_UNITS[unit].to_metric(us) == pytest.approx(metric, rel=1e-14, abs=1e-12)
    assert US_UNITS[unit].from_metric(metric) == pytest.approx(us, rel=1e-14, abs=1e-12)


def test_numbers_with_units():
    assert with_unit(42.0, "ha", us=False) == "42 ha"
    assert with_unit(42.0, "ha", us=True) == "104 acres"
    assert with_unit(4200.0, "ha", us=True) == "10,400 acres"
    assert with_unit(560.0, "mm", us=True) == "22 in"


def converted(text, columns):
    """Write the columns of a table in US customary units."""
    header, *rows = [line.split(",") for line in text.splitlines()]
    units = {"area_ha": "ha", "water_temp_c": "°C", "length_mm": "mm", "weight_kg": "kg"}
    places = {header.index(old): (new, units[old]) for old, new in columns.items()}
    for place, (new, unit) in places.items():
        header[place] = new
        for row in rows:
            row[place] = str(US_UNITS[unit].from_metric(float(row[place]))) if row[place] else ""
    return "".join(",".join(line) + "\n" for line in (header, *rows))


def test_a_campaign_in_us_units_is_the_same_campaign(campaign):
    metric = campaign(("campaign.toml", "species", "threshold_kg_per_ha = 90.0\nspecies"))
    files = {name: (metric / f"{name}.csv").read_text() for name in ("lakes", "pulls", "measured")}
    us = campaign(
        ("campaign.toml", "species", f"threshold_lb_per_acre = {90 * 0.892179121619657}\nspecies"),
        name="us",
        lakes=converted(files["lakes"], {"area_ha": "area_acres"}),
        pulls=converted(files["pulls"], {"water_temp_c": "water_temp_f"}),
        measured=converted(files["measured"], {"length_mm": "length_in", "weight_kg": "weight_lb"}),
    )
    one, other = read_records(metric), read_records(us)
    for table in ("lakes", "pulls", "measured"):
        assert_frame_equal(getattr(one, table), getattr(other, table), rtol=1e-12)
    assert other.settings.threshold_kg_per_ha == pytest.approx(90.0)
    assert other.warnings == ()


def test_problems_speak_of_the_units_that_were_written(campaign, lines):
    lakes = "lake,area_acres\nSedge Lake,0.001\nHeron Pond,12\n"
    pulls = "date,lake,net,caught,water_temp_f\n2025-06-02,Sedge Lake,N1,9,15\n"
    pulls += "2025-06-03,Heron Pond,P1,90,68\n"
    measured = "date,lake,length_in,weight_lb\n2025-06-02,Sedge Lake,22,5600\n"
    files = {"lakes": lakes, "pulls": pulls, "measured": measured, "bycatch": None}
    assert lines(campaign(**files, marked=None)) == [
        'lakes.csv, row 2, area_acres = "0.001": implausibly small; write the area of the lake, '
        "0.00247 to 98,800,000 acres",
        'pulls.csv, row 2, water_temp_f = "15": below 30.2; write the water temperature in °F, 30 '
        "to 104, or leave the cell empty",
        'measured.csv, row 2, weight_lb = "5600": about 1,000 times too heavy for its length of 22 '
        "in (weight in ounces or grams, or length in centimetres?); write the weight in pounds and "
        "the length in inches",
    ]
    files["lakes"] = lakes.replace("0.001", "12")
    files["pulls"] = pulls.replace(",15", ",65").replace(",90,", ",9000000,")
    found = lines(campaign(**files | {"measured": None}, name="dense", marked=None))
    assert found == [
        'pulls.csv, row 3, caught = "9000000": 9,000,000 fish removed in Heron Pond 2025, 750,000 '
        "an acre of its 12 acres; the plausible maximum is 404,686; correct the counts or the area "
        "in lakes.csv"
    ]


def test_one_column_in_two_units(campaign, problems):
    lakes = "lake,area_ha,area_acres\nSedge Lake,42,104\nHeron Pond,6.5,16\n"
    (found,) = problems(campaign(lakes=lakes))
    file, said = "lakes.csv", "area_ha and area_acres"
    assert found == at(Wrong.COLUMN_UNDER_TWO_HEADINGS, file, 1, "area_acres", headings=said)


def test_thresholds_in_us_units(campaign, problems):
    change = "threshold_kg_per_ha = 90\nthreshold_lb_per_acre = 80\nspecies"
    (found,) = problems(campaign(("campaign.toml", "species", change)))
    file, name = "campaign.toml", "threshold_lb_per_acre"
    assert found == at(Wrong.THRESHOLD_IN_TWO_UNITS, file, 3, name, other="threshold_kg_per_ha")
    wrong = ("campaign.toml", "species", "threshold_lb_per_acre = 0\nspecies")
    (found,) = problems(campaign(wrong, name="zero"))
    assert found == at(Wrong.ZERO_OR_NEGATIVE, file, 2, name)
    large = ("campaign.toml", "species", "threshold_lb_per_acre = 900000\nspecies")
    (found,) = problems(campaign(large, name="large"))
    assert found == at(Wrong.IMPLAUSIBLY_LARGE, file, 2, name)
    assert "0.00892 to 89,200 lb/acre" in found.mend


def test_a_heading_of_a_column_in_us_units(campaign):
    change = ("campaign.toml", "species", 'headings.lakes.area_acres = "Size"\nspecies')
    lakes = "lake,Size\nSedge Lake,100\nHeron Pond,16\n"
    records = read_records(campaign(change, lakes=lakes))
    assert records.lakes["area_ha"].tolist() == pytest.approx([40.468564224, 6.47497027584])


def test_names_of_columns_say_their_unit():
    assert METRIC["weight_lb"] == "weight_kg"
    assert not METRIC.keys() & METRIC.values()


def test_the_units_of_results_are_a_setting(campaign, problems):
    records = read_records(campaign(("campaign.toml", "species", 'units = "us"\nspecies')))
    assert records.settings.units == "us"
    (found,) = problems(campaign(("campaign.toml", "species", 'units = "feet"\nspecies'), name="x"))
    assert found == at(Wrong.UNKNOWN_UNITS, "campaign.toml", 2, "units")


def test_units_are_shown_within_their_block_only():
    assert shown(100.0, "kg/ha") == 100.0
    with shown_in("us"):
        assert shown(100.0, "kg/ha") == pytest.approx(89.2179121619657)
        assert shown(20.0, "°C") == pytest.approx(68.0)
        assert shown_change(5.0, "°C") == pytest.approx(9.0)
        assert shown(3.0, "per pull") == 3.0
        assert label("kg/ha, kg, ha and fish/ha at °C") == "lb/acre, lb, acres and fish/acre at °F"
        assert label("ratio per 10 °C of cooling") == "ratio per 18 °F of cooling"
        assert as_metric(68.0, "°C") == pytest.approx(20.0)
    assert label("kg/ha") == "kg/ha"
