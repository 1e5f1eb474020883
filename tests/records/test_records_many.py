"""Many rows, many problems: all are counted, few are shown, and none costs a look at all others.

None of these is timed. With a cost that grew with the square of the rows, 20,000 rows of bycatch
took two minutes; now they take seconds.
"""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from fishdown.cli import main
from fishdown.records import Problem, read_records
from fishdown.records.codes import Odd, Wrong
from fishdown.records.problems import RecordsError, Suggestions, listed

ROWS = 5_000


def days(count):
    first = date(1990, 1, 1)
    return [(first + timedelta(days=row % 10_000)).isoformat() for row in range(count)]


def problems(path):
    with pytest.raises(RecordsError) as caught:
        read_records(path)
    return caught.value.problems, str(caught.value).splitlines()


def test_bycatch_without_a_pull(campaign, capsys):
    rows = [f"{day},Sedge Lake,X{row},pike,1" for row, day in enumerate(days(ROWS))]
    folder = campaign(bycatch="\n".join(["date,lake,net,species,count", *rows]))
    assert len(read_records(folder).warnings) == ROWS
    assert main(["check", str(folder)]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "warning: bycatch.csv, date: 4,980 more problems like these" in said
    assert said.count("bycatch.csv, row") == 20


def test_recaptures_of_unknown_batches(campaign):
    rows = [f"2025-06-02,Sedge Lake,N1,Z{row},1" for row in range(ROWS)]
    folder = campaign(recaptures="\n".join(["date,lake,net,batch,count", *rows]))
    found, lines = problems(folder)
    assert sum(problem.column == "batch" for problem in found) == ROWS
    assert len(lines) < 100


def test_unknown_lakes(campaign):
    lakes = [f"Loch {row},3" for row in range(2_000)]
    pulls = [f"2025-06-02,Mere {row},N1,1" for row in range(2_000)]
    folder = campaign(
        lakes="\n".join(["lake,area_ha", *lakes]),
        pulls="\n".join(["date,lake,net,caught", *pulls]),
        marked=None, measured=None, bycatch=None, detections=None,
    )  # fmt: skip
    found, lines = problems(folder)
    assert len(found) == 2_000
    assert lines[0] == "2,000 problems in the records:"
    assert lines[-1] == "  pulls.csv, lake: 1,980 more problems like these"


def test_many_unknown_columns_and_settings(campaign, lines):
    columns = ",".join(f"c{number}" for number in range(3_000))
    folder = campaign(("lakes.csv", "connected", f"connected,{columns}"))
    (folder / "lakes.csv").write_text(
        f"lake,area_ha,{columns}\nSedge Lake,42{',' * 3_000}\nHeron Pond,6{',' * 3_000}\n",
        encoding="utf-8",
    )
    settings = "\n".join(f"s{number} = 1" for number in range(1_000))
    with (folder / "campaign.toml").open("a", encoding="utf-8") as file:
        file.write(settings)
    found = read_records(folder).warnings
    assert len(found) == 4_000
    shown = listed(found)
    assert len(shown) == 201
    assert shown[-1] == "3,800 more problems elsewhere; mend these first"


def test_many_marks_before_many_pulls(campaign):
    """Every mark against every pull would be 25 million pairs."""
    dates = days(500) * 10
    pulls = [f"{day},Sedge Lake,N{row},1,0" for row, day in enumerate(dates)]
    marked = [f"{day},Sedge Lake,S,both,1" for day in dates]
    folder = campaign(
        pulls="\n".join(["date,lake,net,caught,recaptured", *pulls]),
        marked="\n".join(["date,lake,batch,mark,released", *marked]),
        measured=None, bycatch=None, detections=None,
    )  # fmt: skip
    records = read_records(folder)
    # Ten fish a day; those of a day are at large from the next day on.
    last = records.pulls.iloc[-1]
    assert last["marks_at_large"] == ROWS - 10


def test_problems_of_one_column_are_shown_twenty_at_most():
    def problem(row, column, code=Wrong.NEITHER_YES_NOR_NO):
        return Problem(code, "pulls.csv", row, column, "x")

    few = [problem(row, "caught") for row in range(20)]
    assert listed(few) == [str(line) for line in few]
    many = [problem(row, "caught") for row in range(1_500)] + [problem(7, "net")]
    many += [problem(row, "caught", Odd.NOTES) for row in range(21)]
    shown = listed(many)
    assert shown[:20] == [str(line) for line in few]
    assert shown[20] == str(many[1_500])
    assert shown[-2:] == [
        "pulls.csv, caught: 1,480 more problems like these",
        "warning: pulls.csv, caught: 1 more problem like these",
    ]


def test_only_the_first_words_are_searched_for_names_alike():
    found = Suggestions(["Sedge Lake", "Heron Pond"])
    assert found.of("Sege Lake") == "Sedge Lake"
    for number in range(19):
        assert found.of(f"qqq{number}") is None
    assert found.of("Heron Pnd") is None
    assert found.of("Sege Lake") == "Sedge Lake"


def test_a_problem_is_never_longer_than_a_page():
    values = {"said": "w" * 9_000, "place": "p" * 9_000, "known": ["m" * 9_000], "like": None}
    place = ("f" * 9_000, 7, "c" * 9_000, "v" * 9_000)
    for code in (Wrong.CELL_DAMAGED, Odd.UNKNOWN_COLUMN):
        assert len(str(Problem(code, *place, values))) < 2_500
