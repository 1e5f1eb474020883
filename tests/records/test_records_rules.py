"""Every rule between rows and tables, broken once, and the line that says so."""

from __future__ import annotations

import pytest

from fishdown.records import read_records

RECAPTURES = "date,lake,net,batch,count\n2025-06-02,Sedge Lake,N1,S1,6\n"
NO_COLUMN = (("pulls.csv", ",recaptured,", ",xyzzy,"),)


def told(lines):
    """Without the warning that the column recaptured was renamed."""
    return [line for line in lines if "xyzzy" not in line]


@pytest.mark.parametrize(
    ("file", "old", "new", "line"),
    [
        (
            "lakes",
            "Heron Pond,6.5,yes",
            "Heron Pond,6.5,yes\nSedge Lake,42,no",
            'row 4, lake = "Sedge Lake": the lake has a row already (row 2); keep one of the two '
            "rows",
        ),
        (
            "marked",
            "50,2",
            "50,51",
            'row 2, died = "51": more fish died than the 50 released; correct one of the two; '
            "released counts the fish that died later, too",
        ),
        (
            "pulls",
            "60,3,1",
            "60,3,61",
            'row 4, released_again = "61": more fish put back than the 60 caught; correct one of '
            "the two; caught counts all fish of the catch",
        ),
        (
            "pulls",
            "60,3,1",
            "60,63,1",
            'row 4, recaptured = "63": 63 marked fish in a catch of 60; correct one of the two; '
            "caught counts marked fish too",
        ),
        (
            "pulls",
            "60,3,1",
            "60,43,1",
            'row 4, recaptured = "43": 43 marked fish in the catch, but only 40 at large in Sedge '
            "Lake (48 released alive for season 2025, 8 taken out since); correct the count, or "
            "add the marking to marked.csv",
        ),
        (
            "bycatch",
            "4,1",
            "4,5",
            'row 2, dead = "5": more dead fish than the 4 counted; correct one of the two; count '
            "holds the dead fish too",
        ),
        (
            "measured",
            "450,",
            ",",
            "row 7: neither length nor weight; write one of them, or delete the row",
        ),
        (
            "detections",
            "22:04:00-06:00,Sedge Lake",
            "22:04:00-06:00,Sedge Lk",
            'row 2, lake = "Sedge Lk": unknown lake; did you mean "Sedge Lake"?',
        ),
    ],
)
def test_a_broken_rule_is_one_line(campaign, lines, file, old, new, line):
    assert lines(campaign((f"{file}.csv", old, new))) == [f"{file}.csv, {line}"]


def test_an_unknown_lake_is_told_once_a_table(campaign, lines):
    folder = campaign(
        ("pulls.csv", "Heron Pond", "heron pond"), ("pulls.csv", "Heron Pond", "heron pond")
    )
    assert lines(folder) == [
        'pulls.csv, row 5, lake = "heron pond": unknown lake, here and in 1 more row; did you '
        'mean "Heron Pond"?'
    ]
    folder = campaign(("measured.csv", "Heron Pond", "Xyzzy"), name="other")
    assert lines(folder) == [
        'measured.csv, row 5, lake = "Xyzzy": unknown lake; add it to lakes.csv, or correct the '
        "name"
    ]


def test_lakes_are_not_unknown_while_their_table_is_unreadable(campaign, lines):
    assert len(lines(campaign(lakes="lake,area_ha\nSedge Lake,42\nHeron Pond\n"))) == 1


def test_marks_found_before_any_was_at_large(campaign, lines):
    # Marked on the day of the pull: at large from the next day on.
    folder = campaign(("marked.csv", "2025-04-23,Heron", "2025-06-03,Heron"))
    assert lines(folder) == [
        'pulls.csv, row 5, recaptured = "8": marked fish in the catch before any was at large; '
        "correct the count or a date; fish marked on a day are at large from the next day on, "
        "unless marked.csv has an order"
    ]


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


def test_nothing_was_ever_marked(campaign, lines):
    assert lines(campaign(marked=None)) == [
        'pulls.csv, row 2, recaptured = "6": marked fish in the catch (and in 2 later catches), '
        "but none was marked in Sedge Lake for season 2025; add the marking to marked.csv, or "
        "correct the count",
        'pulls.csv, row 5, recaptured = "8": marked fish in the catch (and in 1 later catch), '
        "but none was marked in Heron Pond for season 2025; add the marking to marked.csv, or "
        "correct the count",
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


def test_more_marks_than_earlier_years_have_left(campaign, lines):
    pulls = (
        "date,lake,net,caught,recaptured\n"
        "2023-06-02,Sedge Lake,N1,80,20\n"
        "2024-06-02,Sedge Lake,N1,120,6\n"
        "2025-06-02,Sedge Lake,N1,30,30\n"
    )
    assert lines(campaign(pulls=pulls, **YEARS)) == [
        'pulls.csv, row 4, recaptured = "30": 30 marked fish in the catch, but only 29 at large in '
        "Sedge Lake (19 left from earlier years, 10 released alive for season 2025, 0 taken out "
        "since); correct the count, or add the marking to marked.csv"
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


def test_nobody_looked_through_some_catches(campaign, lines):
    folder = campaign(("pulls.csv", "80,2", "80,"))
    assert lines(folder) == [
        "warning: pulls.csv, row 3, recaptured: empty for 1 catch of Sedge Lake 2025 while "
        "marked fish were at large (row 3): not examined, and assumed to hold the season's "
        "share of marked fish; write 0 if the catch was examined and had none"
    ]
    pulls = read_records(folder).pulls.query("lake == 'Sedge Lake'")
    # 6 + 3 marked of 120 + 60 examined: 5 %, hence 4 of 80.
    assert pulls["marks_removed"].tolist() == [6, 4, 2]
    assert pulls["marks_at_large"].tolist() == [48, 42, 38]
    assert pulls["recaptured"].isna().tolist() == [False, True, False]


def test_nobody_looked_at_all(campaign, lines):
    folder = campaign(("pulls.csv", "40,8", "40,"), ("pulls.csv", "25,5", "25,"))
    assert lines(folder) == [
        "warning: pulls.csv: no catch of Heron Pond 2025 was examined for its 30 marked fish, "
        "so its marks are unused; fill the column recaptured (0 if the catch was examined and "
        "had none)"
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


def test_seasons_that_overlap(campaign, lines):
    pulls = (
        "date,lake,net,caught,season\n2025-06-01,Sedge Lake,N1,1,spring\n"
        "2025-06-03,Sedge Lake,N1,1,summer\n2025-06-05,Sedge Lake,N1,1,spring\n"
        "2025-06-09,Sedge Lake,N1,1,autumn\n2025-06-04,Heron Pond,N1,1,summer\n"
    )
    folder = campaign(pulls=pulls, marked=None, measured=None, bycatch=None)
    assert lines(folder) == [
        'pulls.csv, row 3, season = "summer": season summer of Sedge Lake overlaps season spring; '
        "give each season of a lake dates of its own"
    ]


def test_days_to_come_are_a_warning(campaign, lines):
    folder = campaign(
        ("bycatch.csv", "2025-06-03", "2095-06-03"),
        ("detections.csv", "2025", "2095"),
        ("detections.csv", "2025", "2095"),
    )
    found = [line for line in lines(folder) if "later than today" in line]
    mend = "correct it, unless the clock of this computer is wrong"
    assert found == [
        f'warning: bycatch.csv, row 3, date = "2095-06-03": later than today; {mend}',
        'warning: detections.csv, row 2, time = "2095-06-02T22:04:00-06:00": later than today '
        f"(rows 2 and 3); {mend}",
    ]


def test_a_pull_twice(campaign, lines):
    folder = campaign(("pulls.csv", "Sedge Lake,N2", "Sedge Lake,N1"), measured=None)
    assert lines(folder) == [
        'pulls.csv, row 3, net = "N1": this net has a pull on this day already (row 2); delete '
        "the row if it is the same pull, else number both in column order"
    ]


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


def test_measured_fish_and_bycatch_of_no_pull_are_a_warning(campaign, lines):
    folder = campaign(
        ("measured.csv", "2025-06-03,Heron", "2025-06-04,Heron"),
        ("measured.csv", "2025-06-03,Heron", "2025-06-04,Heron"),
        ("bycatch.csv", "Sedge Lake,N1", "Sedge Lake,N7"),
    )
    assert lines(folder) == [
        'warning: measured.csv, row 5, date = "2025-06-04": pulls.csv has no pull in Heron Pond '
        "on this day, here and in 1 more row; add the pull, or correct the date",
        'warning: bycatch.csv, row 2, net = "N7": pulls.csv has no pull of this net in Sedge Lake '
        "on 2025-06-02; nets pulled that day: N1, N2",
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


def test_recaptures_of_no_pull_or_of_several(campaign, lines):
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
    assert told(lines(folder)) == [
        'recaptures.csv, row 2, net = "N1": 2 pulls of this net on this day; say in the column '
        "order which of them it is",
        'recaptures.csv, row 4, order = "3": pulls.csv has pulls of this net on this day, none '
        "with this order; correct the order, or leave it out if there is one pull",
        'recaptures.csv, row 5, net = "N8": pulls.csv has no pull of this net in Sedge Lake on '
        "2025-06-02; nets pulled that day: N1",
        'recaptures.csv, row 6, date = "2025-06-05": pulls.csv has no pull in Sedge Lake on this '
        "day; add the pull, or correct the date",
    ]


def test_unknown_batch(campaign, lines):
    folder = campaign(*NO_COLUMN, recaptures=RECAPTURES.replace("S1", "S11"))
    assert told(lines(folder)) == [
        'recaptures.csv, row 2, batch = "S11": unknown batch of marked fish; did you mean "S1"?'
    ]


def test_recaptures_table_above_catch_and_above_marks(campaign, lines):
    folder = campaign(*NO_COLUMN, recaptures=RECAPTURES.replace(",6", ",121"))
    assert told(lines(folder)) == [
        'recaptures.csv, row 2, count = "121": 121 marked fish in a catch of 120; correct one of '
        "the two; caught counts marked fish too"
    ]
    folder = campaign(*NO_COLUMN, recaptures=RECAPTURES.replace(",6", ",49"), name="other")
    (line,) = told(lines(folder))
    assert line.startswith(
        'recaptures.csv, row 2, count = "49": 49 marked fish in the catch, but only 48 at large'
    )


def test_batch_that_was_marked_later_or_is_smaller(campaign, lines):
    more = "2025-06-05,Sedge Lake,S2,both,9,\n2025-04-01,Sedge Lake,S3,both,2,\n"
    folder = campaign(
        *NO_COLUMN,
        ("marked.csv", "2025-04-23", f"{more}2025-04-23"),
        recaptures=RECAPTURES.replace("S1,6", "S2,1")
        + "2025-06-02,Sedge Lake,N1,S3,3\n2025-06-02,Sedge Lake,N1,,1\n",
    )
    assert told(lines(folder)) == [
        'recaptures.csv, row 2, batch = "S2": this batch was marked later, on 2025-06-05; correct '
        "the batch, the count or the date",
        'recaptures.csv, row 3, count = "3": only 2 fish of batch S3 were released until then; '
        "correct the batch, the count or the date",
    ]


def test_recaptures_in_two_places(campaign, lines):
    recaptures = (
        "date,lake,net,batch,count\n2025-06-02,Sedge Lake,N1,S1,6\n2025-06-02,Sedge Lake,N2,S1,2\n"
        "2025-06-10,Sedge Lake,N1,S1,3\n2025-06-03,Heron Pond,P1,H1,8\n"
        "2025-06-12,Heron Pond,P1,H1,5\n"
    )
    both = (
        "warning: pulls.csv, recaptured: recaptures are given here and in recaptures.csv, which "
        "is the one that counts; leave out the column recaptured"
    )
    assert lines(campaign(recaptures=recaptures)) == [both]
    folder = campaign(recaptures=recaptures.replace("S1,2", "S1,1"), name="other")
    assert lines(folder) == [
        'pulls.csv, row 3, recaptured = "2": recaptures.csv has 1 marked fish for this pull; make '
        "the two agree, or leave this cell empty",
        both,
    ]
    # A recapture whose pull is not clear says nothing of the pulls of that day.
    folder = campaign(recaptures=recaptures.replace("N2,S1", "N8,S1"), name="third")
    found = lines(folder)
    assert len(found) == 2
    assert found[0].startswith('recaptures.csv, row 3, net = "N8"')


def test_marks_from_other_lakes_count_as_caught_only(campaign, lines):
    folder = campaign(*NO_COLUMN, recaptures=RECAPTURES + "2025-06-02,Sedge Lake,N1,H1,2\n")
    assert told(lines(folder)) == [
        'warning: recaptures.csv, row 3, batch = "H1": marked in Heron Pond, recaptured in '
        "Sedge Lake (row 3); nothing to do if that is so; the fish count as caught, not as "
        "recaptures"
    ]
    pulls = read_records(folder).pulls.query("lake == 'Sedge Lake'")
    assert pulls["recaptured"].tolist() == [6, 0, 0]


def test_weight_in_grams_and_length_in_centimetres(campaign, lines):
    folder = campaign(("measured.csv", "560,2.5", "560,2500"), ("measured.csv", "610", "61"))
    mend = "write the weight in kilograms and the length in millimetres"
    assert lines(folder) == [
        'measured.csv, row 2, weight_kg = "2500": about 1,000 times too heavy for its length of '
        f"560 mm (weight in grams, or length in centimetres?); {mend}",
        'measured.csv, row 3, weight_kg = "3.2": about 1,000 times too heavy for its length of '
        f"61 mm (weight in grams, or length in centimetres?); {mend}",
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


def test_a_whole_file_in_grams_is_one_line(campaign, lines):
    rows = "".join(f"2025-06-02,Sedge Lake,N1,{500 + n},{1900 + n}\n" for n in range(20))
    folder = campaign(measured=f"date,lake,net,length_mm,weight_kg\n{rows}")
    assert lines(folder) == [
        "measured.csv, weight_kg: 20 of 20 weights cannot be kilograms of fish of their lengths "
        "in millimetres (rows 2, 3, 4, 5, 6 and 15 more); write weights in kilograms and lengths "
        "in millimetres"
    ]


def test_measured_without_a_column_to_measure(campaign, lines):
    assert lines(campaign(measured="date,lake\n2025-06-02,Sedge Lake\n")) == [
        "measured.csv, row 1: no column length_mm and no column weight_kg; add at least one of them"
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
