"""The files of a fit: written, and read again.

Everything is put into bytes first, then into a staging folder inside the folder. Only when that is
complete do its files take their places, each in one step, so that a failure leaves an earlier fit
as it was. What was made from an earlier fit goes with it: nothing stale may look like the new.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from fishdown.api.ahead import FIGURE
from fishdown.atomic_write import all_or_none
from fishdown.checks.result import check_frame
from fishdown.decisions.ahead import TABLE
from fishdown.errors import FitError
from fishdown.figures import NAMES
from fishdown.models.plain_spec import spec_entry, spec_from
from fishdown.posterior.fitted import FittedCampaign
from fishdown.posterior.manifest import MANIFEST, verified, write_manifest
from fishdown.report import FILE
from fishdown.report.workbook import WORKBOOK
from fishdown.spreadsheet import safe_csv
from fishdown.statements.comparison import comparison, lake_pairs
from fishdown.statements.estimates import estimates
from fishdown.statements.in_units import shown_frame
from fishdown.statements.removals import removals
from fishdown.statements.verdicts import verdicts
from fishdown.units import shown_in

if TYPE_CHECKING:
    import os
    from collections.abc import Sequence

    from fishdown.checks.result import CheckResult

POSTERIOR = "posterior.nc"
RUN = "run.json"
VERDICTS = "verdicts.csv"
ESTIMATES = "estimates.csv"
REMOVALS = "removals.csv"
CHECKS = "checks.csv"
_NEEDED = (POSTERIOR, RUN, VERDICTS, ESTIMATES, REMOVALS, CHECKS)
FILES = (*_NEEDED, MANIFEST)
COMPARISON = "comparison.csv"
LAKE_PAIRS = "lake_pairs.csv"
# Written when there are several lakes.
LAKE_FILES = (COMPARISON, LAKE_PAIRS)
# What the commands report, ahead, budget, years and figures make from a fit and write into its
# folder. Those of budget and years are named where they are written, which is higher up; a test
# compares them.
MADE_FROM_IT = (
    FILE,
    WORKBOOK,
    *(TABLE, FIGURE, "years.csv", "years_ahead.png", "years_ahead.txt", "forecast_assumptions.csv"),
    "worth.csv",
    *(f"harvest_rules{end}" for end in (".csv", "_by_year.csv", ".png", ".txt")),
    *("budget.csv", "budget.png", "budget.txt"),
    *(f"figures/{name}.{kind}" for name in NAMES for kind in ("png", "svg", "pdf")),
    "figures/descriptions.txt",
)


def files_of(fit: FittedCampaign) -> tuple[str, ...]:
    """Return the names of the files that `write_fit` writes for a fit."""
    several = len(np.unique(fit.campaign.seasons["lake_index"].values)) > 1
    return FILES + LAKE_FILES if several else FILES


def write_fit(
    fit: FittedCampaign,
    folder: str | os.PathLike[str],
    *,
    checks: Sequence[CheckResult],
    despite_gate: bool = False,
) -> None:
    """Write `posterior.nc`, `run.json`, and the tables of statements and checks as CSV.

    With several lakes also `comparison.csv` and `lake_pairs.csv`; and `manifest.json`, by which
    `read_fit` knows the files again. Arguments and errors are those of `fishdown.Fit.save`.
    """
    contents = _contents(fit, checks, despite_gate=despite_gate)
    instead_of = (*LAKE_FILES, *MADE_FROM_IT)
    with all_or_none(folder, instead_of=instead_of, make=True, refusal=FitError) as staged:
        for name, content in contents.items():
            (staged / name).write_bytes(content)
        write_manifest(staged)


def outlived(folder: str | os.PathLike[str]) -> list[str]:
    """Return what lies in a folder that was made from its fit, which another one would remove."""
    there = {name.partition("/")[0] for name in MADE_FROM_IT if (Path(folder) / name).is_file()}
    return sorted(there)


def _contents(
    fit: FittedCampaign, checks: Sequence[CheckResult], *, despite_gate: bool
) -> dict[str, bytes]:
    tree = fit.tree.copy()
    tree.attrs = {
        "Conventions": "CF-1.11",
        "title": fit.campaign.settings.title,
        "fishdown_run": json.dumps(fit.run),
        "fishdown_spec": json.dumps(spec_entry(fit.spec)),
    }
    tables = {
        VERDICTS: verdicts(fit, despite_gate=despite_gate),
        ESTIMATES: estimates(fit, despite_gate=despite_gate),
        REMOVALS: removals(fit, despite_gate=despite_gate),
        CHECKS: check_frame(checks),
    }
    if COMPARISON in files_of(fit):
        tables[COMPARISON] = comparison(fit, despite_gate=despite_gate)
        tables[LAKE_PAIRS] = lake_pairs(fit, despite_gate=despite_gate)
    with shown_in(fit.units):
        tables = {name: shown_frame(table) for name, table in tables.items()}
    return {
        # Into memory: HDF5 does not survive a full disk.
        POSTERIOR: bytes(tree.to_netcdf(engine="netcdf4")),
        RUN: _strict_json(fit.run).encode("utf-8"),
        **{name: safe_csv(table).encode("utf-8") for name, table in tables.items()},
    }


def read_fit(folder: str | os.PathLike[str]) -> FittedCampaign:
    """Read a fit that `write_fit` wrote; arguments and errors are those of `fishdown.load`."""
    import xarray as xr

    from fishdown.campaign import Campaign

    path = Path(folder) / POSTERIOR
    content = verified(Path(folder), _NEEDED, POSTERIOR)
    try:
        with xr.open_datatree(content, engine="netcdf4") as opened:
            tree = opened.load()
        run = json.loads(tree.attrs["fishdown_run"])
        spec = spec_from(json.loads(tree.attrs["fishdown_spec"]))
        campaign = Campaign.from_tree(tree.children["campaign"])
    except (OSError, KeyError, AttributeError, TypeError, ValueError) as error:
        raise FitError(f"{path} is damaged ({error}); fit the campaign again") from error
    tree.attrs = {}
    return FittedCampaign(campaign, spec, tree, run)


def _strict_json(run: dict[str, Any]) -> str:
    # JSON knows no NaN and no infinity, which R-hat may be when chains are stuck.
    plain = json.loads(json.dumps(run), parse_constant=lambda _: None)
    return json.dumps(plain, indent=2) + "\n"
