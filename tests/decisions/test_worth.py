"""What a measurement is worth: against conjugate answers, and on a whole fit."""

from __future__ import annotations

import numpy as np
import pytest
from drawn_fits import drawn_fit, records

from fishdown.cli import main
from fishdown.decisions.worth import COLUMNS, Measurement, _Lake, _worth
from fishdown.errors import PlanError

DRAWS = 4_000


def lake(rng: np.random.Generator, **known: np.ndarray) -> _Lake:
    """Make draws of which only those named tell of the biomass left."""
    ones = np.ones(DRAWS)
    plain = {
        "left": np.exp(rng.normal(np.log(90.0), 0.4, DRAWS)),
        "alive": rng.beta(40, 2, DRAWS),
        "retained": rng.beta(40, 2, DRAWS),
        "tag_there": rng.beta(40, 4, DRAWS),
        "marked_odds": np.exp(rng.normal(np.log(0.06), 0.3, DRAWS)),
        "weight": np.exp(rng.normal(np.log(2.0), 0.2, DRAWS)),
        "clumping": 0.0 * ones,
        "weight_variation": 0.4 * ones,
        "pull_spread": 0.0 * ones,
    }
    return _Lake(**{**plain, **known}, gear_odds=(1.0, 0.25), threshold=100.0)


def test_weights_narrow_as_for_a_normal_mean() -> None:
    rng = np.random.default_rng(1)
    weight = np.exp(rng.normal(np.log(2.0), 0.1, DRAWS))
    found = _worth(lake(rng, weight=weight, left=45.0 * weight), (Measurement("weights", 16),), rng)
    # sd 0.1 before; 16 fish of variation 0.4 measure it with 0.1.
    assert found["narrower"] == pytest.approx(1.0 - np.sqrt(0.5), abs=0.02)
    assert found["ratio_now"] == pytest.approx(np.exp(2 * 1.645 * 0.1), rel=0.02)


def test_a_second_gear_narrows_no_further_than_its_own_odds_allow() -> None:
    rng = np.random.default_rng(2)
    odds = np.exp(rng.normal(np.log(0.06), 0.3, DRAWS))
    found = _worth(
        lake(rng, marked_odds=odds, left=6.0 / odds), (Measurement("second_gear", 1_000_000),), rng
    )
    expected = 0.25 / np.hypot(0.25, 0.3)
    assert found["narrower"] == pytest.approx(1.0 - expected, abs=0.03)


@pytest.mark.parametrize("name", ["pen", "antenna", "second_gear", "weights"])
def test_what_tells_nothing_of_the_lake_narrows_nothing(name: str) -> None:
    rng = np.random.default_rng(3)
    found = _worth(lake(rng), (Measurement(name, 50),), rng)
    assert abs(found["narrower"]) < 0.03


@pytest.mark.parametrize("name", ["pen", "antenna"])
def test_more_of_it_narrows_more(name: str) -> None:
    rng = np.random.default_rng(4)
    there = rng.beta(20, 3, DRAWS)
    drawn = lake(rng, alive=there, tag_there=there, left=90.0 * there**3)
    few, many = (_worth(drawn, (Measurement(name, n),), rng)["narrower"] for n in (10, 400))
    assert 0.05 < few < many < 0.95
    assert many > few + 0.2


def test_a_beta_share_is_learnt_as_by_its_conjugate_posterior() -> None:
    rng = np.random.default_rng(5)
    share = rng.beta(20, 5, DRAWS)
    drawn = lake(rng, tag_there=share, left=np.exp(share))
    found = _worth(drawn, (Measurement("antenna", 60),), rng)
    heard = rng.binomial(60, 0.9 * rng.beta(20, 5, 2_000))
    # By numerical posteriors on a grid.
    grid = np.linspace(0.2, 0.999, 800)
    log_prior = 19 * np.log(grid) + 4 * np.log1p(-grid)
    widths = []
    for seen in heard[:300]:
        log_like = seen * np.log(0.9 * grid) + (60 - seen) * np.log1p(-0.9 * grid)
        posterior = np.exp(log_prior + log_like - (log_prior + log_like).max())
        cumulated = np.cumsum(posterior) / posterior.sum()
        low, high = np.interp([0.05, 0.95], cumulated, grid)
        widths.append(high - low)
    now = float(np.subtract(*np.quantile(share, [0.95, 0.05])))
    assert found["narrower"] == pytest.approx(1.0 - np.mean(widths) / now, abs=0.03)


def test_all_together_narrows_more_than_each_and_firms_the_verdict() -> None:
    rng = np.random.default_rng(6)
    weight = np.exp(rng.normal(np.log(2.0), 0.3, DRAWS))
    odds = np.exp(rng.normal(np.log(0.06), 0.4, DRAWS))
    drawn = lake(rng, weight=weight, marked_odds=odds, left=1.4 * weight / odds)
    each = [Measurement("weights", 200), Measurement("second_gear", 500)]
    single = [_worth(drawn, (one,), rng) for one in each]
    both = _worth(drawn, tuple(each), rng)
    assert both["narrower"] > max(one["narrower"] for one in single) + 0.05
    assert both["firm_expected"] > max(one["firm_expected"] for one in single)
    assert 0.0 < both["firm_expected"] < 1.0


def test_every_lake_of_a_fit_has_its_measurements(tmp_path) -> None:
    fit = drawn_fit(records(tmp_path / "two", ["Ashmere", "Birkwater"]))
    frame = fit.worth()
    assert tuple(frame.columns) == COLUMNS
    for _, rows in frame.groupby("lake", sort=False):
        single = rows[rows["measurement"] != "all"]
        assert single["narrower"].is_monotonic_decreasing
        assert rows["measurement"].iloc[-1] == "all"
        assert rows["firm_expected"].between(0.0, 1.0, inclusive="neither").all()
    assert frame.equals(fit.worth())
    assert "weights" not in set(fit.worth(weights=0)["measurement"])


def test_what_is_withheld_has_no_numbers(tmp_path) -> None:
    fit = drawn_fit(records(tmp_path / "failed"), divergences=2)
    frame = fit.worth()
    assert frame["narrower"].isna().all()
    assert frame["gate"].str.contains("divergent").all()
    assert fit.worth(despite_gate=True)["narrower"].notna().all()


def test_it_needs_effective_marks_and_numbers_of_fish(tmp_path) -> None:
    fit = drawn_fit(records(tmp_path / "one"))
    with pytest.raises(PlanError, match="pen -1: write 0 or more"):
        fit.worth(pen=-1)
    bare = drawn_fit(
        records(tmp_path / "bare"), "one_lake", marks="all_count", antenna="none", surveys="none"
    )
    with pytest.raises(PlanError, match="worth needs a fit with effective marks and biomass"):
        bare.worth()


def test_the_command_prints_and_writes(tmp_path, capsys) -> None:
    results = drawn_fit(records(tmp_path / "records")).save(tmp_path / "out")
    assert main(["worth", str(results), "--pen", "80"]) == 0
    said = capsys.readouterr().out
    assert "80 marked fish" in said
    assert "the verdict is firm now. Of these, one would narrow" in said
    assert "100 %" not in said
    assert (results / "worth.csv").read_text(encoding="utf-8").startswith("lake,season,measurement")
