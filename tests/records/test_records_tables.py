"""The clean tables: types, defaults, order, seasons."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from fishdown.records import read_records
from fishdown.records.seasons import label_fits, seasons_of_rows
from fishdown.records.tables import TABLES

DTYPES = {
    "lakes": "str float64 float64 bool bool int64",
    "areas": "datetime64[us] str float64 int64",
    "marked": "datetime64[us] str str str str int64 int64 float64 int64 int64 int64 int64",
    "pulls": (
        "datetime64[us] str str str int64 int64 float64 float64 int64 int64 float64 float64 "
        "float64 bool bool int64 float64 float64 float64"
    ),
    "recaptures": "datetime64[us] str str str float64 str int64 str boolean boolean int64",
    "measured": "datetime64[us] str str str float64 float64 int64",
    "movements": "datetime64[us] str str str float64 float64 float64 float64 str int64 float64",
    "surveys": "datetime64[us] str str str bool float64 float64 float64 float64 int64 float64",
    "second_looks": "datetime64[us] str str str float64 float64 int64",
    "bycatch": "datetime64[us] str str str str int64 float64 int64",
    "bycatch_limits": "str str str int64 str int64",
    "species_names": "str str int64",
    "tags": "str str str int64",
    "detections": "datetime64[us, UTC] datetime64[us] str str str int64",
    "clock_checks": "datetime64[us, UTC] datetime64[us] str str float64 int64",
}
COLUMNS = {
    "lakes": "lake area_ha threshold_kg_per_ha connected young_eaten row",
    "areas": "date lake area_ha row",
    "marked": "date lake season batch mark released died order penned pen_alive pen_marked row",
    "pulls": (
        "date lake season net order caught recaptured examined released_again removed "
        "marks_at_large marks_removed water_temp_c spoiled bycatch_counted row mesh_mm bait_days "
        "effort_h"
    ),
    "recaptures": "date lake season net order batch count tag_id clip_seen tag_read row",
    "measured": "date lake season net length_mm weight_kg row",
    "movements": (
        "date lake season movement fish share marked standard_error other_lake row marks_removed"
    ),
    "surveys": (
        "date lake season gear marking_gear caught examined marked effort_h row marks_at_large"
    ),
    "second_looks": "date lake season examiner found_first found_second row",
    "bycatch": "date lake season net species count dead row",
    "bycatch_limits": "species lake season limit fish row",
    "species_names": "species scientific_name row",
    "tags": "lake batch tag_id row",
    "detections": "time local lake net tag_id row",
    "clock_checks": "time local lake net fast_s row",
}


def types_of(table):
    return " ".join(map(str, table.dtypes))


@pytest.mark.parametrize("name", TABLES)
def test_columns_and_types_with_rows_and_without(campaign, name):
    recaptures = "date,lake,net,batch,tag_id\n2025-06-02,Sedge Lake,N1,S1,00A1\n"
    more = {
        "recaptures": recaptures,
        "areas": "date,lake,area_ha\n2025-06-04,Sedge Lake,40\n",
        "movements": "date,lake,movement,fish\n2025-06-04,Sedge Lake,angled,7\n",
        "surveys": "date,lake,gear,marking_gear,caught\n2025-06-20,Sedge Lake,seine,no,31\n",
        "second_looks": "date,lake,found_first,found_second\n2025-06-02,Sedge Lake,1,1\n",
        "tags": "lake,batch,tag_id\nSedge Lake,S1,00A1\n",
        "species_names": "species,scientific_name\npike,Esox lucius\n",
        "bycatch_limits": "species,lake,limit,fish\nchannel catfish,all,20,dead\n",
        "clock_checks": "time,lake,net,fast_s\n2025-06-02T20:00:00-06:00,Sedge Lake,N1,-3\n",
    }
    full = read_records(campaign(("pulls.csv", ",recaptured,", ",x,"), **more))
    bare = read_records(
        campaign(
            ("pulls.csv", ",recaptured,", ",x,"),
            marked=None,
            measured=None,
            bycatch=None,
            detections=None,
            name="bare",
        )
    )
    for records in (full, bare):
        table = getattr(records, name)
        assert list(table.columns) == COLUMNS[name].split()
        assert types_of(table) == DTYPES[name]
    assert len(getattr(full, name)) > 0


def test_defaults(campaign):
    records = read_records(
        campaign(
            ("campaign.toml", "species", "threshold_kg_per_ha = 80\nspecies"),
            ("lakes.csv", "connected", "threshold_kg_per_ha"),
            ("lakes.csv", "42,no", "42,120"),
            ("lakes.csv", "6.5,yes", "6.5,"),
        )
    )
    assert records.lakes["threshold_kg_per_ha"].tolist() == [120, 80]
    assert records.lakes["connected"].tolist() == [False, False]
    assert records.marked["died"].tolist() == [2, 0]
    assert not records.pulls["spoiled"].any()
    assert records.measured["net"].tolist().count("") == 1
    assert np.isnan(records.bycatch["dead"].iloc[1])
    assert records.detections["time"].iloc[0] == pd.Timestamp("2025-06-03T04:04:00Z")
    assert records.detections["tag_id"].tolist() == ["00A1", "00A2"]


def test_pulls_are_sorted_and_their_marks_followed(campaign):
    pulls = read_records(campaign()).pulls
    assert pulls["lake"].tolist() == ["Heron Pond"] * 2 + ["Sedge Lake"] * 3
    assert pulls["row"].tolist() == [5, 6, 2, 3, 4]
    assert pulls["order"].tolist() == [1, 1, 1, 2, 1]
    assert pulls["removed"].tolist() == [40, 25, 120, 80, 59]
    # By hand. Heron Pond: 30, less 8. Sedge Lake: 50 − 2 = 48, less 6, less 2; of the 3 in the
    # last catch the one fish put back is taken to be marked.
    assert pulls["marks_at_large"].tolist() == [30, 22, 48, 42, 40]
    assert pulls["marks_removed"].tolist() == [8, 5, 6, 2, 2]


def test_pulls_without_order_follow_those_with_one(campaign):
    pulls = (
        "date,lake,net,caught,order\n2025-06-02,Sedge Lake,A,1,\n2025-06-02,Sedge Lake,B,2,3\n"
        "2025-06-02,Sedge Lake,C,3,\n2025-06-02,Sedge Lake,D,4,1\n2025-06-02,Heron Pond,E,5,\n"
    )
    table = read_records(campaign(pulls=pulls, marked=None, measured=None, bycatch=None)).pulls
    assert table["net"].tolist() == ["E", "D", "B", "A", "C"]
    assert table["order"].tolist() == [1, 1, 3, 4, 5]


def test_recaptures_table_fills_the_pulls(campaign):
    recaptures = (
        "date,lake,net,batch,tag_id,clip_seen,tag_read\n"
        "2025-06-02,Sedge Lake,N1,S1,00A1,yes,yes\n2025-06-02,Sedge Lake,N1,S1,,yes,no\n"
        "2025-06-12,Heron Pond,P1,,,,\n"
    )
    folder = campaign(("pulls.csv", ",recaptured,", ",x,"), recaptures=recaptures)
    records = read_records(folder)
    assert records.pulls["recaptured"].tolist() == [0, 1, 2, 0, 0]
    assert records.recaptures["count"].tolist() == [1, 1, 1]
    assert records.recaptures["tag_read"].tolist() == [True, False, pd.NA]
    assert records.recaptures["season"].tolist() == ["2025"] * 3


def test_random_clean_campaigns_read_the_same_twice_and_as_workbooks(
    campaign, as_workbook, tmp_path
):
    rng = np.random.default_rng(42)
    for number in range(5):
        texts = {"lakes": "lake,area_ha\n", "marked": "date,lake,batch,mark,released\n"}
        texts["pulls"] = "date,lake,net,caught,recaptured,released_again,water_temp_c,order\n"
        texts["measured"] = "date,lake,length_mm,weight_kg\n"
        for lake in [f"Lake {letter}" for letter in "ABC"[: rng.integers(1, 4)]]:
            texts["lakes"] += f"{lake},{rng.uniform(1, 300):.2f}\n"
            left = int(rng.integers(0, 60))
            texts["marked"] += f"2025-05-0{rng.integers(1, 9)},{lake},{lake} 1,both,{left}\n"
            for day in sorted(rng.choice(np.arange(10, 30), 5, replace=False)):
                for order in range(1, int(rng.integers(2, 4))):
                    caught = int(rng.integers(0, 200))
                    seen = int(rng.integers(0, min(caught, left, 5) + 1))
                    left -= seen
                    shown = seen if rng.random() < 0.8 else ""
                    put_back = rng.integers(0, caught + 1)
                    texts["pulls"] += (
                        f"2025-06-{day},{lake},N{order},{caught},{shown},{put_back},"
                        f"{rng.uniform(8, 25):.1f},{order}\n"
                    )
            length = rng.uniform(200, 800)
            weight = 1.4e-8 * length**3
            texts["measured"] += f"2025-06-15,{lake},{length:.0f},{weight:.3f}\n"
        folder = campaign(name=f"c{number}", bycatch=None, detections=None, **texts)
        first, again = read_records(folder), read_records(folder)
        book = read_records(as_workbook(folder, tmp_path / f"c{number}.xlsx"))
        for name in TABLES:
            pd.testing.assert_frame_equal(getattr(first, name), getattr(again, name))
            pd.testing.assert_frame_equal(getattr(first, name), getattr(book, name))
        assert first.warnings == again.warnings
        assert len(first.warnings) == len(book.warnings)
        pulls = first.pulls
        assert (pulls["marks_at_large"] >= pulls["recaptured"].fillna(0)).all()
        assert (pulls["marks_removed"] <= pulls["marks_at_large"] + 1e-9).all()


def frame(*rows):
    table = pd.DataFrame(rows, columns=["date", "lake", "season"])
    table["date"] = pd.to_datetime(table["date"])
    return table.assign(row=range(2, len(table) + 2))


def test_season_of_a_row():
    pulls = frame(
        ("2024-06-01", "A", "2024"), ("2025-01-20", "A", "2024"), ("2025-06-01", "A", "2025")
    )
    rows = frame(
        ("2025-01-20", "A", ""),  # the day of a pull
        ("2025-04-20", "A", ""),  # before the pulls of its season
        ("2023-10-05", "A", ""),  # 240 days before the first pull
        ("2023-09-05", "A", ""),  # 270 days before it, the longest wait
        ("2023-09-04", "A", ""),  # too long before, so the calendar year
        ("2025-08-01", "A", ""),  # after the last pull of its year
        ("2026-08-01", "A", ""),  # no pull in that year or before it
        ("2025-04-20", "B", ""),  # a lake without pulls
    )
    found = seasons_of_rows(rows, pulls).tolist()
    assert found == ["2024", "2025", "2024", "2024", "2023", "2025", "2026", "2025"]


def test_season_after_the_last_pull_of_the_year_where_none_follows_soon():
    pulls = frame(("2024-06-01", "A", "first"), ("2026-06-01", "A", "second"))
    rows = frame(("2024-08-01", "A", ""), ("2025-10-01", "A", ""))
    assert seasons_of_rows(rows, pulls).tolist() == ["first", "second"]


@pytest.mark.parametrize(
    ("season", "year", "fits"),
    [("2025", 2025, True), ("2024", 2025, True), ("2023", 2025, False), ("2026", 2025, False)],
)
def test_label_that_is_a_year(season, year, fits):
    assert label_fits(season, year) is fits


def test_label_that_is_no_year_fits_always():
    assert label_fits("first summer", 2025)
