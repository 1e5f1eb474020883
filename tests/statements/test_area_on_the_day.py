"""Statements about a lake whose water fell while it was netted, beside the same fit without."""

from __future__ import annotations

from pathlib import Path

import pytest
from drawn_fits import drawn_fit, records

from fishdown import Fit
from fishdown.decisions.ahead import pulls_ahead
from fishdown.statements.comparison import DECREASE

# The lake of 10 ha (usually) has 12 ha at its first pull and 8 ha at its last.
AREAS = "date,lake,area_ha\n2024-06-10,Pond,12\n2024-07-30,Pond,8\n"


@pytest.fixture(scope="module")
def both(tmp_path_factory: pytest.TempPathFactory) -> tuple[Fit, Fit]:
    fits = []
    for name, areas in (("level", None), ("falls", AREAS)):
        folder = records(tmp_path_factory.mktemp("records") / name, ("Pond", "Mere"))
        settings = (folder / "campaign.toml").read_text("utf-8").replace("100.0", "20.0")
        (folder / "campaign.toml").write_text(settings, encoding="utf-8")
        if areas:
            (folder / "areas.csv").write_text(areas, encoding="utf-8")
        fits.append(drawn_fit(folder))
    return fits[0], fits[1]


def test_the_verdict_is_at_the_area_on_the_day_and_says_so(both: tuple[Fit, Fit]) -> None:
    level, falls = (fit.verdicts(despite_gate=True) for fit in both)
    assert level["area_ha"].tolist() == [10.0, 10.0, 17.5, 17.5]
    assert falls["area_ha"].tolist() == [12.0, 8.0, 17.5, 17.5]
    ratio = falls["biomass_median_kg_per_ha"] / level["biomass_median_kg_per_ha"]
    assert ratio.tolist() == pytest.approx([10 / 12, 10 / 8, 1.0, 1.0], rel=1e-12)
    assert "common carp at the lake's area of 12.0 ha on 2024-06-10 (90 %" in falls["statement"][0]
    assert "common carp at the lake's area of 8.00 ha on 2024-07-30 (90 %" in falls["statement"][1]
    assert falls["statement"][2:].tolist() == level["statement"][2:].tolist()
    assert "area" not in "".join(level["statement"])


def test_removals_keep_the_smaller_lake_below_the_threshold(both: tuple[Fit, Fit]) -> None:
    level, falls = (
        fit.removals(despite_gate=True).query("lake == 'Pond' and wanted_probability == 0.9")
        for fit in both
    )
    kg = both[0].quantities["abundance_after"] * both[0].quantities["mean_weight_left"]
    most = float(kg.isel(season=0).quantile(0.9))
    assert float(level["kg"].iloc[0]) == pytest.approx(most - 20.0 * 10.0, rel=1e-9)
    assert float(falls["kg"].iloc[0]) == pytest.approx(most - 20.0 * 8.0, rel=1e-9)
    assert most > 200.0


def test_water_that_falls_is_not_taken_for_netting(both: tuple[Fit, Fit]) -> None:
    _, falls = both
    row = falls.comparison(despite_gate=True).query(f"quantity == '{DECREASE}' and lake == 'Pond'")
    of = falls.quantities.isel(season=0)
    kg = (of["abundance_before"] * of["mean_weight"]) - (
        of["abundance_after"] * of["mean_weight_left"]
    )
    assert float(row["median"].iloc[0]) == pytest.approx(float(kg.median()) / 8.0, rel=1e-9)


def test_pulls_and_years_to_come_start_at_the_last_area(both: tuple[Fit, Fit]) -> None:
    _, falls = both
    found = pulls_ahead(falls, 3, lake="Pond", despite_gate=True)
    (ahead,) = found.lakes
    assert ahead.area == 8.0
    now = falls.verdicts(despite_gate=True)["biomass_median_kg_per_ha"][1]
    years = falls.years(1, despite_gate=True).frame.query("lake == 'Pond' and years_ahead == 0")
    there = "at the lake's area of 8.00 ha on 2024-07-30 (90 %"
    assert all(there in statement for statement in years["statement"])
    assert there in found.sentences()[0]
    assert years["biomass_median_kg_per_ha"].tolist() == pytest.approx([now] * len(years))


def test_fits_are_saved_with_their_areas(both: tuple[Fit, Fit], tmp_path: Path) -> None:
    import fishdown

    both[1].save(tmp_path / "fit")
    again = fishdown.load(tmp_path / "fit")
    assert again.campaign.seasons["area_after"].values.tolist() == [8.0, 17.5]
    assert again.spec.part("area") == "by_date"
