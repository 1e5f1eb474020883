"""Save a fit and read it again.

Everything is put into bytes first, then into a draft inside the folder. Only when the draft is
complete do its files take their places, each in one step, so that a failure leaves an earlier fit
as it was. What was made from an earlier fit goes with it: nothing stale may look like the new.
"""

from __future__ import annotations

import io
import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from fishdown.checks.result import check_frame
from fishdown.drafts import all_or_none
from fishdown.errors import FitError
from fishdown.posterior.manifest import MANIFEST, verified, write_manifest
from fishdown.spreadsheet import safe_csv

if TYPE_CHECKING:
    import os

    from fishdown.models.spec import ModelSpec
    from fishdown.posterior.fit import Fit

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
# What the commands report, ahead, years and figures make from a fit and write into its folder; the
# rooms that do so import this one, so the names stand here again, and a test compares them.
_FIGURES = (
    "biomass", "abundance", "cooling", "depletion", "evidence", "lakes", "years", "bycatch",
    "convergence", "ranks",
)  # fmt: skip
MADE_FROM_IT = (
    "report.html",
    *("ahead.csv", "ahead.png", "years.csv", "years_ahead.png", "years_ahead.txt"),
    *(f"figures/{name}.{kind}" for name in _FIGURES for kind in ("png", "svg", "pdf")),
    "figures/descriptions.txt",
)


def files_of(fit: Fit) -> tuple[str, ...]:
    """Return the names of the files that `save` writes for a fit."""
    several = len(np.unique(fit.campaign.seasons["lake_index"].values)) > 1
    return FILES + LAKE_FILES if several else FILES


def save(fit: Fit, folder: str | os.PathLike[str], *, despite_gate: bool = False) -> Path:
    """Write `posterior.nc`, `run.json`, and the tables of statements and checks as CSV.

    With several lakes also `comparison.csv` and `lake_pairs.csv`; and `manifest.json`, by which
    `load` knows the files again.

    Parameters
    ----------
    fit : Fit
    folder : str or path
        Made if need be; files of an earlier fit in it are replaced, and what was made from that
        one (its page, figures, and pulls and years ahead) is removed.
    despite_gate : bool
        Print statements under a warning even where the gate failed.

    Returns
    -------
    Path
        The folder.

    Raises
    ------
    FitError
        If the folder cannot be written.
    """
    contents = _contents(fit, despite_gate=despite_gate)
    instead_of = (*LAKE_FILES, *MADE_FROM_IT)
    with all_or_none(folder, instead_of=instead_of, make=True, refusal=FitError) as draft:
        for name, content in contents.items():
            (draft / name).write_bytes(content)
        write_manifest(draft)
    return Path(folder)


def outlived(folder: str | os.PathLike[str]) -> list[str]:
    """Return what lies in a folder that was made from its fit, which another one would remove."""
    there = {name.partition("/")[0] for name in MADE_FROM_IT if (Path(folder) / name).is_file()}
    return sorted(there)


def _contents(fit: Fit, *, despite_gate: bool) -> dict[str, bytes]:
    tree = fit.tree.copy()
    tree.attrs = {
        "Conventions": "CF-1.11",
        "title": fit.campaign.settings.title,
        "fishdown_run": json.dumps(fit.run),
        "fishdown_spec": json.dumps(spec_entry(fit.spec)),
    }
    tables = {
        VERDICTS: fit.verdicts(despite_gate=despite_gate),
        ESTIMATES: fit.estimates(despite_gate=despite_gate),
        REMOVALS: fit.removals(despite_gate=despite_gate),
        CHECKS: check_frame(fit.checks()),
    }
    if COMPARISON in files_of(fit):
        tables[COMPARISON] = fit.comparison(despite_gate=despite_gate)
        tables[LAKE_PAIRS] = fit.lake_pairs(despite_gate=despite_gate)
    return {
        # Into memory: HDF5 does not survive a full disk.
        POSTERIOR: bytes(tree.to_netcdf(engine="h5netcdf")),
        RUN: _strict_json(fit.run).encode("utf-8"),
        **{name: safe_csv(table).encode("utf-8") for name, table in tables.items()},
    }


def load(folder: str | os.PathLike[str]) -> Fit:
    """Read a fit that `save` wrote.

    Parameters
    ----------
    folder : str or path

    Returns
    -------
    Fit
        Equal to the one that was saved.

    Raises
    ------
    FitError
        If the folder holds no fit, a damaged or changed one, or one of another format.
    """
    import xarray as xr

    from fishdown.campaign import Campaign
    from fishdown.posterior.fit import Fit

    path = Path(folder) / POSTERIOR
    content = verified(Path(folder), _NEEDED, POSTERIOR)
    try:
        with xr.open_datatree(io.BytesIO(content), engine="h5netcdf") as opened:
            tree = opened.load()
        run = json.loads(tree.attrs["fishdown_run"])
        spec = spec_from(json.loads(tree.attrs["fishdown_spec"]))
        campaign = Campaign.from_tree(tree.children["campaign"])
    except (OSError, KeyError, AttributeError, TypeError, ValueError) as error:
        raise FitError(f"{path} is damaged ({error}); fit the campaign again") from error
    tree.attrs = {}
    return Fit(campaign, spec, tree, run)


def spec_entry(spec: ModelSpec) -> dict[str, Any]:
    """Return a specification as plain values; `spec_from` turns it back."""
    # The text alone would not do: a specification may have been changed after it was read.
    return {
        "name": spec.name,
        "title": spec.title,
        "parts": dict(spec.parts),
        "priors": {name: prior.entry() for name, prior in spec.priors.items()},
        "reference_temperature": spec.reference_temperature,
        "text": spec.text,
    }


def spec_from(entry: dict[str, Any]) -> ModelSpec:
    """Rebuild a specification from what `spec_entry` returned."""
    from fishdown.models.priors import Prior
    from fishdown.models.spec import ModelSpec

    priors = {name: Prior.read(name, prior) for name, prior in entry["priors"].items()}
    return ModelSpec(**{**entry, "priors": priors})


def _strict_json(run: dict[str, Any]) -> str:
    # JSON knows no NaN and no infinity, which R-hat may be when chains are stuck.
    plain = json.loads(json.dumps(run), parse_constant=lambda _: None)
    return json.dumps(plain, indent=2) + "\n"
