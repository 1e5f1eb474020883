"""What a gate withholds is nowhere to be read.

A campaign whose gate fails in one season is rendered twice, with all that there is to print, to
write and to draw. The second time that season holds a few hundred fish more, and nothing else has
changed. Whatever differs then has told of the fish.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
import xarray as xr
from drawn_fits import drawn_fit, records

from fishdown import Fit
from fishdown.cli import main
from fishdown.posterior.quantities import reported_quantities
from fishdown.statements.comparison import intervals_alone
from fishdown.terminal.console import plain_console
from fishdown.terminal.fitted import print_fit

# Whole fish, so that the ranks of the draws, which may be drawn, stay as they are.
MORE = 300.0
SEASON = 1
# The draws, and the sum that proves them whole.
THE_FIT_ITSELF = ("posterior.nc", "manifest.json")
# What a command says of a stage that is done, before how long it took.
STAGE = re.compile(r"^(  [A-Z][\w ]+: )[\d.]+ \w+$", re.MULTILINE)


def told_apart(fit: Fit, more: float, *, divergences: bool) -> Fit:
    """Let the gate fail, and give one season (or all, at divergences) so many fish more."""
    posterior = fit.tree["posterior"].to_dataset().copy(deep=True)
    chosen = slice(None) if divergences else SEASON
    posterior["abundance"].values[:, :, chosen] += more
    tree = fit.tree.copy()
    tree["posterior"] = xr.DataTree(posterior)
    quantities = reported_quantities(posterior, fit.campaign, fit.spec)
    tree["quantities"] = xr.DataTree(quantities)
    evidence = fit.tree["evidence"].to_dataset().copy(deep=True)
    evidence["abundance"].values[chosen] += more
    evidence["tail_probability"].values[:] = 0.4
    if not divergences:
        evidence["tail_probability"].values[SEASON] = 0.004
    tree["evidence"] = xr.DataTree(evidence)
    tree["alone"] = xr.DataTree(intervals_alone(quantities, fit.quality, fit.campaign))
    changed = replace(fit, tree=tree)
    # A fingerprint differs, and so do the checks: they say how a fit and its records part.
    object.__setattr__(changed, "fingerprint", "fingerprint")
    object.__setattr__(changed, "_checks", ())
    # Convergence may be told: it is let stay as it was.
    object.__setattr__(changed, "quality", fit.quality)
    return changed


def rendered(fit: Fit, folder: Path, printed: Callable[[], str], *more: str) -> dict[str, Any]:
    """Print, write and draw all there is; what came out by name."""
    despite = bool(more)
    print_fit(plain_console(), fit, despite_gate=despite)
    fit.save(folder, despite_gate=despite)
    for command in (
        ["figures"],
        ["ahead", "--pulls", "3"],
        ["years", "--years", "2", "--check-every", "1"],
        ["report"],
    ):
        name, *options = command
        main([name, str(folder), *options, *more])
    found: dict[str, Any] = {
        str(path.relative_to(folder)): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file() and path.name not in THE_FIT_ITSELF
    }
    for name in ("verdicts", "estimates", "removals", "evidence", "effort", "cooling",
                 "comparison", "lake_pairs"):  # fmt: skip
        found[f"{name}()"] = getattr(fit, name)(despite_gate=despite).to_csv()
    # How long a stage took is no number of a season.
    found["terminal"] = STAGE.sub(r"\1", printed().replace(folder.name, ""))
    return found


@pytest.fixture(scope="module")
def plain(tmp_path_factory: pytest.TempPathFactory) -> Fit:
    return drawn_fit(
        records(tmp_path_factory.mktemp("r"), ("Ashmere", "Birkwater"), bycatch=("roach",)),
        nets="alike",
        nights="alike",
        drift="none",
        first_pulls="alike",
    )


@pytest.mark.parametrize("divergences", [False, True])
def test_no_number_of_a_withheld_season_gets_out(
    plain: Fit,
    divergences: bool,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    if divergences:
        stats = plain.tree["sample_stats"].to_dataset().copy(deep=True)
        stats["diverging"].values.flat[:3] = True
        tree = plain.tree.copy()
        tree["sample_stats"] = xr.DataTree(stats)
        plain = replace(plain, tree=tree)
    # A short path, or names of folders are broken by the width of the terminal.
    monkeypatch.chdir(tmp_path)
    found = []
    for more in (0.0, MORE):
        fit = told_apart(plain, more, divergences=divergences)
        assert fit.failure(SEASON)
        monkeypatch.setattr("fishdown.api.fit.load", lambda folder, fit=fit: fit)
        found.append(
            rendered(
                fit,
                Path("folder_b" if more else "folder_a"),
                lambda: capsys.readouterr().out,
            )
        )
    before, after = found
    assert before.keys() == after.keys()
    assert {"estimates.csv", "ahead.csv", "years.csv", "report.html"} <= before.keys()
    leaks = [name for name in before if before[name] != after[name]]
    assert leaks == []


def test_the_comparison_sees_numbers_that_are_told(
    plain: Fit,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """With the gate overruled the same two fits differ almost everywhere."""
    # A short path, or names of folders are broken by the width of the terminal.
    monkeypatch.chdir(tmp_path)
    found = []
    for more in (0.0, MORE):
        fit = told_apart(plain, more, divergences=False)
        monkeypatch.setattr("fishdown.api.fit.load", lambda folder, fit=fit: fit)
        told = lambda: capsys.readouterr().out  # noqa: E731
        found.append(
            rendered(fit, Path("folder_b" if more else "folder_a"), told, "--despite-gate")
        )
    before, after = found
    differ = {name for name in before if before[name] != after[name]}
    assert differ >= {
        "terminal", "estimates.csv", "verdicts.csv", "evidence()", "ahead.csv", "years.csv",
        "report.html", "figures/evidence.png", "figures/abundance.png", "figures/depletion.png",
    }  # fmt: skip
