"""Units and meanings of the variables of a graph."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fishdown.models.parts import parameters

if TYPE_CHECKING:
    import xarray as xr


def labelled(draws: xr.Dataset) -> xr.Dataset:
    """Give every variable its unit and meaning."""
    draws.attrs = {}
    known = parameters()
    for name, array in draws.data_vars.items():
        base = str(name).removesuffix("_typical")
        if base == "abundance":
            array.attrs.update(units="count", long_name="fish in the lake before the first pull")
        elif base in known:
            parameter = known[base]
            typical = ", typical lake" if base != name else ""
            array.attrs.update(units=parameter.unit, long_name=parameter.meaning + typical)
        else:
            array.attrs.update(units="1", long_name=f"working variable of the sampler: {name}")
    return draws
