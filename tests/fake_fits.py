"""Fits without sampling: handmade draws, and a stand-in for the sampler."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, ClassVar

import numpy as np
import xarray as xr

import fishdown
from fishdown import Fit
from fishdown.posterior.quantities import common
from fishdown.posterior.sampling import SamplerSettings
from fishdown.records.settings import Settings

Lake = tuple[str, float, float]  # name, ha, threshold in kg/ha
POND: Lake = ("Pond", 10.0, 100.0)


def independent(
    shape: tuple[int, ...] = (4, 1000), seed: int = 1, middle: float = 0.0, spread: float = 1.0
) -> np.ndarray[Any, Any]:
    """Draw normal numbers without any correlation, as a perfect sampler would."""
    return np.random.default_rng(seed).normal(middle, spread, shape)


def fake_campaign(
    lakes: Sequence[Lake] = (POND,), weights: Sequence[float] = (2.0,)
) -> fishdown.Campaign:
    """Make a season of 2024 in each lake, with nothing in it but what statements look at."""
    names = np.array([name for name, _, _ in lakes], dtype=np.str_)
    places = np.arange(len(lakes))
    return fishdown.Campaign(
        settings=Settings("A test", "common carp", 100.0),
        lakes=xr.Dataset(
            {
                "area": ("lake", np.array([area for _, area, _ in lakes])),
                "threshold": ("lake", np.array([threshold for _, _, threshold in lakes])),
            },
            coords={"lake": names},
        ),
        seasons=xr.Dataset(
            {
                "lake": ("season", names),
                "lake_index": ("season", places),
                "label": ("season", np.full(len(lakes), "2024")),
                **{
                    f"area_{when}": ("season", np.array([area for _, area, _ in lakes]))
                    for when in ("before", "after")
                },
                "gone": ("season", np.full(len(lakes), 50.0)),
                "marked": ("season", np.full(len(lakes), 20.0)),
            },
            coords={"season": np.array([f"{name} 2024" for name in names])},
        ),
        # One catch a lake, examined while marked fish were at large.
        pulls=xr.Dataset(
            {
                "season_index": ("pull", places),
                "date": ("pull", np.full(len(lakes), np.datetime64("2024-06-01", "ns"))),
                "caught": ("pull", np.full(len(lakes), 50.0)),
                "examined": ("pull", np.full(len(lakes), 50.0)),
                "removed": ("pull", np.full(len(lakes), 50.0)),
                "recaptured": ("pull", np.full(len(lakes), 2.0)),
                "marks_at_large": ("pull", np.full(len(lakes), 20.0)),
                "spoiled": ("pull", np.zeros(len(lakes), dtype=bool)),
            }
        ),
        fish=xr.Dataset(
            {
                "length": ("fish", np.full(len(weights), np.nan)),
                "weight": ("fish", np.array(weights, dtype=float)),
                "season_index": ("fish", np.zeros(len(weights), dtype=np.int64)),
            }
        ),
        bycatch=xr.Dataset(),
        bycatch_limits=xr.Dataset(),
        batches=xr.Dataset(),
        surveys=xr.Dataset(),
        antenna=xr.Dataset(),
        elsewhere=xr.Dataset(),
    )


def fake_fit(
    quantities: Mapping[str, np.ndarray[Any, Any]],
    *,
    lakes: Sequence[Lake] = (POND,),
    weights: Sequence[float] = (2.0,),
    divergences: int = 0,
) -> Fit:
    """Make a fit of given draws, shape (chain, draw) for all seasons or (chain, draw, season)."""
    arrays = {}
    for name, draws in quantities.items():
        if draws.ndim == 2 and name not in common():
            draws = np.repeat(draws[:, :, np.newaxis], len(lakes), axis=2)
        arrays[name] = (("chain", "draw", "season")[: draws.ndim], draws)
    dataset = xr.Dataset(arrays)
    diverging = np.zeros((dataset.sizes["chain"], dataset.sizes["draw"]), dtype=bool)
    diverging.flat[:divergences] = True
    tree = xr.DataTree.from_dict(
        {
            "quantities": dataset,
            "sample_stats": xr.Dataset({"diverging": (("chain", "draw"), diverging)}),
        }
    )
    return Fit(fake_campaign(lakes, weights), fishdown.read_model("one_lake"), tree, {})


def walked_besides(
    model: Any, size: tuple[int, int], rng: np.random.Generator, *, derived: bool = False
) -> dict[str, Any]:
    """Draw all that the sampler of a model walks over, and if need be all that follows from it.

    The numbers are such that any prior allows.
    """
    from pytensor import function

    drawn = (*model.free_RVs, *(model.deterministics if derived else ()))
    # All at once: each by itself would be compiled by itself.
    shapes = function([], [one.shape for one in drawn], mode="FAST_COMPILE")()
    found = {}
    for free, shape in zip(drawn, shapes, strict=True):
        own = tuple(map(int, shape))
        named = model.named_vars_to_dims.get(free.name) or ()
        own_dims = named or tuple(f"{free.name}_{axis}" for axis in range(len(own)))
        found[free.name] = (("chain", "draw", *own_dims), rng.lognormal(-1.0, 0.1, (*size, *own)))
    return found


class StubSampler:
    """Stands in for `fishdown.posterior.sampling.Sampler`: independent draws at once.

    Every attempt has the next of `divergences`, the last one again and again.
    """

    divergences: ClassVar[tuple[int, ...]] = (0,)
    asked: ClassVar[list[SamplerSettings]] = []
    compile_seconds = 0.0

    def __init__(self, model: Any, name: str) -> None:
        self.model = model
        self.attempts = 0

    @classmethod
    def with_divergences(cls, *divergences: int) -> type[StubSampler]:
        """Make a fresh stand-in with these numbers of divergences."""
        return type("Stub", (cls,), {"divergences": divergences, "asked": []})

    def feed(self, data: Any) -> None:
        """Begin anew, with other records."""
        self.attempts = 0

    def sample(self, settings: SamplerSettings, on_progress: Any = None) -> xr.DataTree:
        self.asked.append(settings)
        rng = np.random.default_rng(settings.seed)
        size = (settings.chains, settings.draws)
        seasons, lakes = (len(self.model.coords[name]) for name in ("season", "lake"))
        found = {
            "abundance": (
                ("chain", "draw", "season"),
                150.0 + rng.lognormal(3.0, 0.3, (*size, seasons)),
            ),
            "log_room": (("chain", "draw", "season"), rng.normal(3.0, 0.3, (*size, seasons))),
            "log_typical_catch": (("chain", "draw", "lake"), rng.normal(3.0, 0.1, (*size, lakes))),
            "weight_variation": (("chain", "draw"), rng.lognormal(-1.0, 0.2, size)),
            "catchability": (("chain", "draw", "lake"), rng.beta(20.0, 60.0, (*size, lakes))),
            "mean_weight": (
                ("chain", "draw", "season"),
                rng.lognormal(0.7, 0.1, (*size, seasons)),
            ),
            "net_selectivity": (("chain", "draw"), rng.lognormal(0.0, 0.05, size)),
        }
        found = walked_besides(self.model, size, rng, derived=True) | found
        diverging = np.zeros(size, dtype=bool)
        diverging.flat[: self.divergences[min(self.attempts, len(self.divergences) - 1)]] = True
        self.attempts += 1
        if on_progress is not None:
            on_progress(settings.draws, settings.draws, int(diverging.sum()))
        return xr.DataTree.from_dict(
            {
                "posterior": xr.Dataset(
                    {name: found[name] for name in found if name in self.model.named_vars}
                ),
                "sample_stats": xr.Dataset({"diverging": (("chain", "draw"), diverging)}),
            }
        )
