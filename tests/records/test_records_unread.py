"""Unread columns and files: what they mean for the estimate is said, or stops the fit."""

from __future__ import annotations

import pytest
from expected import at

from fishdown.records import read_records
from fishdown.records.codes import Odd, Wrong
from fishdown.records.problems import RecordsError
from fishdown.records.unread import examined_in_part, is_species, meaning_of

UNSEEN = (
    "this column is not read, and fish not examined would count as unmarked, which makes the "
    "estimate too high; leave recaptured empty for such a pull: it then counts as not "
    "examined"
)


def pulls(column, *cells, recaptured=("6", "2", "3")):
    """Sedge Lake's three pulls with one more column."""
    rows = ["date,lake,net,caught,recaptured," + column]
    pairs = zip(("02", "02", "10"), ("N1", "N2", "N1"), (120, 80, 60), strict=True)
    for (day, net, caught), marks, cell in zip(pairs, recaptured, cells, strict=True):
        rows.append(f"2025-06-{day},Sedge Lake,{net},{caught},{marks},{cell}")
    return "\n".join(rows) + "\n"


def of_unread(found):
    """Leave out what the shortened table of pulls causes in other tables."""
    others = ("measured.csv", "bycatch.csv")
    return [
        problem for problem in found if problem.severity == "error" or problem.file not in others
    ]


@pytest.mark.parametrize("column", ["n_examined", "looked_at", "checked", "examind"])
def test_a_catch_examined_in_part_stops_the_reading(campaign, problems, column):
    found = of_unread(problems(campaign(pulls=pulls(column, "120", "25", "60"))))
    place = ("pulls.csv", 3, column)
    assert found == [at(Wrong.EXAMINED_IN_PART, *place, examined=25, caught=80, more=[])]


def test_all_such_catches_are_one_problem(campaign, problems):
    found = of_unread(problems(campaign(pulls=pulls("n_examined", "110", "25", "61"))))
    assert found == [
        at(
            Wrong.EXAMINED_IN_PART,
            "pulls.csv",
            2,
            "n_examined",
            caught=120,
            examined=110,
            more=[3, 4],
        )
    ]


@pytest.mark.parametrize(
    ("cells", "recaptured"),
    [
        # Examined whole wherever it matters.
        (("120", "80", "60"), ("6", "2", "3")),
        (("120", "25", "60"), ("6", "", "3")),
        (("120", "0", "60"), ("6", "", "3")),
        (("yes", "no", ""), ("6", "", "3")),
        (("JB", "JB", "AK"), ("6", "2", "3")),
    ],
)
def test_harmless_where_each_catch_was_examined_whole(campaign, problems, cells, recaptured):
    folder = campaign(pulls=pulls("checked", *cells, recaptured=recaptured))
    found = [problem for problem in of_unread(problems(folder)) if problem.column == "checked"]
    assert found == [at(Odd.ALL_EXAMINED, "pulls.csv", 1, "checked")]


def test_harmless_where_no_fish_were_marked(campaign, lines):
    folder = campaign(
        pulls=pulls("examined", "25", "25", "25", recaptured=("", "", "")), marked=None
    )
    assert all(line.startswith("warning") for line in lines(folder))


@pytest.mark.parametrize(
    ("column", "cell", "said"),
    [
        ("checked", "no", "none of the 80 fish caught were examined"),
        ("checked", "0", "none of the 80 fish caught were examined"),
        ("checked", "81", "more fish examined for marks than the 80 caught"),
        ("checked", "half", "not all of the 80 fish caught were examined"),
        ("not_examined", "55", "only 25 of the 80 fish caught were examined"),
        ("note", "25 examined", "the catch of 80 fish was not examined whole for marks"),
        ("comments", "only part checked", "the catch of 80 fish was not examined whole for marks"),
        ("Remarks", "subsample", "the catch of 80 fish was not examined whole for marks"),
    ],
)
def test_other_ways_to_write_it(campaign, column, cell, said):
    with pytest.raises(RecordsError) as error:
        read_records(campaign(pulls=pulls(column, "", cell, "")))
    (problem,) = [one for one in error.value.problems if one.severity == "error"]
    assert (problem.row, problem.column, problem.cell) == (3, column.lower(), cell)
    assert problem.wrong.startswith(said)


def test_with_a_table_of_recaptures_every_catch_counts_as_examined(campaign, lines):
    recaptures = (
        "date,lake,net,count,n_checked\n2025-06-02,Sedge Lake,N1,6,120\n"
        "2025-06-02,Sedge Lake,N2,2,25\n"
    )
    found = [
        line
        for line in lines(campaign(("pulls.csv", "recaptured", "x"), recaptures=recaptures))
        if not line.startswith("warning")
    ]
    assert found == [
        'recaptures.csv, row 3, n_checked = "25": only 25 of the 80 fish caught were '
        "examined for marks; this column is not read, and fish not examined would count as "
        "unmarked, which makes the estimate too high; give the number of fish that were examined "
        "in the column examined of pulls.csv, 0 if none were"
    ]


def test_notes_without_such_words_are_harmless(campaign, problems):
    notes = ("windy", "2 nets checked at 18:00", "all 60 examined")
    assert of_unread(problems(campaign(pulls=pulls("note", *notes)))) == [
        at(Odd.NOTES, "pulls.csv", 1, "note")
    ]


@pytest.mark.parametrize(
    "note",
    [
        "25 examined",
        "25 of 60 examined",
        "25/60 checked",
        "examined 25 fish",
        "looked at 25",
        "Windy. Only 25 examined.",
        "25 examined, 60 caught",
        "25 fish checked by crew 2",
        "25 examined from net 2",
        "only part examined",
        "partly checked",
        "50 % checked",
        "half examined for clips",
        "not all fish examined",
        "nobody looked for clips",
        "clips: checked only part",
        "subsample",
        "sub-sample of 25 for marks",
    ],
)
def test_notes_that_tell_of_a_part(note):
    assert examined_in_part(note, 60)


@pytest.mark.parametrize(
    "note",
    [
        "60 examined",
        "examined 60 of 60",
        "100 % examined",
        "all 60 fish examined for clips, 12 weighed",
        "60 examined by 2 people",
        "checked 25 June",
        "18:00 checked",
        "2 nets checked",
        "checked 1 of 2 nets",
        "nets not checked on Sunday",
        "temperature checked 3 times",
        "3 of 60 marked",
        "subsample weighed",
        "some fish escaped, all checked",
    ],
)
def test_notes_that_do_not(note):
    assert not examined_in_part(note, 60)


@pytest.mark.parametrize(
    ("column", "meaning"),
    [
        ("fish examined", "examined"),
        ("checked_by", None),
        ("exam_date", None),
        ("crew", None),
        ("scales", None),
        ("coments", "note"),
        ("specie", "species"),
    ],
)
def test_what_a_column_means(column, meaning):
    assert meaning_of("pulls", column) == meaning
    assert meaning_of("lakes", column) is None


def test_catches_of_other_species_are_not_further_pulls(campaign, problems):
    """Two rows of one pull, of two species: numbering them would count bream as carp."""
    table = (
        "date,lake,net,caught,recaptured,species\n"
        "2025-06-02,Sedge Lake,N1,120,6,common carp\n"
        "2025-06-02,Sedge Lake,N1,31,0,bream\n"
        "2025-06-02,Sedge Lake,N2,80,2,Carp\n"
        "2025-06-10,Sedge Lake,N1,60,3,C. carpio\n"
        "2025-06-10,Sedge Lake,N1,2,0,grass carp\n"
    )
    assert of_unread(problems(campaign(pulls=table))) == [
        at(
            Wrong.OTHER_SPECIES,
            "pulls.csv",
            3,
            "species",
            species="common carp",
            rows=[3, 6],
            in_pulls=True,
        )
    ]


def test_measured_fish_of_other_species(campaign, problems):
    table = (
        "date,lake,net,weight_kg,species\n2025-06-02,Sedge Lake,N1,2.5,common carp\n"
        "2025-06-02,Sedge Lake,N1,0.4,bream\n"
    )
    assert problems(campaign(measured=table)) == [
        at(Wrong.OTHER_SPECIES, "measured.csv", 3, "species", species="common carp", rows=[3])
    ]


def test_one_species_throughout_is_harmless(campaign, problems):
    assert of_unread(problems(campaign(pulls=pulls("species", "carp", "", "Cyprinus carpio")))) == [
        at(Odd.ONE_SPECIES, "pulls.csv", 1, "species", species="common carp")
    ]


@pytest.mark.parametrize(
    ("written", "same"),
    [
        ("Common Carp", True),
        ("C. carpio", True),
        ("common carp (adult)", True),
        ("grass carp", False),
        ("mirror carp", False),
        ("123", False),
    ],
)
def test_names_of_a_species(written, same):
    assert is_species(written, "common carp", ("common carp", "cyprinus carpio")) is same


@pytest.mark.parametrize("name", ["stocked", "Stocking", "fish_in", "restocked_2025", "fish in"])
def test_a_list_of_stocked_fish_is_no_mistyped_table(campaign, lines, name):
    folder = campaign()
    (folder / f"{name}.csv").write_text("date,lake,count\n2025-05-01,Sedge Lake,500\n")
    assert lines(folder) == [
        f"warning: {name}.csv: unknown name, and not read: fish that came or went other than by "
        "the nets stand in movements; rename it to movements, with the columns date, lake, "
        "movement and fish"
    ]


def test_a_note_on_a_catch_whose_fish_examined_are_counted_is_harmless(campaign, problems):
    rows = (
        "date,lake,net,caught,recaptured,examined,note\n2025-06-02,Sedge Lake,N1,120,6,,\n"
        "2025-06-02,Sedge Lake,N2,80,2,25,25 examined\n2025-06-03,Sedge Lake,N1,60,3,,\n"
    )
    found = of_unread(problems(campaign(pulls=rows)))
    assert all(problem.severity == "warning" for problem in found)
