"""Save a fit and read it again.

A folder is written whole or not at all: everything goes to a folder beside it first, which then
takes its place.
"""

from __future__ import annotations

import json
import shutil
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

from fishdown.errors import FitError

if TYPE_CHECKING:
    import os

    from fishdown.posterior.fit import Fit

FORMAT = 1
POSTERIOR = "posterior.nc"
RUN = "run.json"
VERDICTS = "verdicts.csv"
ESTIMATES = "estimates.csv"
REMOVALS = "removals.csv"
FILES = (POSTERIOR, RUN, VERDICTS, ESTIMATES, REMOVALS)


def save(fit: Fit, folder: str | os.PathLike[str], *, despite_gate: bool = False) -> Path:
    """Write `posterior.nc`, `verdicts.csv`, `estimates.csv`, `removals.csv` and `run.json`.

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
    folder = Path(folder)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(dir=folder, prefix=".unfinished-") as name:
            draft = Path(name)
            tree = fit.tree.copy()
            tree.attrs = {
                "Conventions": "CF-1.11",
                "title": fit.campaign.settings.title,
                "fishdown_format": FORMAT,
                "fishdown_run": json.dumps(fit.run),
                "fishdown_parts": json.dumps(dict(fit.spec.parts)),
            }
            tree.to_netcdf(draft / POSTERIOR, engine="h5netcdf")
            fit.verdicts(despite_gate=despite_gate).to_csv(draft / VERDICTS, index=False)
            fit.estimates().to_csv(draft / ESTIMATES, index=False)
            fit.removals(despite_gate=despite_gate).to_csv(draft / REMOVALS, index=False)
            (draft / RUN).write_text(json.dumps(fit.run, indent=2) + "\n", encoding="utf-8")
            for file in FILES:
                shutil.move(draft / file, folder / file)
    except OSError as error:
        raise FitError(f"cannot write to {folder}: {error.strerror or error}") from error
    return folder


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
    from fishdown.models.spec import parse_model
    from fishdown.posterior.fit import Fit

    path = Path(folder) / POSTERIOR
    if not path.is_file():
        raise FitError(f"{folder} holds no fit: there is no {POSTERIOR}; run fishdown fit first")
    try:
        with xr.open_datatree(path, engine="h5netcdf") as opened:
            tree = opened.load()
    except (OSError, ValueError) as error:
        raise FitError(f"{path} cannot be read: {error}") from error
    if tree.attrs.get("fishdown_format") != FORMAT:
        raise FitError(
            f"{path} has format {tree.attrs.get('fishdown_format')}, this fishdown reads {FORMAT}; "
            "fit the campaign again"
        )
    run = json.loads(tree.attrs["fishdown_run"])
    parts = json.loads(tree.attrs["fishdown_parts"])
    spec = parse_model(run["model_text"], run["model"]).with_parts(**parts)
    tree.attrs = {}
    return Fit(Campaign.from_tree(tree.children["campaign"]), spec, tree, run)
