"""Tags heard alive: histories from records by hand, and their density against SciPy's."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
import xarray as xr
from field_records import daily_pulls
from graph_points import values_of_graph
from scipy import integrate, stats

import fishdown
from fishdown.checks.effective_marks_alone import effective_marks
from fishdown.errors import ModelFileError
from fishdown.identifiability.codes import Identified, Remark
from fishdown.identifiability.seasons import what_is_identified
from fishdown.models.data import fitting_spec, model_data
from fishdown.models.parts.marks.heard import (
    beta_binomial,
    heard_log_density,
    heard_tags,
    log_density_between,
)
from fishdown.models.parts.marks.pens import pens
from fishdown.models.parts.marks.release_groups import kinds_at_large
from fishdown.models.spec import parse_model
from fishdown.records import read_records
from fishdown.sentences import Said

PRIORS = fishdown.read_model("one_lake").priors
SHARES = (0.35, 0.7, 0.93, 0.99)


def histories(*rows: tuple[int, int, int, int, int]) -> xr.Dataset:
    """Return histories: season, nights listened, nights heard, still there, tags."""
    names = ("season_index", "nights_listened", "nights_heard", "still_there", "tags")
    return xr.Dataset(
        {name: ("history", np.array(rows)[:, place]) for place, name in enumerate(names)}
    )


class Antenna:
    """A campaign as far as its antenna goes."""

    def __init__(self, *rows: tuple[int, int, int, int, int]) -> None:
        self.antenna = histories(*rows)


def expected(rows: list[tuple[int, int, int, int, int]], share: float) -> float:
    """Integrate one season's likelihood with SciPy's densities, on a dense and even grid."""
    all_tags = sum(row[4] for row in rows)
    caught = sum(row[4] for row in rows if row[3] == 1)
    left = (share - caught / all_tags) / (1 - caught / all_tags)
    grids = [np.linspace(-12, 9, 421), np.linspace(-8, 4, 241)]
    (mean, unlike), log_density = np.meshgrid(*grids, indexing="ij"), np.zeros((421, 241))
    for name, logits in zip(NAMES, (mean, unlike), strict=True):
        median, sd = PRIORS[name].numbers
        log_density += stats.norm.logpdf(logits, np.log(median / (1 - median)), sd)
    mean, unlike = 1 / (1 + np.exp(-mean)), 1 / (1 + np.exp(-unlike))
    a, b = mean * (1 / unlike - 1), (1 - mean) * (1 / unlike - 1)
    for _, nights, heard, there, tags in rows:
        if there == -1:
            log_density += tags * np.log(1 - left)
            continue
        chance = stats.betabinom.pmf(heard, nights, a, b)
        if there == 0:
            chance = left * chance + (1 - left) * (heard == 0)
        log_density += tags * np.log(chance)
    top = log_density.max()
    inner = integrate.trapezoid(np.exp(log_density - top), grids[1], axis=1)
    return float(top + np.log(integrate.trapezoid(inner, grids[0])))


NAMES = ("heard_per_night", "heard_unlike")
CASES = {
    "one night": [(0, 1, 1, 0, 4), (0, 1, 0, 0, 3)],
    "some nights": [(0, 6, 0, 0, 5), (0, 6, 2, 0, 6), (0, 6, 5, 0, 2), (0, 4, 1, 0, 1)],
    "caught and lying": [(0, 5, 0, 0, 4), (0, 5, 3, 0, 5), (0, 2, 1, 1, 2), (0, 3, 0, 1, 1),
                         (0, 0, 0, -1, 1)],
    "never heard": [(0, 5, 0, 0, 9)],
    "all heard": [(0, 9, 7, 0, 12)],
}  # fmt: skip


@pytest.mark.parametrize("share", SHARES)
@pytest.mark.parametrize("case", CASES)
def test_the_density_is_the_integral_of_beta_binomials(case: str, share: float) -> None:
    heard = heard_tags(Antenna(*CASES[case]), PRIORS)  # type: ignore[arg-type]
    assert heard_log_density(heard, share) == pytest.approx(expected(CASES[case], share), abs=2e-4)


def test_probabilities_of_all_nights_sum_to_one() -> None:
    nights = np.arange(8.0)
    for mean, unlike in ((0.02, 0.4), (0.5, 0.05), (0.97, 0.9)):
        found = beta_binomial(nights, 7.0, mean, unlike)
        total = 1 / unlike - 1
        by_scipy = stats.betabinom.logpmf(nights, 7, mean * total, (1 - mean) * total)
        assert found == pytest.approx(by_scipy, abs=1e-9)
        assert np.exp(found).sum() == pytest.approx(1)


def test_seasons_are_integrated_one_by_one() -> None:
    """Antennas of two lakes need not hear alike."""
    one, other = CASES["some nights"], CASES["caught and lying"]
    both = [*one, *[(1, *row[1:]) for row in other]]
    found = heard_log_density(heard_tags(Antenna(*both), PRIORS), 0.8)  # type: ignore[arg-type]
    assert found == pytest.approx(expected(one, 0.8) + expected(other, 0.8), abs=4e-4)


def test_many_tags_on_many_nights_need_no_finer_nodes() -> None:
    """The density is narrow in the chance to be heard; against four times as many nodes."""
    rng = np.random.default_rng(20267)
    heard_on = rng.binomial(60, rng.beta(2.0, 3.0, 400))
    rows = [(0, 60, int(nights), 0, int(tags)) for nights, tags in
            zip(*np.unique(heard_on, return_counts=True), strict=True)]  # fmt: skip
    campaign: Any = Antenna(*rows, (0, 60, 0, 0, 100))
    found = [heard_log_density(heard_tags(campaign, PRIORS), share) for share in SHARES]
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("fishdown.models.parts.marks.heard.NODES", (101, 51))
        finer = [heard_log_density(heard_tags(campaign, PRIORS), share) for share in SHARES]
    assert found == pytest.approx(finer, abs=1e-3)


def test_hearing_most_tags_often_says_that_the_others_are_gone() -> None:
    """Sixty of a hundred tags heard on nearly every night: about sixty are there."""
    heard = heard_tags(Antenna((0, 20, 18, 0, 60), (0, 20, 0, 0, 40)), PRIORS)  # type: ignore[arg-type]
    shares = np.linspace(0.3, 0.99, 139)
    density = log_density_between(heard, shares.min(), shares.max())(shares)
    assert shares[density.argmax()] == pytest.approx(0.6, abs=0.03)
    # Each heard on one night of twenty: the forty may well be there.
    seldom = heard_tags(Antenna((0, 20, 1, 0, 30), (0, 20, 0, 0, 40)), PRIORS)  # type: ignore[arg-type]
    density = log_density_between(seldom, shares.min(), shares.max())(shares)
    assert density[shares > 0.9].max() > density.max() - 1.0


def test_interpolation_is_close_enough() -> None:
    heard = heard_tags(Antenna(*CASES["some nights"]), PRIORS)  # type: ignore[arg-type]
    shares = np.random.default_rng(20268).uniform(0.3, 0.999, 50)
    exact = [heard_log_density(heard, share) for share in shares]
    found = log_density_between(heard, shares.min(), shares.max())(shares)
    assert found == pytest.approx(exact, abs=1e-3)


CATCHES, SEEN = [40, 31, 25, 9, 12, 30], [4, 2, 3, 0, 1, 5]


def folder(folder_of: Callable[..., Path], nights: dict[str, str], **more: Any) -> Path:
    """Write 30 tagged fish of 1 May, pulls from 1 June on, and reads at 22:00 of these nights."""
    tags = [f"T{number:02}" for number in range(30)]
    reads = [
        {"time": f"2024-{night}T22:00:00Z", "lake": "Alder", "net": "A", "tag_id": tag}
        for tag, days in nights.items()
        for night in days.split()
    ]
    tables: dict[str, Any] = {
        "lakes": [{"lake": "Alder", "area_ha": 20}],
        "pulls": daily_pulls("Alder", CATCHES, start="2024-06-01"),
        "marked": [
            {"date": "2024-05-01", "lake": "Alder", "batch": "A", "mark": "pit_tag", "released": 30}
        ],
        "tags": [{"lake": "Alder", "batch": "A", "tag_id": tag} for tag in tags],
        "recaptures": [
            {"date": f"2024-06-{day:02}", "lake": "Alder", "net": "A", "tag_id": f"T{30 - day}"}
            for day in (1, 2, 3)
        ],
        "detections": reads,
    }  # fmt: skip
    return folder_of(**{name: rows for name, rows in (tables | more).items() if rows is not None})


def rows_of(antenna: xr.Dataset) -> set[tuple[int, ...]]:
    frame = antenna.to_dataframe()
    names = ["nights_listened", "nights_heard", "still_there", "tags"]
    return set(frame[names].itertuples(index=False, name=None))


HEARD = {"T00": "05-03 05-10 05-30 06-02", "T01": "05-20", "T29": "05-30 05-31", "T02": "06-20"}


def test_histories_from_records(folder_of: Callable[..., Path]) -> None:
    """Nights 10, 20, 30 and 31 May and 2 June count; 3 May is too early, 20 June too late."""
    campaign = fishdown.read(folder(folder_of, HEARD))
    assert rows_of(campaign.antenna) == {
        # T00 on three nights, T01 on one, 25 others on none.
        (5, 3, 0, 1), (5, 1, 0, 1), (5, 0, 0, 25),
        # T29 was caught on 1 June: 30 May is its last night; T28 on the 2nd, T27 on the 3rd.
        (3, 1, 1, 1), (4, 0, 1, 2),
    }  # fmt: skip


def test_marks_removed_without_a_number_end_the_nights(folder_of: Callable[..., Path]) -> None:
    taken = [{"date": "2024-06-01", "lake": "Alder", "net": "A", "count": 3}]
    campaign = fishdown.read(folder(folder_of, HEARD, recaptures=taken))
    # To 30 May, the night before the one before the catch; nobody knows who is gone.
    assert rows_of(campaign.antenna) == {
        (3, 2, 0, 1), (3, 1, 0, 2), (3, 0, 0, 27),
    }  # fmt: skip


@pytest.mark.parametrize("seen", [None, [0, 4, 0, 0, 0, 0]])
def test_marks_counted_in_the_table_of_pulls(
    folder_of: Callable[..., Path], seen: list[int] | None
) -> None:
    """Without counts no catch was examined, and each is taken to hold its share of marks."""
    pulls = daily_pulls(
        "Alder", CATCHES, start="2024-06-01", **({"recaptured": seen} if seen else {})
    )
    campaign = fishdown.read(folder(folder_of, HEARD, recaptures=None, pulls=pulls))
    listened = campaign.antenna["nights_listened"].values.max()
    # To 31 May if the catch of 2 June held marks; else nothing was seen to be removed.
    assert listened == (4 if seen else 5)
    assert not campaign.antenna["still_there"].values.any()


def test_a_tag_beside_the_antenna_is_no_living_fish(folder_of: Callable[..., Path]) -> None:
    start = pd.Timestamp("2024-05-12T12:00")
    table = folder(folder_of, HEARD)
    with (table / "detections.csv").open("a") as file:
        for minute in range(0, 60 * 30, 9):
            file.write(f"{start + pd.Timedelta(minutes=minute)}Z,Alder,A,T05\n")
    campaign = fishdown.read(table)
    assert (0, 0, -1, 1) in rows_of(campaign.antenna)


@pytest.mark.parametrize("gone", ["tags", "detections"])
def test_without_tags_or_reads_there_are_none(folder_of: Callable[..., Path], gone: str) -> None:
    table = folder(folder_of, HEARD)
    (table / f"{gone}.csv").unlink()
    campaign = fishdown.read(table)
    assert campaign.antenna.sizes["history"] == 0
    spec, _ = fitting_spec(campaign, fishdown.read_model("one_lake"))
    assert (spec.part("antenna"), model_data(campaign, spec).heard) == ("none", None)


def test_the_graph_has_the_density(folder_of: Callable[..., Path]) -> None:
    campaign = fishdown.read(folder(folder_of, HEARD))
    spec, _ = fitting_spec(campaign, fishdown.read_model("one_lake"))
    posterior, potentials = values_of_graph(campaign, spec)
    # Some die of natural causes in the 31 days from marking to the first pull.
    alive = np.exp(-posterior["natural_mortality"] * 31 / 365.25)
    there = posterior["tag_retention"] * posterior["post_release_survival"] * alive
    there = there.isel(chain=0, lake=0).values
    heard = model_data(campaign, spec).heard
    assert heard is not None
    expected = [heard_log_density(heard, share) for share in there]
    assert potentials["heard_tags"] == pytest.approx(expected, rel=1e-9)


def test_marks_only_hears_of_them(folder_of: Callable[..., Path]) -> None:
    """Half of the tags heard on every night, the others never."""
    nights = " ".join(f"05-{day}" for day in range(10, 31))
    heard = {f"T{number:02}": nights for number in range(15)}
    campaign = fishdown.read(folder(folder_of, heard, recaptures=[
        {"date": "2024-06-01", "lake": "Alder", "net": "A", "count": 1}
    ]))  # fmt: skip
    spec, _ = fitting_spec(campaign, fishdown.read_model("one_lake"))
    kinds, kept = kinds_at_large(campaign)[0], pens(campaign)
    heard_there = model_data(campaign, spec).heard
    assert heard_there is not None
    of_heard = log_density_between(heard_there, 1e-6, 1.0 - 1e-6)
    told = np.median(np.prod(effective_marks(kinds, kept, spec, 0.1, of_heard), axis=0))
    untold = np.median(np.prod(effective_marks(kinds, kept, spec, 0.1), axis=0))
    assert told < 0.8 * untold


def test_a_saved_campaign_has_them(folder_of: Callable[..., Path]) -> None:
    campaign = fishdown.read(folder(folder_of, HEARD))
    assert fishdown.Campaign.from_tree(campaign.to_tree()) == campaign
    assert campaign.netted.antenna.equals(campaign.antenna)


def test_check_tells_of_them(folder_of: Callable[..., Path]) -> None:
    table = folder(folder_of, HEARD)
    alder, *_ = what_is_identified(read_records(table))
    assert Said(Identified.HEARD, {"heard": 3, "tags": 30, "nights": 5}) in alder.identified
    (table / "tags.csv").unlink()
    alder, *_ = what_is_identified(read_records(table))
    assert Said(Remark.NOT_HEARD) in alder.remarks


def test_it_goes_with_effective_marks_only() -> None:
    text = fishdown.read_model("one_lake").text.replace(
        'marks = "effective"', 'marks = "all_count"'
    )
    with pytest.raises(ModelFileError, match='write marks = "effective", or'):
        parse_model(text, "mine")
