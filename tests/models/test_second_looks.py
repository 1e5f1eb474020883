"""Second looks: the density against SciPy and the two-catch formula, and what the graph has."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from field_records import daily_pulls
from graph_points import values_of_graph
from scipy import optimize, stats

import fishdown
from fishdown.calibration.crew_notes import draw_campaign
from fishdown.calibration.design import design_for
from fishdown.checks.effective_marks_alone import effective_marks
from fishdown.errors import ModelFileError
from fishdown.identifiability.codes import Identified
from fishdown.identifiability.seasons import what_is_identified
from fishdown.models.data import fitting_spec, model_data
from fishdown.models.parts.marks.pens import pens
from fishdown.models.parts.marks.release_groups import kinds_at_large
from fishdown.models.parts.marks.second_looks import SecondLooks, second_looks_log_density
from fishdown.models.spec import parse_model
from fishdown.records import read_records
from fishdown.sentences import Said

PULLS = [*daily_pulls("Alder", [40, 31, 25, 28, 22, 19], recaptured=[4, 2, 3, 2, 2, 1])]
MARKED = [{"date": "2024-05-01", "lake": "Alder", "batch": "A", "mark": "fin_clip", "released": 60}]
DAY = str(PULLS[0]["date"])


def looks(first: float, second_only: float) -> SecondLooks[Any]:
    return SecondLooks(np.array(float(first)), np.array(float(second_only)))


@pytest.fixture
def folder_with(folder_of):
    def make(*found: tuple[int, int], pulls=PULLS):
        rows = [
            {"date": DAY, "lake": "Alder", "examiner": f"E{number}", "found_first": first,
             "found_second": second}
            for number, (first, second) in enumerate(found)
        ]  # fmt: skip
        tables = {"second_looks": rows} if rows else {}
        lakes = [{"lake": "Alder", "area_ha": 12}]
        return folder_of(lakes=lakes, pulls=pulls, marked=MARKED, **tables)

    return make


@pytest.mark.parametrize("detection", [0.05, 0.6, 0.97])
@pytest.mark.parametrize(("first", "second"), [(0, 3), (17, 0), (40, 6)])
def test_the_density_is_scipy_s_binomial(detection, first, second) -> None:
    found = second_looks_log_density(looks(first, second), detection)
    chance = (1.0 - detection) / (2.0 - detection)
    expected = stats.binom.logpmf(second, first + second, chance)
    assert found == pytest.approx(expected, rel=1e-9)
    assert np.isfinite(second_looks_log_density(looks(first, second), 1.0))


def test_of_two_independent_looks_by_enumeration() -> None:
    """Each look finds the fish or not; of the four outcomes three are on record."""
    d = 0.83
    both, one, other = d * d, d * (1.0 - d), (1.0 - d) * d
    second_only = other / (both + one + other)
    # Of one fish found at all.
    assert np.exp(second_looks_log_density(looks(0, 1), d)) == pytest.approx(second_only)


@pytest.mark.parametrize(("first", "second"), [(50, 10), (33, 2), (120, 45)])
def test_its_maximum_is_the_two_catch_estimate(first, second) -> None:
    """Seber and Le Cren 1967 (from memory): 1 − second/first, and first²/(first − second) fish."""
    best = optimize.minimize_scalar(
        lambda d: -float(second_looks_log_density(looks(first, second), d)),
        bounds=(1e-6, 1.0 - 1e-6),
        method="bounded",
        options={"xatol": 1e-9},
    ).x
    assert best == pytest.approx(1.0 - second / first, abs=1e-5)
    # As two passes of one gear over one place: of all marked fish the first found a share d.
    marked = first**2 / (first - second)
    assert first / marked == pytest.approx(best, abs=1e-5)


def test_the_graph_has_it(folder_with) -> None:
    campaign = fishdown.read(folder_with((3, 1)))
    spec, _ = fitting_spec(campaign, fishdown.read_model("one_lake"))
    assert spec.part("second_looks") == "taken"
    posterior, potentials = values_of_graph(campaign, spec)
    at = posterior.isel(chain=0)
    expected = second_looks_log_density(looks(3, 1), at["mark_detection"].values)
    assert potentials["second_looks"] == pytest.approx(expected, rel=1e-9)
    wait = model_data(campaign, spec).times.marked_years[0]
    factors = ("clip_retention", "mark_detection", "post_release_survival", "capture_odds_ratio")
    product = np.prod([at[name].values.ravel() for name in factors], axis=0)
    product = product * np.exp(-at["natural_mortality"].values * wait)
    assert at["effective_marks"].values.ravel() == pytest.approx(product, rel=1e-9)


def test_what_both_looks_missed_shows_nowhere() -> None:
    """Of fish that no look can find, d knows nothing: looks that are not independent."""
    visible, hidden, d = 900, 100, 0.8
    first, second = d * visible, d * (1.0 - d) * visible
    told = 1.0 - second / first
    assert told == pytest.approx(d)
    assert told > d * visible / (visible + hidden)


def test_marks_only_hears_of_them(folder_with) -> None:
    campaign = fishdown.read(folder_with((4, 1)))
    spec, _ = fitting_spec(campaign, fishdown.read_model("one_lake"))
    kinds, kept = kinds_at_large(campaign)[0], pens(campaign)
    without = spec.with_parts(second_looks="none")
    usual = np.median(np.prod(effective_marks(kinds, kept, without, 0.1), axis=0))
    for first, second, share in ((4_000, 0, 1.0), (4_000, 1_000, 0.75), (4_000, 2_000, 0.5)):
        found = effective_marks(kinds, kept, spec, 0.1, None, looks(first, second))
        assert np.median(np.prod(found, axis=0)) == pytest.approx(share * usual, rel=0.03)


def test_left_out_where_nobody_looked_twice(folder_with) -> None:
    for found in ((), ((0, 0),)):
        campaign = fishdown.read(folder_with(*found))
        spec, notes = fitting_spec(campaign, fishdown.read_model("one_lake"))
        assert spec.part("second_looks") == "none"
        assert model_data(campaign, spec).second_looks is None
        assert not any("look" in note for note in notes)
    campaign = fishdown.read(folder_with((3, 1)))
    spec, _ = fitting_spec(campaign, fishdown.read_model("one_lake"))
    assert model_data(campaign, spec.with_parts(evidence="depletion")).second_looks is None


def test_it_goes_with_effective_marks_only() -> None:
    text = fishdown.read_model("one_lake").text.replace(
        'marks = "effective"', 'marks = "all_count"'
    )
    for part, choice in (("antenna", "heard"), ("surveys", "second_gear")):
        text = text.replace(f'{part} = "{choice}"', f'{part} = "none"')
    with pytest.raises(ModelFileError, match='second_looks = "taken" is about effective marks'):
        parse_model(text, "mine")


def test_check_tells_of_them(folder_with) -> None:
    alder, *_ = what_is_identified(read_records(folder_with((2, 1), (1, 0))))
    assert Said(Identified.SECOND_LOOKS, {"fish": 4, "second": 1}) in alder.identified


def test_simulated_looks_are_those_of_the_detection() -> None:
    """Written anew for calibrations, look by look."""
    spec = fishdown.read_model("one_lake")
    design = replace(design_for(spec), looked_twice=400)
    template = design.template()
    fed, _ = fitting_spec(template, spec)
    assert fed.part("second_looks") == "taken"
    off = []
    rng = np.random.default_rng(8)
    for _ in range(6):
        campaign, truth, _ = draw_campaign(fed, design, template, rng)
        first, second = (
            float(campaign.seasons[name].values.sum()) for name in ("found_first", "found_second")
        )
        assert first + second == 400
        missed = 1.0 - truth.values["mark_detection"][0]
        chance = missed / (1.0 + missed)
        off.append((second - 400 * chance) / np.sqrt(400 * chance * (1.0 - chance)))
    assert np.abs(off).max() < 4.0
    assert stats.kstest(off, "norm").pvalue > 1e-4


def test_invented_crews_overlook_marks_and_look_twice() -> None:
    """Fish by fish: what two looks find tells how many one look finds."""
    from fishdown.worlds.simulation import simulate_records
    from fishdown.worlds.truth import LakeTruth, World

    lake = LakeTruth("Pond", area_ha=10.0, fish=4_000, area_fished_ha=0.4)
    plain = World(lakes=(lake,), marked=1_500, rounds=8)
    rng = np.random.default_rng
    every, _ = simulate_records(plain, rng(4))
    records, _ = simulate_records(replace(plain, mark_detection=0.8, looked_twice=16), rng(4))
    assert every.second_looks.empty
    looks = records.second_looks
    assert len(looks) == 16
    first, second = looks["found_first"].sum(), looks["found_second"].sum()
    low, high = stats.binom.ppf([1e-4, 1.0 - 1e-4], first + second, 0.2 / 1.2)
    assert low <= second <= high
    # The nets take the same fish; the first looks find four in five of the marks.
    assert records.pulls["caught"].tolist() == every.pulls["caught"].tolist()
    found, there = records.pulls["recaptured"].sum(), every.pulls["recaptured"].sum()
    low, high = stats.binom.ppf([1e-4, 1.0 - 1e-4], there, 0.8)
    assert low <= found <= high
