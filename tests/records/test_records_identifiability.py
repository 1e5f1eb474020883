"""What the records can tell, in the trade's words."""

from __future__ import annotations

import pytest

from fishdown.identifiability.codes import Evidence, Identified, Remark
from fishdown.identifiability.seasons import what_is_identified
from fishdown.records import read_records
from fishdown.sentences import Said

HEADER = "date,lake,net,caught,recaptured,water_temp_c\n"


@pytest.fixture
def said(campaign):
    def say(*changes, **files):
        records = read_records(campaign(*changes, **files))
        return [str(finding) for finding in what_is_identified(records)]

    return say


def test_findings_are_codes_with_values(campaign):
    folder = campaign(**one_lake((90, 5, 9.5), (60, 3, 15), (40, 2, 22.1)))
    sedge, whole = what_is_identified(read_records(folder))
    assert sedge.evidence == (
        Said(Evidence.MARKS, {"alive": 48, "earlier": False}),
        Said(Evidence.DEPLETION, {"pulls": 3, "removed": 190}),
    )
    assert [said.code for said in sedge.identified] == [
        Identified.ABUNDANCE,
        Identified.CATCHABILITY,
        Identified.EFFECT,
    ]
    assert sedge.remarks == (Said(Remark.NO_MARKS_COMPARED), Said(Remark.NO_WEIGHTS))
    assert whole.remarks == (Said(Remark.ONE_LAKE),)


def one_lake(*pulls):
    rows = "".join(
        f"2025-06-{day:02d},Sedge Lake,N1,{caught},{recaptured},{temperature}\n"
        for day, (caught, recaptured, temperature) in enumerate(pulls, 1)
    )
    return {
        "lakes": "lake,area_ha\nSedge Lake,42\n",
        "marked": "date,lake,batch,mark,released\n2025-04-22,Sedge Lake,S1,both,48\n",
        "pulls": HEADER + rows,
        "measured": None,
        "bycatch": None,
        "detections": None,
    }


def test_marks_and_depletion(said):
    assert said() == [
        "Sedge Lake 2025: mark–recapture (48 marked fish at large) and depletion (3 pulls, "
        "259 fish removed): abundance, catchability; 5 weights: biomass; no double-marked "
        "fish was checked for both marks: shedding cannot be estimated; antenna detections do not "
        "tell how many tags are still there: that takes their numbers in tags.csv, and nights from "
        "a week after release to the last pull; temperature spans 1.5 °C only: no temperature "
        "effect.",
        "Heron Pond 2025: mark–recapture (30 marked fish at large) and depletion (2 pulls, 65 "
        "fish removed): abundance, catchability; 2 weights: biomass; temperature spans 2.5 °C "
        "only: no temperature effect; 1 fish has a length but no weight.",
        "2 lakes share information (partial pooling).",
    ]


def test_temperature_effect(said):
    found = said(**one_lake((90, 5, 9.5), (60, 3, 15), (40, 2, 22.1)))
    assert found == [
        "Sedge Lake 2025: mark–recapture (48 marked fish at large) and depletion (3 pulls, "
        "190 fish removed): abundance, catchability, temperature effect (9.5–22.1 °C); no "
        "double-marked fish was checked for both marks: shedding cannot be estimated; no "
        "weights: no biomass.",
        "One lake: no partial pooling.",
    ]


def test_cold_that_looks_like_depletion(said):
    found = said(**one_lake((90, 5, 22), (60, 3, ""), (40, 2, 15), (20, 2, 9)))
    assert "; the water cools as catches decline: cooling and depletion are confounded" in found[0]
    assert "; 1 pull without water temperature; no weights: no biomass." in found[0]


def test_no_marks_and_no_temperature(said):
    files = one_lake((90, 0, ""), (60, 0, "")) | {"marked": None}
    assert said(**files)[0] == (
        "Sedge Lake 2025: depletion (2 pulls, 150 fish removed): abundance, catchability; no "
        "marks: abundance rests on depletion only; no water temperature: no temperature "
        "effect; no weights: no biomass."
    )


def test_what_pulls_tell_of_nets(said):
    rows = "".join(
        f"2025-06-{day:02d},Sedge Lake,{net},{60 - day},1,{mesh},{bait}\n"
        for day in range(1, 13)
        for net, mesh, bait in (("A", 60, day % 5), ("B", 90, ""))
    )
    header = "date,lake,net,caught,recaptured,mesh_mm,bait_days\n"
    files = one_lake((1, 0, "")) | {"pulls": header + rows}
    lake, campaign = said(**files)
    assert (
        "abundance, catchability, differences between nets (2 nets), differences between nights "
        "(12 nights), drift of catchability (12 dates over 11 days), mesh size (60–90 mm), "
        "first against later pulls of a net (22 repeat pulls), rest between pulls (22 repeat "
        "pulls), baiting (0–4 days), overdispersion of recaptures (24 catches examined), "
        "consistency of mark–recapture with depletion"
    ) in lake
    assert (
        "; consistency of mark–recapture with depletion, in 1 season: mark loss, "
        "post-release mortality"
    ) in campaign


def test_batches_and_shed_marks(said):
    files = one_lake((90, "", ""), (60, "", ""))
    files["marked"] += "2025-04-22,Sedge Lake,S2,fin_clip,30\n"
    rows = [
        "2025-06-01,Sedge Lake,N1,S1,yes,yes",
        "2025-06-01,Sedge Lake,N1,S1,yes,no",
        "2025-06-02,Sedge Lake,N1,S2,yes,",
    ]
    header = "date,lake,net,batch,clip_seen,tag_read\n"
    found = said(**files, recaptures=header + "\n".join(rows) + "\n")
    assert (
        ", batches (2 distinguished), shedding of clips and tags (2 double-marked fish);"
        in found[0]
    )

    files["recaptures"] = header + "2025-06-01,Sedge Lake,N1,,yes,yes\n"
    found = said(name="untold", **files)
    assert (
        "; recaptures do not distinguish the 2 batches; no double-marked fish was checked"
        in found[0]
    )


def test_catches_that_do_not_fall(said):
    found = said(**one_lake((50, 5, ""), (60, 3, ""), (90, 2, "")))
    assert "; catches do not decline: depletion is weakly informative;" in found[0]


def test_marks_without_recaptures(said):
    found = said(**one_lake((90, 0, ""), (60, 0, "")))
    assert "; no recaptures: the marks give only a lower limit of abundance;" in found[0]


def test_marks_nobody_looked_for(said):
    found = said(**one_lake((90, "", ""), (60, "", "")))
    assert (
        "; no catch was examined for the 48 marked fish: abundance rests on depletion only;"
        in found[0]
    )


def test_one_marking_and_one_pull(said):
    found = said(**one_lake((90, 6, "")))
    assert found[0].startswith(
        "Sedge Lake 2025: mark–recapture (48 marked fish at large): abundance, catchability; "
        "no double-marked fish was checked for both marks: shedding cannot be estimated; one "
        "pull: no depletion;"
    )


def test_nothing_identified(said):
    files = one_lake((90, 0, "")) | {"marked": None}
    assert said(**files)[0] == (
        "Sedge Lake 2025: no marks; one pull: no depletion; abundance cannot be estimated; no "
        "weights: no biomass."
    )
    files = one_lake((0, "", ""), (0, "", "")) | {"marked": None}
    assert "no fish removed in 2 pulls: no depletion" in said(name="other", **files)[0]


def test_lakes_without_pulls_or_without_any_record(said):
    files = one_lake((90, 5, ""), (60, 3, ""))
    files["lakes"] += "Heron Pond,6.5\nMill Reservoir,310\n"
    files["marked"] += "2025-04-23,Heron Pond,H1,both,20\n"
    found = said(**files)
    assert found[1] == (
        "Heron Pond 2025: no pull while the 20 marked fish were at large; no pulls: no "
        "depletion; abundance cannot be estimated; no weights: no biomass."
    )
    assert found[2] == "Mill Reservoir: no records: nothing can be estimated."


def test_seasons_are_counted(said):
    files = one_lake((90, 5, ""), (60, 3, ""))
    files["pulls"] += "2024-06-01,Sedge Lake,N1,70,0,\n2024-06-09,Sedge Lake,N1,30,0,\n"
    found = said(**files)
    assert [line.split(":")[0] for line in found[:2]] == ["Sedge Lake 2024", "Sedge Lake 2025"]
    assert found[2] == (
        "One lake: no partial pooling; 1 winter between the years of a lake: survival and "
        "recruitment jointly (model many_years); without marks that last over winter only "
        "their priors separate the two."
    )


def test_marks_that_last_and_years_without_netting(said):
    files = one_lake((90, 5, ""), (60, 3, ""))
    files["pulls"] += "2023-06-01,Sedge Lake,N1,70,5,\n"
    files["marked"] += "2023-04-22,Sedge Lake,S0,both,30\n"
    assert (
        "2 winters between the years of a lake: survival and recruitment jointly (model "
        "many_years), and separately by marks that last over winter; 1 year without netting, "
        "interpolated with greater uncertainty."
    ) in said(**files)[-1]
