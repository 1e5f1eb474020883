"""What no record can tell is not stated: the gate and `check` ask the same questions."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

import fishdown
from fishdown.identifiability.seasons import what_is_identified
from fishdown.models.data import fitting_spec
from fishdown.posterior.choice import choose_model
from fishdown.posterior.untold import untold
from fishdown.records import read_records


def pull(day: int, caught: int, lake: str = "Pond", **more: Any) -> dict[str, Any]:
    return {"date": f"2024-06-{day:02}", "lake": lake, "net": "A", "caught": caught, **more}


POND = [{"lake": "Pond", "area_ha": 4.0}]


def marked(count: int, lake: str = "Pond") -> list[dict[str, Any]]:
    row = {"date": "2024-05-01", "lake": lake, "batch": "clips", "mark": "fin_clip"}
    return [{**row, "released": count}]


UNTOLD: list[tuple[dict[str, Any], str]] = [
    ({"pulls": [pull(1, 80)]}, "no marks and one pull: no depletion"),
    (
        {"pulls": [pull(day, 0) for day in range(1, 29)]},
        "no marks and no fish removed in 28 pulls: no depletion",
    ),
    (
        {"pulls": [pull(1, 0), pull(2, 80)]},
        "no marks and no fish removed before the last of 2 pulls: no depletion",
    ),
    (
        {"pulls": [pull(1, 60), pull(2, 50, spoiled="yes")]},
        "no marks and one pull besides void lifts: no depletion",
    ),
    (
        {"pulls": [pull(1, 80)], "marked": marked(30)},
        "no catch was examined for the 30 marked fish and one pull: no depletion",
    ),
    (
        {"pulls": [pull(1, 0, recaptured=0)], "marked": marked(30)},
        "no fish in the catches that were examined for the 30 marked fish and one pull: no",
    ),
]
TOLD: list[dict[str, Any]] = [
    {"pulls": [pull(1, 60), pull(2, 50)]},
    {"pulls": [pull(1, 80, recaptured=0)], "marked": marked(30)},
    {"pulls": [pull(1, 60, spoiled="yes"), pull(2, 50), pull(3, 40)]},
]


def reasons(folder: Path) -> tuple[str, ...]:
    campaign = fishdown.read(folder)
    return untold(campaign, fitting_spec(campaign, choose_model(campaign).spec)[0])


@pytest.mark.parametrize(("tables", "why"), UNTOLD)
def test_a_season_that_no_record_tells(
    folder_of: Callable[..., Path], tables: dict[str, Any], why: str
) -> None:
    folder = folder_of(lakes=POND, **tables)
    (reason,) = reasons(folder)
    assert why in reason
    said = str(what_is_identified(read_records(folder))[0])
    assert "abundance cannot be estimated" in said
    assert all(one in said for one in why.removesuffix(": no").split(" and "))


@pytest.mark.parametrize("tables", TOLD)
def test_a_season_that_its_records_tell(
    folder_of: Callable[..., Path], tables: dict[str, Any]
) -> None:
    folder = folder_of(lakes=POND, **tables)
    assert reasons(folder) == ("",)
    assert "abundance cannot be estimated" not in str(what_is_identified(read_records(folder))[0])


def test_other_lakes_tell_what_a_pull_takes(folder_of: Callable[..., Path]) -> None:
    lakes = [{"lake": lake, "area_ha": 4.0} for lake in ("Pond", "Mere")]
    pulls = [pull(1, 80), *(pull(day, 60, "Mere", recaptured=4) for day in (1, 2, 3))]
    folder = folder_of(lakes=lakes, pulls=pulls, marked=marked(40, "Mere"))
    assert reasons(folder) == ("", "")
    said = str(what_is_identified(read_records(folder))[0])
    assert "cannot be estimated from these records alone (model pooled_lakes uses" in said
    alone = fishdown.read(folder)
    spec, _ = fitting_spec(alone, fishdown.read_model("one_lake"))
    assert [bool(reason) for reason in untold(alone, spec)] == [True, False]


def test_the_verdict_is_withheld(folder_of: Callable[..., Path], stub: Any) -> None:
    stub(0)
    fit = fishdown.fit(fishdown.read(folder_of(lakes=POND, pulls=[pull(1, 80)])))
    assert not fit.passed
    verdict = fit.verdicts().iloc[1]
    assert verdict["statement"].startswith("Withheld for Pond in 2024: the records do not")
    assert verdict["gate"].startswith("the records do not determine abundance")
    assert verdict[["probability_below", "biomass_median_kg_per_ha"]].isna().all()
