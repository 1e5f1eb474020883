"""Time zones by name or offset: where the clock was that wrote a stamp without one."""

from __future__ import annotations

import re
from datetime import UTC, timedelta, timezone, tzinfo
from zoneinfo import ZoneInfo

from fishdown.records.cells import CellError
from fishdown.records.codes import Wrong

_OFFSET = re.compile(r"([+-])(\d{2}):(\d{2})", re.ASCII)


def zone_named(name: str) -> tzinfo:
    """Return the time zone of a name.

    Parameters
    ----------
    name : str
        Of the IANA database, such as ``America/Chicago``; ``UTC``; or an offset, ``-06:00``.

    Raises
    ------
    CellError
        If there is no such zone.
    """
    if name.upper() in {"UTC", "Z"}:
        return UTC
    if offset := _OFFSET.fullmatch(name):
        sign, hours, minutes = offset.groups()
        away = timedelta(hours=int(hours), minutes=int(minutes))
        if away <= timedelta(hours=14) and int(minutes) < 60:
            return timezone(-away if sign == "-" else away)
    try:
        return ZoneInfo(name)
    except (OSError, ValueError, KeyError):
        raise CellError(Wrong.UNKNOWN_TIME_ZONE) from None
