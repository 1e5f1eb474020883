"""Water temperature: the decline of catchability as the water cools."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from fishdown.equality import by_value
from fishdown.models.array_library import NUMPY
from fishdown.models.inputs import over
from fishdown.models.part import ByLake, Effect, Parameter, Steps
from fishdown.models.parts.temperature.readings import guess_missing
from fishdown.models.parts.temperature.smooth import SMOOTH_BASIS, smooth_curve
from fishdown.units import label, shown, shown_change

if TYPE_CHECKING:
    import pandas as pd

    from fishdown.models.pull_table import PullTable
    from fishdown.typing import FloatArray, IntArray

    type Numbers = FloatArray | IntArray


# With a smaller span between the coldest and the warmest pull, the variation of catches masks the
# temperature effect (common practice, no source).
NARROWEST_SPAN_C = 3.0


@by_value
@dataclass(frozen=True, eq=False)
class TemperatureInputs[A]:
    """Water temperature at the pulls, measured or estimated.

    Attributes
    ----------
    guesses : int
        How many were estimated.
    lake : array, shape (pull,)
        Position of each pull's lake.
    value : array, shape (pull,), or (draw, pull) for pulls to come
        The reading, or the estimate's mean if there is none, °C.
    guess : array of int, shape (pull,)
        Position among the estimates; 0 for a reading.
    sd : array, shape (pull,)
        Standard deviation of an estimate, °C; 0 for a reading.
    """

    guesses: int
    lake: A = field(metadata=over("pull"))
    value: A = field(metadata=over("pull", units="degree_Celsius"))
    guess: A = field(metadata=over("pull"))
    sd: A = field(metadata=over("pull", units="degree_Celsius"))


def _inputs(pulls: PullTable, known: PullTable) -> TemperatureInputs[Numbers]:
    found = guess_missing(pulls["temperature"], pulls.date, pulls.lake)
    guess = np.zeros(len(pulls), dtype=np.int64)
    guess[found.missing] = np.arange(len(found.missing))
    sd = np.zeros(len(pulls))
    sd[found.missing] = found.sd
    # Without any reading there is no temperature effect, and these are not used.
    value = np.nan_to_num(found.value)
    return TemperatureInputs(len(found.missing), pulls.lake, value, guess, sd)


def at_temperatures(temperature: FloatArray, lake: IntArray) -> TemperatureInputs[Numbers]:
    """Return the inputs of pulls whose temperature is known, shape (pull,) or (draw, pull)."""
    count = temperature.shape[-1]
    return TemperatureInputs(0, lake, temperature, np.zeros(count, np.int64), np.zeros(count))


def _log_effect(
    xp: Any,
    choice: str,
    inputs: TemperatureInputs[Any],
    values: Mapping[str, Any],
    reference: float,
) -> Any:
    temperature = inputs.value
    if "temperature_step" in values:
        temperature = temperature + inputs.sd * values["temperature_step"][..., inputs.guess]
    match choice:
        case "threshold_curve":
            threshold = values["threshold_temperature"][..., inputs.lake]
            width = values["threshold_width"]
            return threshold_effect(temperature, threshold, width, reference, xp=xp)
        case "smooth":
            slope = xp.log(values["temperature_effect"])[..., inputs.lake]
            straight = cooling_effect(temperature, slope, reference)
            return straight + _bend(xp, temperature, values, reference)
        case _:
            log_factor = xp.log(values["temperature_effect"])[..., inputs.lake]
            return cooling_effect(temperature, log_factor, reference)


def _derived(xp: Any, choice: str, values: Mapping[str, Any], reference: float) -> dict[str, Any]:
    """Return the catchability ratio for 10 °C of cooling, if it is no parameter."""
    match choice:
        case "threshold_curve":
            threshold, width = values["threshold_temperature"], values["threshold_width"]
            cold = threshold_effect(reference - 10.0, threshold, width, reference, xp=xp)
        case "smooth":
            cold = xp.log(values["temperature_effect"])
            cold = cold + _bend(xp, np.array([reference - 10.0]), values, reference)
        case _:
            return {}
    return {"temperature_effect": xp.exp(cold)}


def _bend(xp: Any, temperature: Any, values: Mapping[str, Any], reference: float) -> Any:
    """Return the smooth curve relative to its value at the reference temperature."""
    shape = [values[name] for name in ("smooth_amplitude", "smooth_scale", "smooth_step")]
    at_reference = smooth_curve(xp, np.array([reference]), *shape)
    return smooth_curve(xp, temperature, *shape) - at_reference


def cooling_effect(temperature: Any, log_factor: Any, reference: float) -> Any:
    """Return the log-linear temperature effect on the logarithm of the hazard.

    `log_factor` for every 10 °C below the reference, the same with opposite sign above it.

    Parameters
    ----------
    temperature : array or tensor, shape (pull,)
        °C.
    log_factor : array or tensor, broadcastable to (pull,)
        Natural logarithm of the hazard ratio for 10 °C of cooling.
    reference : float
        °C.

    Returns
    -------
    array or tensor, shape (pull,)
    """
    return log_factor * (reference - temperature) / 10.0


def threshold_effect(
    temperature: Any, threshold: Any, width: Any, reference: float, *, xp: Any = NUMPY
) -> Any:
    """Return the temperature effect on the log hazard if feeding stops below a threshold.

    The hazard is proportional to 1/(1 + exp(−(T − m)/w)): full in warm water, half at the threshold
    temperature m, near zero a few widths below; relative to its value at the reference.

    Parameters
    ----------
    temperature : array or tensor, shape (pull,)
        °C.
    threshold, width : array or tensor, broadcastable to (pull,)
        m and w, °C.
    reference : float
        °C.
    xp : module
        The array library in use.

    Returns
    -------
    array or tensor, shape (pull,)
    """
    at_reference = xp.softplus((threshold - reference) / width)
    return at_reference - xp.softplus((threshold - temperature) / width)


def _unfed(pulls: PullTable) -> str:
    lacking = np.isnan(pulls["temperature"]).all()
    return "no water temperature: catchability is taken as constant" if lacking else ""


def _told(pulls: pd.DataFrame) -> tuple[str, str]:
    known = pulls["water_temp_c"].dropna()
    if known.empty:
        return "", "no water temperature: no temperature effect"
    low, high = float(known.min()), float(known.max())
    if high - low < NARROWEST_SPAN_C:
        span = f"{shown_change(high - low, '°C'):.1f} {label('°C')}"
        return "", f"temperature spans {span} only: no temperature effect"
    lacking = len(pulls) - len(known)
    pulls_lacking = "1 pull" if lacking == 1 else f"{lacking:,} pulls"
    remark = f"{pulls_lacking} without water temperature" if lacking else ""
    ends = f"{shown(low, '°C'):.1f}–{shown(high, '°C'):.1f}"
    return f"temperature effect ({ends} {label('°C')})", remark


TEMPERATURE = Effect(
    name="temperature",
    choices={
        "none": (),
        "log_linear": ("temperature_effect", "temperature_spread"),
        "threshold_curve": ("threshold_temperature", "threshold_width", "threshold_spread"),
        "smooth": (
            "temperature_effect",
            "temperature_spread",
            "smooth_amplitude",
            "smooth_scale",
        ),
    },
    parameters={
        "temperature_effect": Parameter(
            "catchability ratio for 10 °C of cooling below the reference temperature",
            label="ratio per 10 °C of cooling",
            by_lake=ByLake("temperature_spread"),
        ),
        "temperature_spread": Parameter(
            "spread of the temperature effect between lakes, on the log scale", among_lakes=True
        ),
        "threshold_temperature": Parameter(
            "water temperature at which catchability is half of its warm-water value",
            "degree_Celsius",
            families=("normal",),
            label="°C",
            by_lake=ByLake("threshold_spread", "level"),
        ),
        "threshold_width": Parameter(
            "width of the decline of feeding about the threshold", "degree_Celsius"
        ),
        "threshold_spread": Parameter(
            "spread of the threshold temperature between lakes",
            "degree_Celsius",
            among_lakes=True,
        ),
        "smooth_amplitude": Parameter("amplitude of the smooth curve, on the log scale"),
        "smooth_scale": Parameter("length scale of the smooth curve", "degree_Celsius"),
    },
    inputs=_inputs,
    log_effect=_log_effect,
    unfed=_unfed,
    steps=(
        Steps("temperature_step", "guess", count=lambda inputs: int(inputs.guesses)),
        Steps("smooth_step", "curve", count=lambda inputs: SMOOTH_BASIS, choices=("smooth",)),
    ),
    derived=_derived,
    told=_told,
    # The log-linear part has the prior of the whole effect, which is reported with the curve.
    variable={("smooth", "temperature_effect"): "temperature_effect_linear"},
)
