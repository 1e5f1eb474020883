"""Save a fit and read it again.

Everything is written to a draft inside the folder first. Only when the draft is complete do its
files take their places, each in one step, so that a failure leaves an earlier fit as it was.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from fishdown.checks.result import check_frame
from fishdown.drafts import all_or_none
from fishdown.errors import FitError

if TYPE_CHECKING:
    import os

    from fishdown.models.spec import ModelSpec
    from fishdown.posterior.fit import Fit

FORMAT = 1
POSTERIOR = "posterior.nc"
RUN = "run.json"
VERDICTS = "verdicts.csv"
ESTIMATES = "estimates.csv"
REMOVALS = "removals.csv"
CHECKS = "checks.csv"
FILES = (POSTERIOR, RUN, VERDICTS, ESTIMATES, REMOVALS, CHECKS)
COMPARISON = "comparison.csv"
LAKE_PAIRS = "lake_pairs.csv"
# Written when there are several lakes.
LAKE_FILES = (COMPARISON, LAKE_PAIRS)


def files_of(fit: Fit) -> tuple[str, ...]:
    """Return the names of the files that `save` writes for a fit."""
    several = len(np.unique(fit.campaign.seasons["lake_index"].values)) > 1
    return FILES + LAKE_FILES if several else FILES


def save(fit: Fit, folder: str | os.PathLike[str], *, despite_gate: bool = False) -> Path:
    """Write `posterior.nc`, `run.json`, and the tables of statements and checks as CSV.

    With several lakes also `comparison.csv` and `lake_pairs.csv`.

    Parameters
    ----------
    fit : Fit
    folder : str or path
        Made if need be; files of an earlier fit in it are replaced.
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
    # Those of lakes may be an earlier fit's, and would not belong to the other files.
    with all_or_none(folder, instead_of=LAKE_FILES, make=True, refusal=FitError) as draft:
        tree = fit.tree.copy()
        tree.attrs = {
            "Conventions": "CF-1.11",
            "title": fit.campaign.settings.title,
            "fishdown_format": FORMAT,
            "fishdown_run": json.dumps(fit.run),
            "fishdown_spec": json.dumps(spec_entry(fit.spec)),
        }
        tree.to_netcdf(draft / POSTERIOR, engine="h5netcdf")
        fit.verdicts(despite_gate=despite_gate).to_csv(draft / VERDICTS, index=False)
        fit.estimates(despite_gate=despite_gate).to_csv(draft / ESTIMATES, index=False)
        fit.removals(despite_gate=despite_gate).to_csv(draft / REMOVALS, index=False)
        check_frame(fit.checks()).to_csv(draft / CHECKS, index=False)
        (draft / RUN).write_text(_strict_json(fit.run), encoding="utf-8")
        if COMPARISON in files_of(fit):
            fit.comparison(despite_gate=despite_gate).to_csv(draft / COMPARISON, index=False)
            fit.lake_pairs(despite_gate=despite_gate).to_csv(draft / LAKE_PAIRS, index=False)
    return Path(folder)


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
        If the folder holds no fit, or one of another format.
    """
    import xarray as xr

    from fishdown.campaign import Campaign
    from fishdown.posterior.fit import Fit

    path = Path(folder) / POSTERIOR
    if not path.is_file():
        raise FitError(f"{folder} holds no fit: there is no {POSTERIOR}; run fishdown fit first")
    try:
        with xr.open_datatree(path, engine="h5netcdf") as opened:
            tree = opened.load()
    except (OSError, ValueError) as error:
        raise FitError(f"{path} cannot be read: {error}") from error
    found = tree.attrs.get("fishdown_format")
    if found is None:
        raise FitError(f"{path} was not written by fishdown; name the folder of a fit")
    if found != FORMAT:
        raise FitError(
            f"{path} has format {found}, this fishdown reads {FORMAT}; fit the campaign again"
        )
    try:
        run = json.loads(tree.attrs["fishdown_run"])
        spec = spec_from(json.loads(tree.attrs["fishdown_spec"]))
        campaign = Campaign.from_tree(tree.children["campaign"])
    except (KeyError, TypeError, ValueError) as error:
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
