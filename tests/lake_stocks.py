"""Lakes for the years ahead, of known rates: no fit is needed."""

from __future__ import annotations

from typing import Any

import numpy as np

from fishdown.decisions.projection import Stock

SIZE = (2, 500)


# So many times the fish that the binomial luck of the survivors does not show.
MANY = 1e10


def stock(years: int, *, seed: int = 1, times: float = 1.0, **changed: Any) -> Stock:
    """Make a lake of 10 ha and 1,000 fish of 2 kg, of the same survival every winter."""
    rng = np.random.default_rng(seed)
    values: dict[str, Any] = {
        "fish": 1000.0,
        "weight": 2.0,
        "survival": 0.8,
        "winter_spread": 0.0,
        "recruit_variation": 0.0,
        "process_error": 0.0,
        "exchange": 0.0,
        "outside_fish": 0.0,
        # Recruits weigh what the others do: mean weight stays.
        "own_weight": changed.get("weight", 2.0),
        "growth": 0.3,
        "young_weight": 1.0,
        "level": changed.get("fish", 1000.0),
        "netted": 0.0,
    } | changed
    for name in ("fish", "outside_fish", "level"):
        values[name] = times * values[name]
    arrays = {name: np.broadcast_to(value, SIZE).astype(float) for name, value in values.items()}
    return Stock(**arrays, area=10.0 * times, steps=rng.standard_normal((2, years, *SIZE)))


def young(years: int, fish: float = 50.0) -> np.ndarray[Any, Any]:
    return np.full((years, *SIZE), fish)
