"""Marks in doubt: the assembled graph against densities written out by hand with SciPy."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from field_records import daily_pulls
from graph_points import walk_to
from scipy import stats

import fishdown
from fishdown.models.data import fitting_spec, model_data
from fishdown.models.parts.marks.release_groups import groups_of_season
from fishdown.models.parts.marks.thinning import thinning_mass

CATCHES = [40, 31, 25, 30, 22]
CLIPS, DOUBLE = [4, 0, 3, 1, 0], [1, 2, 1, 0, 2]
PLAIN = {"pooling": "none", "temperature": "none", "weights": "none", "catch": "chance"}


@pytest.fixture
def campaign(folder_of: Callable[..., Path]) -> Callable[..., fishdown.Campaign]:
    def read(*, told: bool = True, **more: Any) -> fishdown.Campaign:
        sightings = []
        for day, (clips, double) in enumerate(zip(CLIPS, DOUBLE, strict=True), 1):
            at = {"date": f"2024-06-{day:02d}", "lake": "Alder", "net": "A", "clip_seen": ""}
            fish = {**at, "tag_read": "", "count": 1}
            sightings += [{**fish, "batch": "clips" if told else "", "count": clips}]
            sightings += [
                {**fish, "batch": "double", "clip_seen": "yes", "tag_read": "no" if k else "yes"}
                for k in range(double)
            ]
        tables: dict[str, Any] = {
            "lakes": [{"lake": "Alder", "area_ha": 20}],
            "pulls": daily_pulls("Alder", CATCHES),
            "marked": [
                {"date": "2024-05-01", "lake": "Alder", "batch": batch, "mark": mark,
                 "released": number}
                for batch, mark, number in (("clips", "fin_clip", 50), ("double", "both", 40))
            ],
            "recaptures": sightings,
        }  # fmt: skip
        return fishdown.read(folder_of(**tables | more))

    return read


def compiled(
    campaign: fishdown.Campaign, name: str, **parts: str
) -> tuple[Callable[[dict[str, Any]], float], set[str]]:
    """Return the log-density as a function of natural values, and the names of these."""
    from fishdown.models.graph import build

    spec, _ = fitting_spec(campaign, fishdown.read_model(name).with_parts(**PLAIN | parts))
    model = build(spec, model_data(campaign, spec), campaign.coords)
    log_density = model.compile_logp(jacobian=False)

    def at(natural: dict[str, Any]) -> float:
        point = {}
        for variable in model.free_RVs:
            value = np.asarray(natural[variable.name], float)
            transform = model.rvs_to_transforms[variable]
            if transform is not None:
                value = transform.forward(value, *variable.owner.inputs).eval()
            point[model.rvs_to_values[variable].name] = value
        return float(log_density(point))

    return at, {variable.name for variable in model.free_RVs}


def priors_and_catches(N: float, unmarked: float, bound: float, fished: float) -> float:
    """Log-density of abundance and area fished, with their moves, and of catches by chance."""
    gone = np.cumsum([0, *CATCHES[:-1]])
    catch = fished / 20.0 * (N - gone.mean())
    room = unmarked - bound + 0.5
    total = stats.lognorm(1.5, scale=60.0 * 20).logpdf(N) + np.log(room)
    total += stats.lognorm(1.2).logpdf(fished) + np.log(fished / catch)
    return float(total + stats.binom.logpmf(CATCHES, N - gone, -np.expm1(-fished / 20.0)).sum())


def clumped(R: int, C: int, M: int, U: int, s: float) -> float:
    """Log-probability of R marked fish of M in a catch of C, by enumeration."""
    p, r = C / (U + M + 1), np.arange(min(C, M) + 1)
    a, b = (1 - p) / s**2, (1 - p) ** 2 / (p * s**2)
    weight = stats.betabinom.pmf(r, M, a, b) * stats.binom.pmf(C - r, U, p)
    return float(np.log(weight[R] / weight.sum()))


@pytest.mark.parametrize("recaptures", ["random", "clumped"])
def test_batches_apart_with_shed_marks_and_deaths(
    campaign: Callable[..., fishdown.Campaign], recaptures: str
) -> None:
    """Each batch has its own share, and its own chance by its kind of mark."""
    at, names = compiled(campaign(), "careful_marks", recaptures=recaptures)
    unmarked, shares, released = 800.0, np.array([0.8, 0.9]), np.array([50, 40])
    clip, tag, survival, fished = 0.85, 0.7, 0.93, 1.3
    seen = np.array([CLIPS, DOUBLE])
    # From half a fish below those seen again to half a fish above all.
    lowest, width = (seen.sum(axis=1) - 0.5) / released, 1.0 + (1.0 - seen.sum(axis=1)) / released
    above = (shares - lowest) / width
    chance = survival * np.array([clip, clip + tag - clip * tag])
    step, log_slope = walk_to(above, released * width, released * (1 - chance))
    bound = sum(CATCHES) - seen.sum()
    N = unmarked + float(shares @ released)
    gone = np.cumsum([0, *CATCHES[:-1]])
    natural = {
        "log_room": np.log([(unmarked - bound + 0.5) * released.sum() / (shares @ released)]),
        "share_step": step,
        "clip_retention": clip,
        "tag_retention": tag,
        "post_release_survival": survival,
        "typical_catch": np.array([fished / 20.0 * (N - gone.mean())]),
    }
    expected = priors_and_catches(N, unmarked, bound, fished)
    if recaptures == "clumped":
        natural["clumping"] = 0.6
        expected += stats.lognorm(0.7, scale=0.3).logpdf(0.6)
    assert names == set(natural)
    for share, median, sd in ((clip, 0.97, 1.2), (tag, 0.98, 1.2), (survival, 0.97, 0.9)):
        kept = stats.johnsonsb(-np.log(median / (1 - median)) / sd, 1.0 / sd)
        expected += kept.logpdf(share)
    expected += stats.binom.logpmf((shares * released).round(), released, chance).sum()
    expected -= np.log(thinning_mass(released.astype(float), chance)).sum()
    expected += (np.log(width) + log_slope).sum()
    groups = np.array([round(unmarked), *(shares * released).round()]).astype(int)
    for C, clips, double in zip(CATCHES, CLIPS, DOUBLE, strict=True):
        taken = np.array([C - clips - double, clips, double])
        if recaptures == "random":
            expected += stats.multivariate_hypergeom.logpmf(taken, groups, C)
        else:
            # How many marked fish, and given that, of which batch.
            expected += clumped(clips + double, C, groups[1:].sum(), groups[0], 0.6)
            expected += stats.multivariate_hypergeom.logpmf(taken[1:], groups[1:], taken[1:].sum())
        groups = groups - taken
    # Of the six fish of two marks, the first of each day had both; the others had lost the tag.
    expected += stats.multinomial.logpmf(
        [4, 2, 0],
        6,
        np.array([clip * tag, clip * (1 - tag), (1 - clip) * tag]) / chance[1] * survival,
    )
    assert at(natural) == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize("name", ["shy_marks", "careful_marks"])
@pytest.mark.parametrize("evidence", ["both", "marks"])
def test_recaptures_that_are_not_at_random(
    campaign: Callable[..., fishdown.Campaign], name: str, evidence: str
) -> None:
    parts = {
        "marks": "all_count",
        "deaths": "recorded",
        "batches": "together",
        "evidence": evidence,
    }
    at, names = compiled(campaign(), name, **parts)
    N, fished, departure = 900.0, 1.3, 1.4 if name == "shy_marks" else 0.6
    gone = np.cumsum([0, *CATCHES[:-1]])
    seen = np.add(CLIPS, DOUBLE)
    unmarked, bound = N - 90, sum(CATCHES) - seen.sum()
    natural: dict[str, Any] = {"log_room": np.log([unmarked - bound + 0.5])}
    if evidence == "both":
        natural["typical_catch"] = np.array([fished / 20.0 * (N - gone.mean())])
        expected = priors_and_catches(N, unmarked, bound, fished)
    else:
        expected = stats.lognorm(1.5, scale=60.0 * 20).logpdf(N) + np.log(unmarked - bound + 0.5)
    marks = 90 - np.cumsum([0, *seen[:-1]])
    if name == "shy_marks":
        natural["capture_odds_ratio"] = np.array([departure])
        # One lake by itself has the deviations of typical lakes and between lakes together.
        expected += stats.lognorm(np.hypot(0.3, 0.15 * np.exp(0.25))).logpdf(departure)
        for C, R, M, left in zip(CATCHES, seen, marks, N - gone, strict=True):
            expected += np.log(stats.nchypergeom_fisher.pmf(R, int(left), M, C, departure))
    else:
        natural["clumping"] = departure
        expected += stats.lognorm(0.7, scale=0.3).logpdf(departure)
        for C, R, M, left in zip(CATCHES, seen, marks, N - gone, strict=True):
            expected += clumped(R, C, M, int(left) - M, departure)
    assert names == set(natural)
    assert at(natural) == pytest.approx(expected, rel=1e-8)


def test_all_fish_of_a_batch_seen_again(campaign: Callable[..., fishdown.Campaign]) -> None:
    """Its share is then all of them, to half a fish, and the sampler has somewhere to walk."""
    marked = [
        {"date": "2024-05-01", "lake": "Alder", "batch": batch, "mark": mark, "released": number}
        for batch, mark, number in (("clips", "fin_clip", 50), ("double", "both", sum(DOUBLE)))
    ]
    at, _ = compiled(campaign(marked=marked), "careful_marks", recaptures="random")
    natural = {
        "log_room": np.log([500.0]),
        "share_step": np.zeros(2),
        "clip_retention": 0.9,
        "tag_retention": 0.8,
        "post_release_survival": 0.9,
        "typical_catch": np.array([40.0]),
    }
    assert np.isfinite(at(natural))


def test_a_season_that_does_not_tell_its_batches_apart_has_one_pool(
    campaign: Callable[..., fishdown.Campaign],
) -> None:
    apart = groups_of_season(campaign(), 0, apart=True)
    assert apart.recaptured.tolist() == [CLIPS, DOUBLE]
    assert apart.left.tolist() == [50 - sum(CLIPS), 40 - sum(DOUBLE)]
    assert apart.kinds.tolist() == [[1, 0, 0], [0, 0, 1]]
    untold = groups_of_season(campaign(told=False), 0, apart=True)
    assert untold.recaptured.tolist() == [np.add(CLIPS, DOUBLE).tolist()]
    np.testing.assert_allclose(untold.kinds, [[50 / 90, 0, 40 / 90]])


def test_parts_that_the_records_cannot_feed(
    campaign: Callable[..., fishdown.Campaign], folder_of: Callable[..., Path]
) -> None:
    careful = fishdown.read_model("careful_marks")
    marks = ("marks", "deaths", "batches", "recaptures")
    spec, notes = fitting_spec(campaign(), careful)
    assert [spec.part(part) for part in marks] == ["shed", "unseen", "apart", "clumped"]
    assert not any("marks" in note or "tags" in note for note in notes)
    spec, notes = fitting_spec(campaign(told=False), careful)
    assert [spec.part(part) for part in marks] == ["shed", "unseen", "together", "clumped"]
    assert "no recaptures assigned to each of several batches: batches are not separated" in notes


def test_without_marks_nothing_is_in_doubt(folder_of: Callable[..., Path]) -> None:
    campaign = fishdown.read(
        folder_of(lakes=[{"lake": "Alder", "area_ha": 20}], pulls=daily_pulls("Alder", CATCHES))
    )
    spec, notes = fitting_spec(campaign, fishdown.read_model("careful_marks"))
    assert spec.part("marks") == "all_count"
    assert "clip_retention" not in spec.priors
    assert not any("marks" in note for note in notes)


def test_marks_that_nobody_looked_for_are_not_in_doubt(folder_of: Callable[..., Path]) -> None:
    marking = {"date": "2024-05-01", "lake": "Alder", "batch": "b", "mark": "fin_clip"}
    campaign = fishdown.read(
        folder_of(
            lakes=[{"lake": "Alder", "area_ha": 20}],
            pulls=daily_pulls("Alder", CATCHES, recaptured=[""] * len(CATCHES)),
            marked=[{**marking, "released": 50}],
        )
    )
    spec, notes = fitting_spec(campaign, fishdown.read_model("careful_marks"))
    assert spec.part("marks") == "all_count"
    assert "no catch was examined for marks: all marks are taken to count" in notes


def test_few_looks_and_no_fish_of_two_marks(folder_of: Callable[..., Path]) -> None:
    campaign = fishdown.read(
        folder_of(
            lakes=[{"lake": "Alder", "area_ha": 20}],
            pulls=daily_pulls("Alder", CATCHES[:3], recaptured=[4, 2, 3]),
            marked=[
                {"date": "2024-05-01", "lake": "Alder", "batch": "b", "mark": "fin_clip",
                 "released": 50}
            ],
        )
    )  # fmt: skip
    _, notes = fitting_spec(campaign, fishdown.read_model("careful_marks"))
    assert "fewer than 5 catches examined for marks: recaptures taken as random" in notes
    assert any(
        note.startswith("no double-marked fish was checked for both marks") for note in notes
    )
