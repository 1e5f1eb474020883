"""Rules on bycatch and its limits; which pulls count as pulls without bycatch."""

from __future__ import annotations

import pandas as pd
import pytest
from expected import at

from fishdown.records import read_records
from fishdown.records.bycatch_counted import bycatch_counted
from fishdown.records.codes import Odd, Wrong

LIMITS = (
    "species,lake,season,limit,fish\n"
    "channel catfish,Sedge Lake,,10,dead\n"
    "pike,all,2025,25,all\n"
    "all,all,,100,all\n"
)


def test_limits_are_read(campaign, as_workbook, tmp_path, problems):
    folder = campaign(bycatch_limits=LIMITS)
    assert problems(folder) == []
    found = read_records(folder).bycatch_limits
    assert found["species"].tolist() == ["channel catfish", "pike", "all"]
    assert found["lake"].tolist() == ["Sedge Lake", "all", "all"]
    assert found["season"].tolist() == ["", "2025", ""]
    assert found["limit"].tolist() == [10, 25, 100]
    assert found["fish"].tolist() == ["dead", "all", "all"]
    book = read_records(as_workbook(folder, tmp_path / "b.xlsx")).bycatch_limits
    pd.testing.assert_frame_equal(book, found)


@pytest.mark.parametrize(
    ("old", "new", "problem"),
    [
        ("10,dead", "10,died", at(Wrong.NEITHER_ALL_NOR_DEAD, "bycatch_limits.csv", 2, "fish")),
        ("10,dead", "-1,dead", at(Wrong.NEGATIVE_COUNT, "bycatch_limits.csv", 2, "limit")),
        ("10,dead", "2.5,dead", at(Wrong.NOT_WHOLE, "bycatch_limits.csv", 2, "limit")),
        (
            "pike,all,2025,25,all",
            "channel catfish,Sedge Lake,,9,dead",
            at(Wrong.LIMIT_TWICE, "bycatch_limits.csv", 3, "species", first=2),
        ),
        (
            "Sedge Lake,,10",
            "Sege Lake,,10",
            at(Wrong.UNKNOWN_LAKE, "bycatch_limits.csv", 2, "lake", like="Sedge Lake", more=0),
        ),
        (
            "pike,all",
            "carp,all",
            at(Odd.LIMIT_OF_TARGET, "bycatch_limits.csv", 3, "species"),
        ),
        (
            "pike,all",
            "Pikes,all",
            at(Odd.LIMIT_OF_LIKE_SPECIES, "bycatch_limits.csv", 3, "species", like="pike"),
        ),
        (
            "all,2025",
            "all,2024",
            at(Odd.LIMIT_OF_UNKNOWN_SEASON, "bycatch_limits.csv", 3, "season", seasons=["2025"]),
        ),
    ],
)
def test_wrong_limits(campaign, problems, old, new, problem):
    assert problems(campaign(bycatch_limits=LIMITS.replace(old, new))) == [problem]


def test_a_limit_on_a_species_that_was_never_caught_is_no_problem(campaign, problems):
    assert problems(campaign(bycatch_limits=LIMITS.replace("pike,all", "mudpuppy,all"))) == []


def test_a_species_with_two_scientific_names(campaign, problems):
    names = "species,scientific_name\npike,Esox lucius\npike,Esox\n"
    assert problems(campaign(species_names=names)) == [
        at(Wrong.SPECIES_TWICE, "species_names.csv", 3, "species", first=2)
    ]


def test_a_limit_on_dead_fish_where_deaths_are_not_recorded(campaign, problems):
    folder = campaign(("bycatch.csv", "catfish,4,1", "catfish,4,"), bycatch_limits=LIMITS)
    assert problems(folder) == [at(Odd.DEAD_NOT_RECORDED, "bycatch_limits.csv", 2, "fish")]


def with_counted(*answers):
    """Write the pulls of the clean campaign with the column bycatch_counted."""
    rows = [
        "2025-06-02,Sedge Lake,N1,120,6",
        "2025-06-02,Sedge Lake,N2,80,2",
        "2025-06-10,Sedge Lake,N1,60,3",
        "2025-06-03,Heron Pond,P1,40,8",
        "2025-06-12,Heron Pond,P1,25,5",
    ]
    lines = [f"{row},{answer}" for row, answer in zip(rows, answers, strict=True)]
    return "\n".join(["date,lake,net,caught,recaptured,bycatch_counted", *lines]) + "\n"


def test_bycatch_of_a_pull_that_was_not_counted(campaign, problems):
    pulls = with_counted("no", "", "", "", "yes")
    assert problems(campaign(pulls=pulls)) == [
        at(Wrong.BYCATCH_NOT_COUNTED, "pulls.csv", 2, "bycatch_counted", entry=2)
    ]


def test_a_pull_without_a_row_had_none_where_the_season_has_rows(campaign):
    assert read_records(campaign()).pulls["bycatch_counted"].all()
    folder = campaign(("bycatch.csv", "2025-06-03,Heron Pond,P1,pike,1,\n", ""), name="none")
    counted = read_records(folder).pulls.groupby("lake")["bycatch_counted"].agg(["sum", "size"])
    assert counted.loc["Sedge Lake"].tolist() == [3, 3]
    # No row in the season of the lake: there was none, or nobody counted.
    assert counted.loc["Heron Pond"].tolist() == [0, 2]


def test_where_catches_without_bycatch_have_a_row_others_were_not_counted(campaign):
    none = "2025-06-02,Sedge Lake,N2,pike,0,\n2025-06-03"
    found = read_records(campaign(("bycatch.csv", "2025-06-03", none))).pulls
    counted = dict(zip(found["row"], found["bycatch_counted"], strict=True))
    assert counted == {2: True, 3: True, 4: False, 5: True, 6: True}


def test_what_the_crew_wrote_of_a_pull_holds(campaign):
    found = read_records(campaign(pulls=with_counted("", "no", "yes", "", "no"))).pulls
    counted = dict(zip(found["row"], found["bycatch_counted"], strict=True))
    assert counted == {2: True, 3: False, 4: True, 5: True, 6: False}
    # An answer of yes needs no rows of bycatch at all.
    folder = campaign(pulls=with_counted("", "", "yes", "", ""), bycatch=None, name="none")
    found = read_records(folder).pulls
    assert found.loc[found["bycatch_counted"], "row"].tolist() == [4]


def test_without_pulls_or_bycatch():
    pulls = pd.DataFrame({"date": pd.to_datetime([]), "lake": [], "season": [], "net": []})
    pulls["bycatch_counted"] = pd.Series([], dtype="boolean")
    assert len(bycatch_counted(pulls, pulls.assign(count=0.0))) == 0
