"""Lakes of a plan in which things go wrong: records that obey what was drawn, and say no more."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
import xarray as xr

import fishdown
from fishdown.campaign import from_records
from fishdown.decisions.plan_campaign import Job
from fishdown.decisions.plan_design import Candidate, Plan
from fishdown.decisions.plan_file import parse_plan
from fishdown.decisions.plan_worlds import ARRIVING_CONNECTED, HEARD, NUISANCES, draw_world
from fishdown.errors import PlanError
from fishdown.records.checked import Records
from fishdown.records.tables import TABLES
from fishdown.worlds import LakeTruth, World, simulate_records
from fishdown.worlds.antenna import AntennaTruth

LAKE = LakeTruth("Alder", area_ha=100.0, fish=50_000, mean_weight=2.0)
# So many fish that shares are known to half a percent.
MARKED, CLIP, TAG, ALIVE = 20_000, 0.9, 0.8, 0.95
WORLD = World(
    lakes=(LAKE,),
    marked=MARKED,
    batches=("fin_clip", "both"),
    batch_sizes=(MARKED - 8_000, 8_000),
    penned=10_000,
    surveyed=5_000,
    antenna=AntennaTruth(nights=6, mean=0.4, logit_spread=0.0),
    clip_retention=CLIP,
    tag_retention=TAG,
    post_release_survival=ALIVE,
    rounds=4,
    weighed=20,
)


def asked(**changed: Any) -> dict[str, Any]:
    """Return the tables of a plan file."""
    content: dict[str, Any] = {
        "lake": {"area_ha": 25, "threshold_kg_per_ha": 100},
        "guess": {"fish_per_ha": 80, "mean_weight_kg": 2.0, "share_a_pull": 0.02},
        "temperatures_c": {"june": 20.0},
        "season": {"first_day": dt.date(2027, 6, 15)},
        "candidates": {"marked": [100, 200], "nets": 4, "rounds": [4]},
        "target": {"right_and_firm": 0.8},
    }
    for table, entries in changed.items():
        content[table] = content.get(table, {}) | entries
    return content


@pytest.fixture(scope="module")
def records() -> Records:
    return simulate_records(WORLD, np.random.default_rng(5))[0]


def close_to(share: float, of: float) -> Any:
    """Return what a binomial share lies within, but for one time in 15,000."""
    return pytest.approx(share, abs=4.0 * np.sqrt(share * (1.0 - share) / of))


def test_a_pen_tells_of_survival_and_retention(records: Records) -> None:
    pen = records.marked.iloc[0]
    assert records.marked["mark"].tolist() == ["fin_clip", "both"]
    assert records.marked["released"].tolist() == [12_000, 8_000]
    assert records.marked["penned"].tolist() == [10_000, 0]
    assert pen["pen_alive"] / 10_000 == close_to(ALIVE, 10_000)
    assert pen["pen_marked"] / pen["pen_alive"] == close_to(CLIP, pen["pen_alive"])


def test_recaptures_tell_which_of_two_marks_are_left(records: Records) -> None:
    both = records.recaptures[records.recaptures["batch"].str.startswith("batch 2")]
    fish = both["count"].sum()
    seen = 1.0 - (1.0 - CLIP) * (1.0 - TAG)
    for clip, tag, chance in (
        (1, 1, CLIP * TAG),
        (1, 0, CLIP * (1 - TAG)),
        (0, 1, (1 - CLIP) * TAG),
    ):
        of_kind = both[(both["clip_seen"] == bool(clip)) & (both["tag_read"] == bool(tag))]
        assert of_kind["count"].sum() / fish == close_to(chance / seen, fish)
    # All marks on record are at large, whether they can be seen or not.
    recaptured = records.pulls["recaptured"].sum()
    assert records.pulls["marks_at_large"].iloc[0] == MARKED
    there = ALIVE * (12_000 * CLIP + 8_000 * seen)
    caught = records.pulls["caught"].sum()
    assert recaptured / caught == pytest.approx(there / LAKE.fish, rel=0.03)


def test_an_antenna_hears_tags_that_are_there_before_netting(records: Records) -> None:
    heard = records.detections
    assert len(records.tags) == 8_000
    assert set(heard["tag_id"]) <= set(records.tags["tag_id"])
    nights = heard["local"].dt.date
    first = WORLD.first_day
    assert nights.min() == first - dt.timedelta(days=7)
    assert nights.max() == first - dt.timedelta(days=2)
    there = TAG * ALIVE
    assert heard["tag_id"].nunique() / 8_000 == close_to(there * (1.0 - 0.6**6), 8_000)
    assert len(heard) / (8_000 * 6) == pytest.approx(there * 0.4, rel=0.03)
    # No fish is caught twice, and none without its tag has a number.
    read = records.recaptures[records.recaptures["tag_id"] != ""]
    assert read["tag_id"].is_unique
    assert read["tag_read"].all()
    assert read["count"].eq(1).all()


def test_another_gear_sees_the_marked_share_by_its_own_odds() -> None:
    world = replace(WORLD, survey_odds=1.5, antenna=None)
    run = simulate_records(world, np.random.default_rng(6))[0].surveys.iloc[0]
    marked = ALIVE * (12_000 * CLIP + 8_000 * (1.0 - (1.0 - CLIP) * (1.0 - TAG)))
    share = 1.5 * marked / (1.5 * marked + LAKE.fish - marked)
    assert run["examined"] == 5_000
    assert run["marked"] / 5_000 == close_to(share, 5_000)


def test_fish_die_and_arrive_while_nobody_catches_any() -> None:
    lake = replace(LAKE, area_fished_ha=1e-4)
    world = World((lake,), rounds=5, days_between=20.0, mortality=0.5, arriving=0.2, weighed=2)
    _, truth = simulate_records(world, np.random.default_rng(7))
    left = truth.set_index("quantity")["value"]["abundance_after"]
    # The rounds are on days 0, 3, 40, 43 and 80; those that arrive die, too.
    years = np.array([0, 3, 40, 43, 80]) / 365.25
    arrived = 0.2 * LAKE.fish * np.diff(years) / years[-1]
    expected = LAKE.fish * np.exp(-0.5 * years[-1])
    expected += (arrived * np.exp(-0.5 * (years[-1] - years[1:]))).sum()
    assert left == pytest.approx(expected, abs=4.0 * np.sqrt(LAKE.fish * 0.3))


def test_evidence_does_not_change_the_catches() -> None:
    """So that designs are compared by what they know, and not by their luck."""
    plan = parse_plan(
        asked(
            season={"mark": "pit_tag"},
            candidates={
                "marked": [100], "penned": [0, 50], "antenna_nights": [0, 10], "surveyed": [0, 300]
            },
        )
    )  # fmt: skip
    job = Job(plan, fishdown.SamplerSettings())
    campaigns = [job.campaign(3, place)[0] for place in range(len(plan.candidates))]
    assert len(campaigns) == 8
    for campaign in campaigns[1:]:
        for name in ("caught", "recaptured", "temperature"):
            xr.testing.assert_equal(campaign.pulls[name], campaigns[0].pulls[name])
    assert [c.surveys.sizes["run"] for c in campaigns] == [0, 1] * 4
    assert [int(c.antenna.sizes["history"] > 0) for c in campaigns] == [0, 0, 1, 1] * 2
    assert [c.batches["penned"].values[0] for c in campaigns] == [0.0] * 4 + [50.0] * 4


def test_records_are_such_as_a_crew_would_write_them(tmp_path: Path) -> None:
    """Written to files and read by the one reader, they are the same campaign."""
    plan = parse_plan(
        asked(
            candidates={
                "marked": [200], "double_marked": [80], "penned": [50], "antenna_nights": [10],
                "surveyed": [300],
            }
        )
    )  # fmt: skip
    world = draw_world(plan, plan.candidates[0], np.random.default_rng(8))
    simulated, _ = simulate_records(world, np.random.default_rng(9))
    (tmp_path / "campaign.toml").write_text(
        'title = "Simulated campaign"\nspecies = "common carp"\n', encoding="utf-8"
    )
    for name, fields in TABLES.items():
        frame: pd.DataFrame = getattr(simulated, name)
        if len(frame):
            written = frame[[column for column in fields if column in frame]].copy()
            for column, field in fields.items():
                if field.kind == "yes_no" and column in written:
                    written[column] = written[column].map({True: "yes", False: "no"})
                if field.kind == "time":
                    written[column] = written[column].dt.strftime("%Y-%m-%dT%H:%M:%SZ")
            written.to_csv(tmp_path / f"{name}.csv", index=False)
    read, known = fishdown.read(tmp_path), from_records(simulated)
    for name in ("seasons", "pulls", "fish", "surveys", "batches", "antenna"):
        xr.testing.assert_allclose(getattr(read, name), getattr(known, name))
    assert known.antenna["tags"].values.sum() == 80
    assert not [line for line in read.warnings if "tag" in line or "pen" in line]


def test_what_goes_wrong_is_drawn_anew_within_its_limits() -> None:
    plan = parse_plan(asked(candidates={"antenna_nights": [10]}, season={"mark": "pit_tag"}))
    worlds = [draw_world(plan, plan.candidates[0], np.random.default_rng(n)) for n in range(400)]
    for name, one in NUISANCES.items():
        drawn = np.array([getattr(world, name) for world in worlds])
        assert drawn.min() >= one.low
        assert drawn.max() <= one.high
        assert len(np.unique(drawn)) == 400
        if one.shape == "about one":
            # As often below as above, and seldom near the ends.
            assert np.mean(drawn < 1.0) == pytest.approx(0.5, abs=0.1)
            assert np.mean(np.abs(np.log(drawn)) > 0.75 * np.log(one.high)) < 0.12
        else:
            middle = 0.5 * (one.low + one.high)
            assert drawn.mean() == pytest.approx(
                middle, abs=4.0 * (one.high - one.low) / np.sqrt(4_800)
            )
    heard = [world.antenna.mean for world in worlds if world.antenna is not None]
    assert HEARD.low <= min(heard) < max(heard) <= HEARD.high
    shared = replace(plan, connected=True)
    arriving = [
        draw_world(shared, plan.candidates[0], np.random.default_rng(n)).arriving for n in range(50)
    ]
    assert 0.05 < max(arriving) <= ARRIVING_CONNECTED.high


def test_all_designs_meet_the_same_lake() -> None:
    plan = parse_plan(asked(candidates={"double_marked": [0, 50], "weighed": [60, 120]}))
    aside = {"marked": 0, "batches": (), "batch_sizes": (), "weighed": 0}
    worlds = [
        replace(draw_world(plan, design, np.random.default_rng(4)), **aside)
        for design in plan.candidates
    ]
    assert len(worlds) == 8
    assert all(world == worlds[0] for world in worlds)
    plain = replace(plan, worlds="plain")
    nothing_wrong = draw_world(plain, plan.candidates[0], np.random.default_rng(4))
    assert {getattr(nothing_wrong, name) for name in NUISANCES} == {0.0, 1.0}


def test_a_design_has_a_price_for_each_of_its_parts() -> None:
    prices = {
        "per_marked_fish": 15, "per_double_mark": 4, "per_penned_fish": 20, "per_antenna": 900,
        "per_antenna_night": 30, "per_survey": 1_200, "per_weighed_fish": 2, "per_net": 800,
        "per_pull": 120, "per_field_day": 600,
    }  # fmt: skip
    plan = parse_plan(asked(costs=prices))
    bare = 100 * 15 + 60 * 2 + 4 * 800 + 16 * 120 + 5 * 600
    assert plan.cost(plan.candidates[0]) == bare
    full = replace(
        plan.candidates[0], double_marked=40, penned=50, antenna_nights=10, surveyed=300, weighed=90
    )
    more = 40 * 4 + 50 * 20 + 900 + 10 * 30 + 1_200 + 30 * 2
    assert plan.cost(full) == bare + more


def designs(plan: Plan) -> list[tuple[int, int, int]]:
    return [(d.marked, d.double_marked, d.antenna_nights) for d in plan.candidates]


def test_only_combinations_that_can_be_are_designs() -> None:
    offered = {"marked": [50, 200], "double_marked": [0, 100], "antenna_nights": [0, 10]}
    assert designs(parse_plan(asked(candidates=offered))) == [
        (50, 0, 0), (200, 0, 0), (200, 100, 0), (200, 100, 10)
    ]  # fmt: skip
    tagged = parse_plan(asked(candidates=offered, season={"mark": "pit_tag"}))
    assert designs(tagged)[:2] == [(50, 0, 0), (50, 0, 10)]
    assert parse_plan(asked()).candidates[0] == Candidate(100, 4, 4)


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"season": {"weighed": 60}}, 'weighed = "60": now stands in [candidates]; move the line'),
        ({"candidates": {"antenna_nights": 30}}, "not from 0 to 20"),
        ({"candidates": {"antenna_nights": 10}}, "no combination of these can be simulated"),
        ({"candidates": {"double_marked": 300}}, "no combination of these can be simulated"),
        ({"simulation": {"worlds": "tidy"}}, "not one of messy, plain; write"),
        ({"season": {"mark": "both"}}, "not one of fin_clip, pit_tag"),
        ({"lake": {"connected": "yes"}}, "not true or false"),
        ({"costs": {"per_pen": 3}}, 'did you mean "per_net"?'),
    ],
)
def test_what_is_wrong_with_evidence_is_said(changed: dict[str, Any], said: str) -> None:
    with pytest.raises(PlanError) as caught:
        parse_plan(asked(**changed))
    assert said in str(caught.value)
    assert str(caught.value).startswith("1 problem in the plan")
