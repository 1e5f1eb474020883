"""What people read of those findings of the rules whose sentences have options."""

from __future__ import annotations

from datetime import date

import pytest

from fishdown.records import Problem
from fishdown.records.codes import Odd, Wrong


@pytest.mark.parametrize(
    ("code", "values", "sentence"),
    [
        (
            Odd.DAY_TO_COME,
            {"rows": [3]},
            "later than today; correct it, unless the clock of this computer is wrong",
        ),
        (
            Odd.DAY_TO_COME,
            {"rows": [2, 3]},
            "later than today (rows 2 and 3); correct it, unless the clock of this computer is "
            "wrong",
        ),
        (
            Odd.MARKED_YEARS_BEFORE,
            {"lake": "Sedge Lake", "years": 10.114, "rows": [2]},
            "marked 10.1 years before the next pull in Sedge Lake; correct the date; leave it "
            "if it is correct",
        ),
        (
            Odd.MEASURED_UNLIKE_CATCH,
            {
                "season": "Sedge Lake 2025",
                "chosen_middle": 597.5,
                "others_middle": 462.5,
                "unit": "mm",
                "larger": True,
                "percent": 61.52,
            },
            "in Sedge Lake 2025 catches of which only a part was measured gave larger fish than "
            "catches measured whole (half of them above 597.5 mm and 462.5 mm): if fish were "
            "selected by size, biomass is about 62 % too high; measure fish as they come, such "
            "as every fifth; leave selected fish out",
        ),
        (
            Odd.MEASURED_YEARS_AWAY,
            {"lake": "Sedge Lake", "years": 10.001, "rows": [2, 3]},
            "measured 10.0 years from the nearest pull in Sedge Lake (rows 2 and 3); correct "
            "the date; leave it if it is correct",
        ),
        (
            Odd.NO_PULL_IN_LAKE,
            {"pulls_file": "pulls.csv", "lake": "Heron Pond", "more": 0},
            "pulls.csv has no pull in Heron Pond on this day; add the pull, or correct the date",
        ),
        (
            Odd.NO_PULL_IN_LAKE,
            {"pulls_file": "pulls.csv", "lake": "Heron Pond", "more": 1},
            "pulls.csv has no pull in Heron Pond on this day, here and in 1 more row; add the "
            "pull, or correct the date",
        ),
        (
            Odd.NO_PULL_IN_LAKE,
            {"pulls_file": "pulls.csv", "lake": "Heron Pond", "more": 2},
            "pulls.csv has no pull in Heron Pond on this day, here and in 2 more rows; add the "
            "pull, or correct the date",
        ),
        (
            Odd.NO_PULL_OF_NET,
            {
                "pulls_file": "pulls.csv",
                "date": date(2025, 6, 2),
                "lake": "Sedge Lake",
                "more": 0,
                "nets": ["N1", "N2"],
                "others": 0,
            },
            "pulls.csv has no pull of this net in Sedge Lake on 2025-06-02; nets pulled that "
            "day: N1, N2",
        ),
        (Odd.NO_ROWS, {}, "no rows under the header; write the rows, or delete the table"),
        (
            Odd.OFF_STANDARD_WEIGHT,
            {
                "examples": "row 4: 520 mm and 6 kg, 306 %; row 5: 480 mm and 0.6 kg, 39 %",
                "others": 0,
                "fish": 2,
                "lightest": 50,
                "heaviest": 200,
            },
            "2 common carp of less than 50 % or more than 200 % of the standard weight of the "
            "length (row 4: 520 mm and 6 kg, 306 %; row 5: 480 mm and 0.6 kg, 39 %); check that "
            "weights are in kilograms (not grams or pounds) and total lengths in millimetres "
            "(not centimetres); leave them if they are correct",
        ),
        (
            Odd.OFF_STANDARD_WEIGHT,
            {
                "examples": "row 2: 420 mm and 2.287 kg, 218 %",
                "others": 3,
                "fish": 8,
                "lightest": 50,
                "heaviest": 200,
            },
            "8 common carp of less than 50 % or more than 200 % of the standard weight of the "
            "length (row 2: 420 mm and 2.287 kg, 218 %; and 3 more); check that weights are in "
            "kilograms (not grams or pounds) and total lengths in millimetres (not "
            "centimetres); leave them if they are correct",
        ),
        (
            Odd.WEIGHED_UNLIKE_MEASURED,
            {
                "season": "Sedge Lake 2025",
                "chosen": 9,
                "others": 16,
                "chosen_middle": 450,
                "others_middle": 597.5,
                "larger": False,
                "percent": 46.269,
                "paired": False,
                "fewest": 10,
            },
            "in Sedge Lake 2025 the 9 weighed fish are shorter than the 16 that were measured "
            "only (half of them above 450 mm and 597.5 mm); from the weights alone, biomass "
            "would be about 46 % too low; weigh fish as they come, and measure 10 or more of "
            "those weighed",
        ),
        (
            Odd.WEIGHED_UNLIKE_MEASURED,
            {
                "season": "Sedge Lake 2025",
                "chosen": 16,
                "others": 14,
                "chosen_middle": 597.5,
                "others_middle": 462.5,
                "larger": True,
                "percent": 33.327,
                "paired": True,
                "fewest": 10,
            },
            "in Sedge Lake 2025 the 16 weighed fish are longer than the 14 that were measured "
            "only (half of them above 597.5 mm and 462.5 mm); from the weights alone, biomass "
            "would be about 33 % too high; weigh fish as they come; until then the others' "
            "weights follow from their lengths",
        ),
        (
            Wrong.EXAMINED_ABOVE_CATCH,
            {
                "pulls_file": "pulls.csv",
                "recaptures_file": "recaptures.csv",
                "caught": 80,
                "more": [],
            },
            "more fish examined for marks than the 80 caught; correct one of the two",
        ),
        (
            Wrong.EXAMINED_IN_PART,
            {
                "pulls_file": "pulls.csv",
                "recaptures_file": "recaptures.csv",
                "caught": 80,
                "examined": 0,
                "more": [],
            },
            "none of the 80 fish caught were examined for marks; this column is not read, and "
            "fish not examined would count as unmarked, which makes the estimate too high; "
            "give the number of fish that were examined in the column examined of pulls.csv, 0 if "
            "none were",
        ),
        (
            Wrong.EXAMINED_IN_PART,
            {
                "pulls_file": "pulls.csv",
                "recaptures_file": "recaptures.csv",
                "caught": 80,
                "examined": 25,
                "more": [],
            },
            "only 25 of the 80 fish caught were examined for marks; this column is not read, "
            "and fish not examined would count as unmarked, which makes the estimate too high; "
            "give the number of fish that were examined in the column examined of pulls.csv, 0 if "
            "none were",
        ),
        (
            Wrong.EXAMINED_IN_PART,
            {
                "pulls_file": "pulls.csv",
                "recaptures_file": "recaptures.csv",
                "caught": 120,
                "examined": 110,
                "more": [3, 4],
            },
            "only 110 of the 120 fish caught were examined for marks (the same in rows 3 and "
            "4); this column is not read, and fish not examined would count as unmarked, which "
            "makes the estimate too high; give the number of fish that were examined in the "
            "column examined of pulls.csv, 0 if none were",
        ),
        (
            Wrong.NEVER_MARKED,
            {
                "marked_file": "marked.csv",
                "lake": "Heron Pond",
                "season": "2025",
                "later": 1,
                "marked_later": False,
            },
            "marked fish in the catch (and in 1 later catch), but none was marked in Heron Pond "
            "for season 2025; add the marking to marked.csv, or correct the count",
        ),
        (
            Wrong.NEVER_MARKED,
            {
                "marked_file": "marked.csv",
                "lake": "Sedge Lake",
                "season": "2025",
                "later": 2,
                "marked_later": False,
            },
            "marked fish in the catch (and in 2 later catches), but none was marked in Sedge "
            "Lake for season 2025; add the marking to marked.csv, or correct the count",
        ),
        (
            Wrong.NEVER_MARKED,
            {
                "marked_file": "marked.csv",
                "lake": "Sedge Lake",
                "season": "2022",
                "later": 0,
                "marked_later": True,
            },
            "marked fish in the catch, but none was marked in Sedge Lake for season 2022; add "
            "the marking to marked.csv, or correct the count; fish marked later do not count "
            "here",
        ),
        (
            Wrong.NOTE_OF_PART,
            {
                "pulls_file": "pulls.csv",
                "recaptures_file": "recaptures.csv",
                "caught": 80,
                "more": [],
            },
            "the catch of 80 fish was not examined whole for marks; this column is not read, "
            "and fish not examined would count as unmarked, which makes the estimate too high; "
            "give the number of fish that were examined in the column examined of pulls.csv, 0 if "
            "none were",
        ),
        (
            Wrong.NOT_ALL_EXAMINED,
            {
                "pulls_file": "pulls.csv",
                "recaptures_file": "recaptures.csv",
                "caught": 80,
                "more": [],
            },
            "not all of the 80 fish caught were examined for marks; this column is not read, "
            "and fish not examined would count as unmarked, which makes the estimate too high; "
            "give the number of fish that were examined in the column examined of pulls.csv, 0 if "
            "none were",
        ),
        (Wrong.NO_ROWS, {"noun": "pull"}, "no rows under the header; write one row a pull"),
        (
            Wrong.OTHER_SPECIES,
            {
                "campaign_file": "campaign.toml",
                "bycatch_file": "bycatch.csv",
                "species": "common carp",
                "rows": [3],
                "in_pulls": False,
            },
            "another species than the common carp of campaign.toml; the column is not read, so "
            "that these fish would count as common carp; delete such rows: this table holds "
            "common carp only",
        ),
        (
            Wrong.OTHER_SPECIES,
            {
                "campaign_file": "campaign.toml",
                "bycatch_file": "bycatch.csv",
                "species": "common carp",
                "rows": [3, 6],
                "in_pulls": True,
            },
            "another species than the common carp of campaign.toml (rows 3 and 6); the column "
            "is not read, so that these fish would count as common carp; move such catches to "
            "bycatch.csv (columns species and count) and keep one row a pull with the catch of "
            "common carp, 0 if there was none",
        ),
        (
            Wrong.RECAPTURED_ABOVE_MARKS,
            {
                "marked_file": "marked.csv",
                "lake": "Sedge Lake",
                "recaptured": 43,
                "season": "2025",
                "at_large": 40,
                "gone": 8,
                "earlier": 0,
                "carried": 0,
                "alive": 48,
            },
            "43 marked fish in the catch, but only 40 at large in Sedge Lake (48 released alive "
            "for season 2025, 8 taken out since); correct the count, or add the marking to "
            "marked.csv",
        ),
        (
            Wrong.RECAPTURED_ABOVE_MARKS,
            {
                "marked_file": "marked.csv",
                "lake": "Sedge Lake",
                "recaptured": 30,
                "season": "2025",
                "at_large": 29,
                "gone": 0,
                "earlier": 45,
                "carried": 19,
                "alive": 10,
            },
            "30 marked fish in the catch, but only 29 at large in Sedge Lake (19 left from "
            "earlier years, 10 released alive for season 2025, 0 taken out since); correct the "
            "count, or add the marking to marked.csv",
        ),
        (
            Wrong.UNKNOWN_BATCH,
            {"marked_file": "marked.csv", "like": "S1"},
            'unknown batch of marked fish; did you mean "S1"?',
        ),
        (
            Wrong.UNKNOWN_LAKE,
            {"lakes_file": "lakes.csv", "more": 0, "like": "Sedge Lake"},
            'unknown lake; did you mean "Sedge Lake"?',
        ),
        (
            Wrong.UNKNOWN_LAKE,
            {"lakes_file": "lakes.csv", "more": 1, "like": "Heron Pond"},
            'unknown lake, here and in 1 more row; did you mean "Heron Pond"?',
        ),
        (
            Wrong.UNKNOWN_LAKE,
            {"lakes_file": "lakes.csv", "more": 2, "like": None},
            "unknown lake, here and in 2 more rows; add it to lakes.csv, or correct the name",
        ),
    ],
)
def test_sentence_of_a_finding(code, values, sentence):
    problem = Problem(code, "pulls.csv", values=values)
    assert f"{problem.wrong}; {problem.mend}" == sentence
