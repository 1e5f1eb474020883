"""What told us so: amounts are those of the files, shares those of SciPy's exact interval."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from drawn_fits import drawn_fit, records
from scipy import stats

from fishdown import Fit
from fishdown.demo import demo_folder
from fishdown.models.parts.marks.heard import heard_log_density
from fishdown.statements.sources import COLUMNS, Kind


@pytest.fixture(scope="module")
def fit() -> Fit:
    return drawn_fit(demo_folder() / "watershed")


def file(name: str, lake: str) -> pd.DataFrame:
    table = pd.read_csv(demo_folder() / "watershed" / f"{name}.csv")
    return table[table["lake"] == lake]


def row(fit: Fit, lake: str, kind: Kind) -> pd.Series:
    table = fit.sources()
    found = table[(table["lake"] == lake) & (table["evidence"] == kind)]
    assert len(found) == 1
    return found.iloc[0]


def exact(count: float, of: float) -> list[float]:
    limits = stats.binomtest(int(count), int(of)).proportion_ci(0.9, method="exact")
    return [limits.low, count / of, limits.high]


def test_every_kind_of_the_demo_is_there(fit: Fit) -> None:
    table = fit.sources()
    assert tuple(table.columns) == COLUMNS
    assert set(table["evidence"]) == set(Kind)
    assert not table.duplicated(["lake", "season", "evidence"]).any()
    # By order of the lakes.
    assert table["lake"].drop_duplicates().tolist() == [
        "Quillwater Pond", "Ottermoss Lake", "Tinderfen Lake"
    ]  # fmt: skip


def test_shares_have_scipy_s_exact_limits(fit: Fit) -> None:
    pens = file("marked", "Quillwater Pond")[["penned", "pen_alive", "pen_marked"]].sum()
    found = row(fit, "Quillwater Pond", Kind.PENS)
    expected = exact(pens["pen_marked"], pens["penned"])
    assert found[["low", "estimate", "high"]].tolist() == pytest.approx(expected, abs=1e-9)
    assert f"{pens['penned']:.0f} marked fish: {pens['pen_alive']:.0f} alive" in found["amount"]
    haul = file("surveys", "Tinderfen Lake").iloc[0]
    found = row(fit, "Tinderfen Lake", Kind.SECOND_GEAR)
    expected = exact(haul["marked"], haul["caught"])
    assert found[["low", "estimate", "high"]].tolist() == pytest.approx(expected, abs=1e-9)


def test_double_marks_are_those_of_the_recaptures(fit: Fit) -> None:
    rows = file("recaptures", "Ottermoss Lake")
    double = rows[rows["tag_read"].notna()]
    both = ((double["clip_seen"] == "yes") & (double["tag_read"] == "yes")).sum()
    clip = ((double["clip_seen"] == "yes") & (double["tag_read"] == "no")).sum()
    found = row(fit, "Ottermoss Lake", Kind.DOUBLE_MARKS)
    assert f"{len(double)} fish checked" in found["amount"]
    expected = exact(both, both + clip)
    assert found[["low", "estimate", "high"]].tolist() == pytest.approx(expected, abs=1e-9)


def test_catch_per_effort_is_compared_with_scipy_s_ratio_of_poisson_means(fit: Fit) -> None:
    """Given their sum, the later count is binomial; hours are alike."""
    runs = file("surveys", "Quillwater Pond")
    before, after = runs["caught"].tolist()
    low, _, high = exact(after, before + after)
    found = row(fit, "Quillwater Pond", Kind.EFFORT)
    expected = [low / (1 - low), after / before, high / (1 - high)]
    assert found[["low", "estimate", "high"]].tolist() == pytest.approx(expected, rel=1e-9)


def test_tags_still_there_by_quadrature(fit: Fit) -> None:
    heard = fit.data.heard
    assert heard is not None
    shares = np.linspace(1e-6, 1.0 - 1e-6, 4_001)
    density = np.array([float(heard_log_density(heard, share)) for share in shares])
    weight = np.exp(density - density.max())
    cumulated = np.cumsum(weight) / weight.sum()
    found = row(fit, "Ottermoss Lake", Kind.ANTENNA)
    assert [
        float(np.interp(found[name], shares, cumulated)) for name in ("low", "estimate", "high")
    ] == pytest.approx([0.05, 0.5, 0.95], abs=0.003)


def test_movements_have_the_error_that_was_written(fit: Fit) -> None:
    rows = file("movements", "Tinderfen Lake")
    came = rows.loc[rows["movement"] == "moved_in", "fish"].sum()
    net = came - rows.loc[rows["movement"] == "angled", "fish"].sum()
    wide = stats.norm.ppf(0.95) * rows["standard_error"].max()
    found = row(fit, "Tinderfen Lake", Kind.MOVEMENTS)
    expected = [net - wide, net, net + wide]
    assert found[["low", "estimate", "high"]].tolist() == pytest.approx(expected, rel=1e-9)


def test_what_a_gate_withholds(tmp_path: Path) -> None:
    fit = drawn_fit(records(tmp_path / "r"), divergences=1)
    table = fit.sources().set_index("evidence")
    assert set(table.index) == {Kind.MARKS, Kind.CATCHES, Kind.WEIGHTS}
    assert table["estimate"].isna().all()
    assert "divergent" in table.loc[Kind.WEIGHTS, "gate"]
    assert fit.sources(despite_gate=True)["estimate"].notna().all()


def test_a_bare_campaign(tmp_path: Path) -> None:
    bare = records(tmp_path / "r", weighed=False, marked=0)
    table = drawn_fit(bare, "few_passes").sources()
    assert table["evidence"].tolist() == [Kind.CATCHES]


def test_second_looks_by_exact_limits(tmp_path: Path) -> None:
    folder = records(tmp_path / "r")
    date = pd.read_csv(folder / "pulls.csv")["date"].iloc[0]
    (folder / "second_looks.csv").write_text(
        f"date,lake,found_first,found_second\n{date},Pond,5,1\n", encoding="utf-8"
    )
    table = drawn_fit(folder).sources().set_index("evidence")
    low, missed, high = exact(1, 6)
    # One look finds 1 − m/(1 − m), with m the share that only the second found.
    expected = [max(1.0 - at / (1.0 - at), 0.0) for at in (high, missed, low)]
    found = table.loc[Kind.SECOND_LOOKS, ["low", "estimate", "high"]].tolist()
    assert found == pytest.approx(expected, abs=1e-9)
    assert expected[1] == pytest.approx(0.8)
