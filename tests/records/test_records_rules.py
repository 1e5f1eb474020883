"""Every rule between rows and tables, broken once, and what is found."""

from __future__ import annotations

import pandas as pd
import pytest
from expected import at

from fishdown.records import read_records
from fishdown.records.codes import Odd, Wrong

RECAPTURES = "date,lake,net,batch,count\n2025-06-02,Sedge Lake,N1,S1,6\n"
NO_COLUMN = (("pulls.csv", ",recaptured,", ",xyzzy,"),)


def told(found):
    """Without the warning that the column recaptured was renamed."""
    return [problem for problem in found if problem.column != "xyzzy"]


@pytest.mark.parametrize(
    ("file", "old", "new", "line"),
    [
        (
            "lakes",
            "Heron Pond,6.5,yes",
            "Heron Pond,6.5,yes\nSedge Lake,42,no",
            at(Wrong.LAKE_TWICE, "lakes.csv", 4, "lake", first=2),
        ),
        (
            "marked",
            "50,2",
            "50,51",
            at(Wrong.DIED_ABOVE_RELEASED, "marked.csv", 2, "died", released=50),
        ),
        (
            "pulls",
            "60,3,1",
            "60,3,61",
            at(Wrong.PUT_BACK_ABOVE_CATCH, "pulls.csv", 4, "released_again", caught=60),
        ),
        (
            "pulls",
            "60,3,1",
            "60,63,1",
            at(
                Wrong.RECAPTURED_ABOVE_CATCH, "pulls.csv", 4, "recaptured", caught=60, recaptured=63
            ),
        ),
        (
            "pulls",
            "60,3,1",
            "60,43,1",
            at(
                Wrong.RECAPTURED_ABOVE_MARKS,
                "pulls.csv",
                4,
                "recaptured",
                recaptured=43,
                season="2025",
                at_large=40,
                gone=8,
                alive=48,
            ),
        ),
        (
            "bycatch",
            "4,1",
            "4,5",
            at(Wrong.DEAD_ABOVE_COUNT, "bycatch.csv", 2, "dead", count=4),
        ),
        (
            "measured",
            "450,",
            ",",
            at(Wrong.NOT_MEASURED, "measured.csv", 7),
        ),
        (
            "detections",
            "22:04:00-06:00,Sedge Lake",
            "22:04:00-06:00,Sedge Lk",
            at(Wrong.UNKNOWN_LAKE, "detections.csv", 2, "lake", like="Sedge Lake"),
        ),
    ],
)
def test_a_broken_rule_is_one_line(campaign, problems, file, old, new, line):
    assert problems(campaign((f"{file}.csv", old, new))) == [line]


PARTLY = "date,lake,net,caught,recaptured,examined\n"


@pytest.mark.parametrize(
    ("row", "found"),
    [
        ("60,3,61", at(Wrong.EXAMINED_ABOVE_CATCH, "pulls.csv", 2, "examined", caught=60)),
        (
            "60,3,2",
            at(
                Wrong.RECAPTURED_ABOVE_EXAMINED,
                "pulls.csv",
                2,
                "recaptured",
                caught=60,
                examined=2,
                recaptured=3,
            ),
        ),
        ("60,,20", at(Wrong.EXAMINED_WITHOUT_OUTCOME, "pulls.csv", 2, "recaptured", examined=20)),
    ],
)
def test_fish_examined_fit_the_catch_and_the_marks(campaign, problems, row, found):
    folder = campaign(
        pulls=f"{PARTLY}2025-06-02,Sedge Lake,N1,{row}\n", measured=None, bycatch=None
    )
    assert [problem for problem in problems(folder) if problem.severity == "error"] == [found]


def test_of_a_catch_examined_in_part_the_rest_is_not_known(campaign):
    rows = "2025-06-02,Sedge Lake,N1,120,6,60\n2025-06-02,Sedge Lake,N2,80,,0\n"
    folder = campaign(pulls=PARTLY + rows, measured=None, bycatch=None)
    pulls = read_records(folder).pulls
    assert pulls["examined"].tolist() == [60, 0]
    # One in ten of the fish examined was marked: 6 more of the first catch, 8 of the second.
    assert pulls["marks_removed"].tolist() == [12, 8]
    assert pulls["recaptured"].isna().tolist() == [False, True]


def test_with_a_table_of_recaptures_a_catch_may_be_examined_in_part(campaign):
    rows = "2025-06-02,Sedge Lake,N1,120,,60\n2025-06-02,Sedge Lake,N2,80,,0\n"
    tables = {"pulls": PARTLY + rows, "recaptures": RECAPTURES}
    pulls = read_records(campaign(measured=None, bycatch=None, **tables)).pulls
    assert pulls["recaptured"].isna().tolist() == [False, True]
    assert pulls["marks_removed"].tolist() == [12, 8]


def test_an_unknown_lake_is_told_once_a_table(campaign, problems):
    folder = campaign(
        ("pulls.csv", "Heron Pond", "heron pond"), ("pulls.csv", "Heron Pond", "heron pond")
    )
    assert problems(folder) == [
        at(Wrong.UNKNOWN_LAKE, "pulls.csv", 5, "lake", more=1, like="Heron Pond")
    ]
    folder = campaign(("measured.csv", "Heron Pond", "Xyzzy"), name="other")
    assert problems(folder) == [at(Wrong.UNKNOWN_LAKE, "measured.csv", 5, "lake")]


def test_lakes_are_not_unknown_while_their_table_is_unreadable(campaign, lines):
    assert len(lines(campaign(lakes="lake,area_ha\nSedge Lake,42\nHeron Pond\n"))) == 1


def test_marks_found_before_any_was_at_large(campaign, problems):
    # Marked on the day of the pull: at large from the next day on.
    folder = campaign(("marked.csv", "2025-04-23,Heron", "2025-06-03,Heron"))
    assert problems(folder) == [at(Wrong.RECAPTURED_BEFORE_MARKING, "pulls.csv", 5, "recaptured")]


def test_the_order_of_a_day_puts_marks_at_large_on_it(campaign):
    marked = (
        "date,lake,batch,mark,released,order\n"
        "2025-06-02,Sedge Lake,S1,both,48,1\n"
        "2025-06-02,Sedge Lake,S2,both,10,3\n"
    )
    pulls = (
        "date,lake,net,caught,recaptured,order\n"
        "2025-06-02,Sedge Lake,N2,80,2,4\n"
        "2025-06-02,Sedge Lake,N1,120,6,2\n"
        "2025-06-02,Sedge Lake,N3,10,0,1\n"
    )
    records = read_records(campaign(marked=marked, pulls=pulls, measured=None, bycatch=None))
    assert records.pulls["order"].tolist() == [1, 2, 4]
    assert records.pulls["marks_at_large"].tolist() == [0, 48, 52]


def test_nothing_was_ever_marked(campaign, problems):
    assert problems(campaign(marked=None)) == [
        at(Wrong.NEVER_MARKED, "pulls.csv", 2, "recaptured", season="2025", later=2),
        at(Wrong.NEVER_MARKED, "pulls.csv", 5, "recaptured", season="2025", later=1),
    ]


YEARS = {
    "lakes": "lake,area_ha\nSedge Lake,44\n",
    "marked": (
        "date,lake,batch,mark,released,died\n"
        "2023-04-22,Sedge Lake,S1,both,48,3\n"
        "2025-04-22,Sedge Lake,S2,both,10,0\n"
    ),
    "measured": None,
    "bycatch": None,
}


def test_marks_of_earlier_years_may_be_at_large_still(campaign):
    pulls = (
        "date,lake,net,caught,recaptured\n"
        "2023-06-02,Sedge Lake,N1,80,20\n"
        "2024-06-02,Sedge Lake,N1,120,6\n"
        "2025-06-02,Sedge Lake,N1,10,9\n"
    )
    records = read_records(campaign(pulls=pulls, **YEARS))
    assert records.pulls["marks_at_large"].tolist() == [45, 25, 29]


def test_more_marks_than_earlier_years_have_left(campaign, problems):
    pulls = (
        "date,lake,net,caught,recaptured\n"
        "2023-06-02,Sedge Lake,N1,80,20\n"
        "2024-06-02,Sedge Lake,N1,120,6\n"
        "2025-06-02,Sedge Lake,N1,30,30\n"
    )
    assert problems(campaign(pulls=pulls, **YEARS)) == [
        at(
            Wrong.RECAPTURED_ABOVE_MARKS,
            "pulls.csv",
            4,
            "recaptured",
            recaptured=30,
            season="2025",
            at_large=29,
            earlier=45,
            carried=19,
            alive=10,
        )
    ]


def test_marks_of_a_later_year_do_not_count(campaign, lines):
    pulls = "date,lake,net,caught,recaptured\n2022-03-02,Sedge Lake,N1,80,2\n"
    (line,) = lines(campaign(pulls=pulls, **YEARS))
    assert line.endswith("fish marked later do not count here")


def test_a_wrong_count_does_not_spoil_the_ledger_after_it(campaign, lines):
    folder = campaign(("pulls.csv", "120,6,0", "120,49,0"))
    (line,) = lines(folder)
    assert line.startswith('pulls.csv, row 2, recaptured = "49"')


def test_a_wrong_cell_in_the_marking_does_not_spoil_the_ledger(campaign, lines):
    for number, (old, new) in enumerate(
        [("50,2", "fifty,2"), ("2025-04-22", "22.4.2025"), ("Sedge Lake", "Sege Lake")]
    ):
        (line,) = lines(campaign(("marked.csv", old, new), name=str(number)))
        assert line.startswith("marked.csv, row 2")


def test_nobody_looked_through_some_catches(campaign, problems):
    folder = campaign(("pulls.csv", "80,2", "80,"))
    assert problems(folder) == [
        at(
            Odd.CATCHES_NOT_EXAMINED,
            "pulls.csv",
            3,
            "recaptured",
            season="Sedge Lake 2025",
            catches=1,
            rows=[3],
        )
    ]
    pulls = read_records(folder).pulls.query("lake == 'Sedge Lake'")
    # 6 + 3 marked of 120 + 60 examined: 5 %, hence 4 of 80.
    assert pulls["marks_removed"].tolist() == [6, 4, 2]
    assert pulls["marks_at_large"].tolist() == [48, 42, 38]
    assert pulls["recaptured"].isna().tolist() == [False, True, False]


def test_nobody_looked_at_all(campaign, problems):
    folder = campaign(("pulls.csv", "40,8", "40,"), ("pulls.csv", "25,5", "25,"))
    assert problems(folder) == [
        at(Odd.NO_CATCH_EXAMINED, "pulls.csv", season="Heron Pond 2025", marks=30)
    ]


def test_empty_means_none_where_nothing_was_marked(campaign, lines):
    folder = campaign(
        ("marked.csv", "2025-04-23,Heron Pond,H1,fin_clip,30,\n", ""),
        ("pulls.csv", "40,8", "40,"),
        ("pulls.csv", "25,5", "25,"),
    )
    assert lines(folder) == []
    pulls = read_records(folder).pulls.query("lake == 'Heron Pond'")
    assert pulls["recaptured"].tolist() == [0, 0]


def test_season_that_does_not_fit_the_date(campaign, lines):
    for number, season in enumerate(("2026", "2023")):
        folder = campaign(
            ("pulls.csv", "water_temp_c", "season"),
            ("pulls.csv", "1,21", f"1,{season}"),
            *(("pulls.csv", f",{temp}\n", ",\n") for temp in ("19.5", "19.5", "20", "22.5")),
            name=str(number),
        )
        assert lines(folder) == [
            f'pulls.csv, row 4, season = "{season}": the season does not fit the date '
            "2025-06-10; write 2025, or 2024 if the season began the year before"
        ]


def test_seasons_that_overlap(campaign, problems):
    pulls = (
        "date,lake,net,caught,season\n2025-06-01,Sedge Lake,N1,1,spring\n"
        "2025-06-03,Sedge Lake,N1,1,summer\n2025-06-05,Sedge Lake,N1,1,spring\n"
        "2025-06-09,Sedge Lake,N1,1,autumn\n2025-06-04,Heron Pond,N1,1,summer\n"
    )
    folder = campaign(pulls=pulls, marked=None, measured=None, bycatch=None)
    assert problems(folder) == [
        at(Wrong.SEASONS_OVERLAP, "pulls.csv", 3, "season", season="summer", other="spring")
    ]


def test_days_to_come_are_a_warning(campaign, problems):
    folder = campaign(
        ("bycatch.csv", "2025-06-03", "2095-06-03"),
        ("detections.csv", "2025", "2095"),
        ("detections.csv", "2025", "2095"),
    )
    assert [one for one in problems(folder) if one.code is Odd.DAY_TO_COME] == [
        at(Odd.DAY_TO_COME, "bycatch.csv", 3, "date", rows=[3]),
        at(Odd.DAY_TO_COME, "detections.csv", 2, "time", rows=[2, 3]),
    ]


def test_a_pull_twice(campaign, problems):
    folder = campaign(("pulls.csv", "Sedge Lake,N2", "Sedge Lake,N1"), measured=None)
    assert problems(folder) == [at(Wrong.PULL_TWICE, "pulls.csv", 3, "net", first=2)]


def test_two_pulls_of_a_net_on_a_day_need_an_order(campaign, lines):
    pulls = (
        "date,lake,net,caught,order\n2025-06-02,Sedge Lake,N1,1,\n2025-06-02,Sedge Lake,N1,2,1\n"
        "2025-06-02,Sedge Lake,N1,3,2\n2025-06-02,Sedge Lake,N1,4,2\n"
    )
    found = lines(campaign(pulls=pulls, marked=None, measured=None, bycatch=None))
    assert [line.split(";")[0] for line in found] == [
        'pulls.csv, row 2, net = "N1": this net has a pull on this day already (row 3)',
        'pulls.csv, row 5, net = "N1": this net has a pull on this day already (row 4)',
    ]


def test_measured_fish_and_bycatch_of_no_pull_are_a_warning(campaign, problems):
    folder = campaign(
        ("measured.csv", "2025-06-03,Heron", "2025-06-04,Heron"),
        ("measured.csv", "2025-06-03,Heron", "2025-06-04,Heron"),
        ("bycatch.csv", "Sedge Lake,N1", "Sedge Lake,N7"),
    )
    assert problems(folder) == [
        at(Odd.NO_PULL_IN_LAKE, "measured.csv", 5, "date", more=1),
        at(
            Odd.NO_PULL_OF_NET,
            "bycatch.csv",
            2,
            "net",
            date=pd.Timestamp("2025-06-02"),
            nets=["N1", "N2"],
        ),
    ]


def test_a_slip_in_pulls_is_not_told_again_for_each_fish(campaign, lines):
    for number, (old, new) in enumerate(
        [
            ("2025-06-02,Sedge Lake,N1", "2.6.2025,Sedge Lake,N1"),
            ("2025-06-02,Sedge Lake,N1", "2025-06-02,Sege Lake,N1"),
            ("2025-06-02,Sedge Lake,N1", "2025-06-02,Sedge Lake,"),
        ]
    ):
        (line,) = lines(campaign(("pulls.csv", old, new), name=str(number)))
        assert line.startswith("pulls.csv, row 2")


def test_recaptures_of_no_pull_or_of_several(campaign, problems):
    folder = campaign(
        *NO_COLUMN,
        ("pulls.csv", "released_again", "order"),
        ("pulls.csv", "Sedge Lake,N1,120,6,0", "Sedge Lake,N1,120,6,1"),
        ("pulls.csv", "Sedge Lake,N2,80,2,", "Sedge Lake,N1,80,2,2"),
        ("measured.csv", "N2", "N1"),
        recaptures=(
            "date,lake,net,batch,count,order\n2025-06-02,Sedge Lake,N1,S1,6,\n"
            "2025-06-02,Sedge Lake,N1,S1,6,2\n2025-06-02,Sedge Lake,N1,S1,6,3\n"
            "2025-06-02,Sedge Lake,N8,S1,6,\n2025-06-05,Sedge Lake,N1,S1,6,\n"
        ),
    )
    assert told(problems(folder)) == [
        at(Wrong.SEVERAL_PULLS, "recaptures.csv", 2, "net", pulls=2),
        at(Wrong.NO_PULL_OF_ORDER, "recaptures.csv", 4, "order"),
        at(
            Wrong.NO_PULL_OF_NET,
            "recaptures.csv",
            5,
            "net",
            date=pd.Timestamp("2025-06-02"),
            nets=["N1"],
        ),
        at(Wrong.NO_PULL_IN_LAKE, "recaptures.csv", 6, "date"),
    ]


def test_unknown_batch(campaign, problems):
    folder = campaign(*NO_COLUMN, recaptures=RECAPTURES.replace("S1", "S11"))
    assert told(problems(folder)) == [
        at(Wrong.UNKNOWN_BATCH, "recaptures.csv", 2, "batch", like="S1")
    ]


def test_recaptures_table_above_catch_and_above_marks(campaign, problems):
    folder = campaign(*NO_COLUMN, recaptures=RECAPTURES.replace(",6", ",121"))
    place = ("recaptures.csv", 2, "count")
    assert told(problems(folder)) == [
        at(Wrong.RECAPTURED_ABOVE_CATCH, *place, recaptured=121, caught=120)
    ]
    folder = campaign(*NO_COLUMN, recaptures=RECAPTURES.replace(",6", ",49"), name="other")
    assert told(problems(folder)) == [
        at(Wrong.RECAPTURED_ABOVE_MARKS, "recaptures.csv", 2, "count", recaptured=49, at_large=48)
    ]


def test_batch_that_was_marked_later_or_is_smaller(campaign, problems):
    more = "2025-06-05,Sedge Lake,S2,both,9,\n2025-04-01,Sedge Lake,S3,both,2,\n"
    folder = campaign(
        *NO_COLUMN,
        ("marked.csv", "2025-04-23", f"{more}2025-04-23"),
        recaptures=RECAPTURES.replace("S1,6", "S2,1")
        + "2025-06-02,Sedge Lake,N1,S3,3\n2025-06-02,Sedge Lake,N1,,1\n",
    )
    assert told(problems(folder)) == [
        at(Wrong.BATCH_MARKED_LATER, "recaptures.csv", 2, "batch", date=pd.Timestamp("2025-06-05")),
        at(Wrong.RECAPTURED_ABOVE_BATCH, "recaptures.csv", 3, "count", batch="S3", released=2),
    ]


def test_recaptures_in_two_places(campaign, problems):
    recaptures = (
        "date,lake,net,batch,count\n2025-06-02,Sedge Lake,N1,S1,6\n2025-06-02,Sedge Lake,N2,S1,2\n"
        "2025-06-10,Sedge Lake,N1,S1,3\n2025-06-03,Heron Pond,P1,H1,8\n"
        "2025-06-12,Heron Pond,P1,H1,5\n"
    )
    both = at(Odd.RECAPTURES_IN_TWO_PLACES, "pulls.csv", None, "recaptured")
    assert problems(campaign(recaptures=recaptures)) == [both]
    folder = campaign(recaptures=recaptures.replace("S1,2", "S1,1"), name="other")
    assert problems(folder) == [
        at(Wrong.RECAPTURES_DISAGREE, "pulls.csv", 3, "recaptured", recaptured=1),
        both,
    ]
    # A recapture whose pull is not clear says nothing of the pulls of that day.
    folder = campaign(recaptures=recaptures.replace("N2,S1", "N8,S1"), name="third")
    assert problems(folder) == [at(Wrong.NO_PULL_OF_NET, "recaptures.csv", 3, "net"), both]


def test_marks_from_other_lakes_count_as_caught_only(campaign, problems):
    folder = campaign(*NO_COLUMN, recaptures=RECAPTURES + "2025-06-02,Sedge Lake,N1,H1,2\n")
    assert told(problems(folder)) == [
        at(Odd.MARKED_ELSEWHERE, "recaptures.csv", 3, "batch", origin="Heron Pond", rows=[3])
    ]
    pulls = read_records(folder).pulls.query("lake == 'Sedge Lake'")
    assert pulls["recaptured"].tolist() == [6, 0, 0]


def test_weight_in_grams_and_length_in_centimetres(campaign, problems):
    folder = campaign(("measured.csv", "560,2.5", "560,2500"), ("measured.csv", "610", "61"))
    assert problems(folder) == [
        at(Wrong.TOO_HEAVY_FOR_LENGTH, "measured.csv", 2, "weight_kg", times=1000, length_mm=560),
        at(Wrong.TOO_HEAVY_FOR_LENGTH, "measured.csv", 3, "weight_kg", times=1000, length_mm=61),
    ]


def test_weight_far_off_the_median_though_not_impossible(campaign, lines):
    # 520 mm and 0.05 kg: thirty times too thin for this file, within the widest range if 0.15.
    folder = campaign(("measured.csv", "520,2", "520,0.05"))
    (line,) = lines(folder)
    assert "too light for its length of 520 mm" in line


def test_weight_alone_off_the_lake(campaign, lines):
    fish = "".join(f"2025-06-02,Sedge Lake,N1,,{weight}\n" for weight in (2.1, 2.4, 2, 100, 0.03))
    folder = campaign(("measured.csv", "2025-06-10", f"{fish}2025-06-10"))
    assert lines(folder) == []
    folder = campaign(
        ("measured.csv", "2025-06-10", f"{fish}2025-06-10"),
        ("measured.csv", "1.8", "1800"),
        ("measured.csv", ",100", ",140"),
        ("measured.csv", "0.03", "0.003"),
        ("measured.csv", "2.4", "0.5"),
        name="other",
    )
    found = [line.split(";")[0] for line in lines(folder)]
    assert found[0].endswith('weight_kg = "1800": heavier than any such fish (weight in grams?)')
    assert "under a hundredth of the usual weight in Sedge Lake" in found[-1]


def test_a_whole_file_in_grams_is_one_line(campaign, problems):
    rows = "".join(f"2025-06-02,Sedge Lake,N1,{500 + n},{1900 + n}\n" for n in range(20))
    folder = campaign(measured=f"date,lake,net,length_mm,weight_kg\n{rows}")
    assert problems(folder) == [
        at(
            Wrong.WEIGHTS_IN_OTHER_UNITS,
            "measured.csv",
            None,
            "weight_kg",
            off=20,
            weights=20,
            rows=[2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15, 16, 17, 18, 19, 20, 21],
        )
    ]


def test_measured_without_a_column_to_measure(campaign, problems):
    assert problems(campaign(measured="date,lake\n2025-06-02,Sedge Lake\n")) == [
        at(Wrong.NO_COLUMN_OF_SIZES, "measured.csv", 1)
    ]


def test_a_cell_is_in_one_problem_only(campaign, lines):
    # Above the catch and above the marks at large: the first rule speaks.
    assert len(lines(campaign(("pulls.csv", "60,3,1", "60,99,1")))) == 1


def test_threshold_default_for_common_carp_only(campaign, lines):
    assert read_records(campaign()).settings.threshold_kg_per_ha == 100
    folder = campaign(("campaign.toml", "common carp", "silver carp"), name="other")
    (line,) = lines(folder)
    assert line.startswith(
        "campaign.toml, threshold_kg_per_ha: missing setting; only common carp has a default"
    )
