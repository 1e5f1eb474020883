"""A fit made again: alike or not, how that was judged, and why it may not be."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import xarray as xr
from command_lines import assert_readable, joined, passes
from drawn_fits import drawn_fit, records
from fake_fits import StubSampler
from scipy import stats

from fishdown import Fit
from fishdown.cli import main
from fishdown.statements.repetition import FALSE_ALARM, _difference, _limit, _quantile, compared


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return records(tmp_path_factory.mktemp("records") / "r")


@pytest.fixture(scope="module")
def fit(folder: Path) -> Fit:
    return drawn_fit(folder, "one_lake")


def with_quantity(fit: Fit, name: str, change: Callable[[xr.DataArray], xr.DataArray]) -> Fit:
    quantities = fit.quantities.copy(deep=True)
    quantities[name] = change(quantities[name])
    return fit.holding({"quantities": quantities})


def test_the_same_draws(fit: Fit) -> None:
    found = compared(fit, fit)
    assert found.outcome == "identical"
    assert found.reasons == ()
    assert found.sentences() == (
        "Alike bit for bit: all 2,000 draws of every reported quantity are those of the fit.",
    )


def test_other_draws_of_the_same_posterior(fit: Fit, folder: Path) -> None:
    found = compared(fit, drawn_fit(folder, "one_lake", seed=6))
    assert found.outcome == "alike"
    assert 0.0 < found.largest.errors < found.limit
    said = " ".join(found.sentences())
    assert said.startswith("Alike within Monte-Carlo error: the largest difference, ")
    assert "in 1 % of repetitions at most" in said
    assert said.endswith("Other settings of the sampler: seed 5, now 6.")


@pytest.mark.parametrize("factor", [0.93, 1.07])
def test_another_posterior_is_named(fit: Fit, folder: Path, factor: float) -> None:
    again = drawn_fit(folder, "one_lake", seed=6)
    found = compared(fit, with_quantity(again, "mean_weight", lambda draws: factor * draws))
    assert found.outcome == "different"
    assert "of the mean weight of a fish in the lake" in found.largest.what
    assert found.sentences()[0].startswith("NOT alike: the largest difference, ")
    assert " kg now" in found.sentences()[0]


def test_one_bit_is_not_bit_for_bit(fit: Fit) -> None:
    def nudged(draws: xr.DataArray) -> xr.DataArray:
        draws[0, 0, 0] = np.nextafter(draws[0, 0, 0], np.inf)
        return draws

    found = compared(fit, with_quantity(fit, "mean_weight", nudged))
    assert found.outcome == "alike"
    assert "Another computer, or another number of its cores" in found.sentences()[-1]


def test_what_was_not_the_same(fit: Fit) -> None:
    digests = fit.run["input_sha256"]
    before = replace(
        fit,
        run={
            **fit.run,
            "input_sha256": {**digests, "pulls.csv": "0", "tags.csv": "1", "lakes.csv": None},
            "versions": {**fit.run["versions"], "nutpie": "0.1"},
            "computer": {"processor": "znver3"},
            "attempts": [{**fit.run["attempts"][0], "cores": 7}],
        },
    )
    now = replace(fit, run={**fit.run, "computer": {"processor": "skylake"}})
    assert compared(before, now).reasons == (
        "The records have changed since: lakes.csv is new; pulls.csv is another; tags.csv is gone.",
        "Other versions: nutpie 0.1, now none.",
        "Another computer: processor znver3, now skylake.",
        "Other settings of the sampler: cores 7, now None.",
    )


def test_a_fit_that_did_not_converge_has_no_errors_to_judge_by(fit: Fit, folder: Path) -> None:
    bad = drawn_fit(folder, "one_lake", seed=6, divergences=3)
    found = compared(fit, bad)
    assert not found.converged
    assert "At least one of the two did not converge" in " ".join(found.sentences())


def test_standard_errors_are_those_of_repetitions() -> None:
    """Of quantiles of 2,000 independent normal draws, 300 times."""
    rng = np.random.default_rng(3)
    for at in (0.05, 0.5, 0.95):
        found = [_quantile(rng.normal(size=(4, 500)), at) for _ in range(300)]
        values, errors = np.array(found).T
        # Asymptotically √(p (1 − p) / n) / density, a textbook's formula.
        exact = np.sqrt(at * (1.0 - at) / 2000.0) / stats.norm.pdf(stats.norm.ppf(at))
        assert np.mean(errors) == pytest.approx(exact, rel=0.1)
        assert np.std(values) == pytest.approx(exact, rel=0.15)
        pairs = [
            _difference("", one, other, unit="kg").errors
            for one, other in zip(found[::2], found[1::2], strict=True)
        ]
        # |z| of 150 pairs: the mean of a half-normal variable is √(2/π), its sd 0.60.
        assert np.mean(pairs) == pytest.approx(np.sqrt(2.0 / np.pi), abs=4.0 * 0.60 / 150.0**0.5)
    assert stats.norm.sf(_limit(20)) * 2.0 * 20 == pytest.approx(FALSE_ALARM)


def test_a_constant_has_no_error() -> None:
    same = np.full((4, 100), 7.0)
    assert _difference("", _quantile(same, 0.5), _quantile(same, 0.5), unit="kg").errors == 0.0
    other = _difference("", _quantile(same, 0.5), _quantile(same + 1.0, 0.5), unit="kg")
    assert other.errors == np.inf


def test_the_command(
    folder_of: Callable[..., Path],
    tmp_path: Path,
    stub: Callable[..., type[StubSampler]],
    capsys: pytest.CaptureFixture[str],
) -> None:
    stub(0)
    folder, out, other = passes(folder_of), tmp_path / "out", tmp_path / "other"
    assert main(["fit", str(folder), "--out", str(out)]) == 0
    before = {path.name: path.read_bytes() for path in out.iterdir()}
    capsys.readouterr()
    assert main(["rerun", str(out)]) == 0
    said = capsys.readouterr().out
    assert_readable(said)
    assert "Alike bit for bit: all" in joined(said)
    assert "Nothing was written" in said
    pulls = folder / "pulls.csv"
    pulls.write_text(pulls.read_text("utf-8").replace(",27", ",28"), "utf-8")
    assert main(["rerun", str(out), str(folder), "--out", str(other)]) in (0, 3)
    said = joined(capsys.readouterr().out)
    assert "The records have changed since: pulls.csv is another." in said
    assert {path.name for path in other.iterdir()} == set(before)
    assert main(["rerun", str(out), "--out", str(out / ".." / "out")]) == 1
    assert "holds the fit itself, which stays; name another folder" in capsys.readouterr().err
    assert {path.name: path.read_bytes() for path in out.iterdir()} == before
