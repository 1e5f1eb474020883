"""A model's specification: the content of a model file, checked and frozen."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from fishdown.errors import ModelFileError
from fishdown.models.parts import all_parts, chosen_parts, parameters
from fishdown.models.priors import Prior, hint
from fishdown.records.cells import CellError, parse
from fishdown.records.codes import Wrong
from fishdown.records.plain_file import UnreadableError, as_text, read_plain
from fishdown.records.problems import printable, shortened
from fishdown.records.toml_text import read_toml
from fishdown.units import shown, shown_change

if TYPE_CHECKING:
    from collections.abc import Mapping

    from fishdown.typing import FloatArray

_TOP_LEVEL = frozenset({"title", "parts", "reference", "priors"})
# As the records have it.
_COLDEST_C, _WARMEST_C = -1, 40
_MOST_SHOWN = 5


@dataclass(frozen=True)
class ModelSpec:
    """Parts and priors of a model.

    Attributes
    ----------
    name : str
        The model file's name without ending.
    title : str
        One line for people.
    parts : mapping of str to str
        The choice made for each part, see `fishdown.models.parts`.
    reference_temperature : float
        Temperature at which catchability is reported, °C.
    priors : mapping of str to Prior
        Exactly the parameters that the parts need.
    text : str
        The model file as it was read, kept for the record of a fit.
    """

    name: str
    title: str
    parts: Mapping[str, str]
    priors: Mapping[str, Prior]
    reference_temperature: float = 20.0
    text: str = field(default="", repr=False, compare=False)

    def __post_init__(self) -> None:
        needed = needed_priors(self.parts)
        _refuse_unknown("prior", self.priors, needed, self.name)
        missing = sorted(set(needed) - set(self.priors))
        if missing:
            raise ModelFileError(
                f"model {self.name}: no prior for {', '.join(missing)}; "
                f"these parts need: {', '.join(sorted(needed))}"
            )
        known = parameters()
        for name, prior in self.priors.items():
            families = known[name].families
            if prior.family not in families:
                raise ModelFileError(
                    f"model {self.name}: the prior of {name} must be {' or '.join(families)}, "
                    f"not {prior.family}"
                )
        object.__setattr__(self, "parts", MappingProxyType(dict(self.parts)))
        object.__setattr__(self, "priors", MappingProxyType(dict(self.priors)))

    def __reduce__(self) -> tuple[Any, ...]:
        # Made anew in another process: what cannot be changed cannot be pickled either.
        parts, priors = dict(self.parts), dict(self.priors)
        values = (self.name, self.title, parts, priors, self.reference_temperature, self.text)
        return type(self), values

    def part(self, name: str) -> str:
        """Return the choice made for a part."""
        return self.parts[name]

    def with_parts(self, **changes: str) -> ModelSpec:
        """Return the same model with other choices, without priors no longer needed."""
        parts = {**self.parts, **changes}
        priors = {name: self.priors[name] for name in needed_priors(parts) if name in self.priors}
        if self.parts["pooling"] == "lakes" and parts["pooling"] == "none":
            priors = {name: self._of_a_lake_alone(name, prior) for name, prior in priors.items()}
        return replace(self, parts=parts, priors=priors)

    def _of_a_lake_alone(self, name: str, prior: Prior) -> Prior:
        """Return the prior of a lake of which no other is like it, from that of a typical one."""
        by_lake = parameters()[name].by_lake
        if by_lake is None or not by_lake.wider_alone or by_lake.spread not in self.priors:
            return prior
        return prior.wider(self.priors[by_lake.spread].root_mean_square)


def needed_priors(parts: Mapping[str, str]) -> tuple[str, ...]:
    """Return the parameters that need a prior, given the choices of all parts."""
    return tuple(name for part in all_parts() for name in part.needs(parts))


def parse_model(text: str, name: str) -> ModelSpec:
    """Read a specification from the text of a model file.

    Parameters
    ----------
    text : str
        TOML.
    name : str
        Name of the model, for messages and saved fits.

    Raises
    ------
    ModelFileError
        If the text is not TOML, or names an unknown part, choice, parameter or family.
    """
    name = printable(name)
    try:
        content = read_toml(text)
    except UnreadableError as error:
        where = f", row {error.row}" if error.row else ""
        raise ModelFileError(f"model {name}{where}: {error}") from None
    _refuse_unknown("entry", content, _TOP_LEVEL, name)
    parts = _read_parts(content.get("parts", {}), name)
    entries = content.get("priors", {})
    _refuse_no_table("prior", entries, name)
    try:
        priors = {key: Prior.read(key, entry) for key, entry in entries.items()}
    except ModelFileError as error:
        raise ModelFileError(f"model {name}: {error}") from None
    reference = content.get("reference", {})
    _refuse_unknown("reference", reference, {"temperature_c"}, name)
    temperature = reference.get("temperature_c", 20.0)
    number = isinstance(temperature, int | float) and not isinstance(temperature, bool)
    if not number or not _COLDEST_C <= temperature <= _WARMEST_C:
        raise ModelFileError(
            f"model {name}: reference temperature_c = {shortened(repr(temperature))} is no number; "
            f"write −{-_COLDEST_C} to {_WARMEST_C}, in °C"
        )
    return ModelSpec(
        name=name,
        title=_read_title(content.get("title", name), name),
        parts=parts,
        priors=priors,
        reference_temperature=float(temperature),
        text=text,
    )


def model_folder() -> Path:
    """Return the folder of the model files: inside an installed package, or in the checkout."""
    package = Path(__file__).parent.parent
    installed = package / "model_files"
    return installed if installed.is_dir() else package.parent.parent / "models"


def model_names() -> tuple[str, ...]:
    """Return the names of the models that fishdown ships."""
    return tuple(sorted(path.stem for path in model_folder().glob("*.toml")))


def read_model(name: str | Path) -> ModelSpec:
    """Read a model by the name of a shipped one, or from the path of a model file.

    Parameters
    ----------
    name : str or Path
        For example ``"one_lake"`` or ``"my_models/deep_lake.toml"``.

    Raises
    ------
    ModelFileError
        If there is no such model, or its file is wrong.
    """
    path = Path(name)
    if path.suffix != ".toml":
        if str(name) not in model_names():
            meant = hint(str(name), model_names())
            raise ModelFileError(
                f"no model named {str(name)!r}{meant}; shipped: {', '.join(model_names())}; "
                "or give the path of a model file ending in .toml"
            )
        path = model_folder() / f"{name}.toml"
    try:
        text = as_text(read_plain(path))
    except UnreadableError as error:
        raise ModelFileError(f"cannot read the model file {path}: {error}") from None
    return parse_model(text, path.stem)


def _read_title(entry: Any, name: str) -> str:
    try:
        if not isinstance(entry, str):
            raise CellError(Wrong.NO_TEXT)
        return str(parse(entry.strip(), "text"))
    except CellError as error:
        shown = shortened(repr(entry))
        raise ModelFileError(f"model {name}: title = {shown}: {error.wrong}") from None


def _read_parts(entry: Any, name: str) -> dict[str, str]:
    known = chosen_parts()
    _refuse_unknown("part", entry, known, name)
    parts = {part: entry.get(part, known[part].default) for part in known}
    for part, choice in parts.items():
        choices = tuple(known[part].choices)
        if choice not in choices:
            raise ModelFileError(
                f"model {name}: {part} = {shortened(repr(choice))} is not a choice"
                f"{hint(str(choice), choices)}; valid: {', '.join(choices)}"
            )
    for one in known.values():
        if wrong := one.objection(parts):
            raise ModelFileError(f"model {name}: {wrong}")
    return parts


def _refuse_no_table(what: str, given: Any, name: str) -> None:
    if not isinstance(given, dict | MappingProxyType):
        raise ModelFileError(f"model {name}: {what} must be a table of names and values")


def _refuse_unknown(what: str, given: Any, known: Any, name: str) -> None:
    _refuse_no_table(what, given, name)
    unknown = sorted(set(given) - set(known))
    if unknown:
        meanings = ", ".join(sorted(known))
        shown = unknown[:_MOST_SHOWN]
        hints = ", ".join(f"{shortened(repr(word))}{hint(word, known)}" for word in shown)
        if len(unknown) > _MOST_SHOWN:
            hints += f" and {len(unknown) - _MOST_SHOWN:,} more"
        raise ModelFileError(f"model {name}: unknown {what} {hints}; valid: {meanings}")


# How people write the units of parameters.
_UNITS = {"ha-1": "fish/ha", "degree_Celsius": "°C", "d": "days"}
# The one parameter that is a temperature; the others in °C are differences of two.
_LEVELS = {"threshold_temperature"}


def in_shown_unit(name: str, values: FloatArray) -> FloatArray:
    """Return values of a parameter in the unit that is shown, see `fishdown.units`."""
    unit = _UNITS.get(parameters()[name].unit, parameters()[name].unit)
    change = unit == "°C" and name not in _LEVELS
    found: FloatArray = shown_change(values, unit) if change else shown(values, unit)
    return found


def meaning(name: str) -> str:
    """Return the meaning of a parameter with its unit, for a table of priors."""
    parameter = parameters()[name]
    unit = _UNITS.get(parameter.unit, parameter.unit)
    return parameter.meaning if unit == "1" else f"{parameter.meaning} [{unit}]"
