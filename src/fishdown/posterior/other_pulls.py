"""Draws of a fit for other pulls than those fitted: what has a step of its own, known or new."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fishdown.labels import group_labels
from fishdown.models.data import active_effects

if TYPE_CHECKING:
    import xarray as xr

    from fishdown.models.part import Steps
    from fishdown.models.pull_table import PullTable
    from fishdown.models.spec import ModelSpec


def with_steps_of(
    posterior: xr.Dataset,
    spec: ModelSpec,
    fitted: PullTable,
    wanted: PullTable,
    rng: np.random.Generator,
) -> xr.Dataset:
    """Return draws whose steps belong to the nets, nights and the like of other pulls.

    What the fit has seen keeps its own; what is new has a standard normal step, drawn anew for each
    draw: so it is distributed under the posterior as long as no record tells of it.

    Parameters
    ----------
    posterior : xarray.Dataset
        Draws of the model's variables, dimensions (chain, draw, …).
    fitted, wanted : PullTable
        The pulls that were fitted, and the others.
    """
    found, coords = {}, {}
    for steps in (one for effect in active_effects(spec) for one in effect.steps):
        if steps.groups is None or steps.name not in posterior:
            continue
        known, labels = steps.groups(fitted)[0], steps.groups(wanted)[0]
        if known != labels:
            found[steps.name] = _moved(posterior[steps.name], steps, known, labels, rng)
            coords[steps.dim] = group_labels(labels)
    kept = posterior.drop_vars([*found, *coords], errors="ignore")
    return kept.assign(found).assign_coords(coords)


def _moved(
    draws: xr.DataArray,
    steps: Steps,
    known: tuple[tuple[str, ...], ...],
    labels: tuple[tuple[str, ...], ...],
    rng: np.random.Generator,
) -> tuple[tuple[str, ...], np.ndarray]:
    """Return the steps of these labels, with their dimensions."""
    fitted = draws.transpose("chain", "draw", ...)
    chains, count, _, *functions = fitted.shape
    place = {label: position for position, label in enumerate(known)}
    old = [label in place for label in labels]
    moved = np.empty((chains, count, len(labels), *functions))
    moved[:, :, old] = fitted.values[:, :, [place[label] for label in labels if label in place]]
    new = [not one for one in old]
    moved[:, :, new] = rng.standard_normal((chains, count, sum(new), *functions))
    return ("chain", "draw", steps.dim, *map(str, fitted.dims[3:])), moved
