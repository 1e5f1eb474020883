"""Where the libraries keep machine code and the like if the home folder takes nothing."""

from __future__ import annotations

import os
from pathlib import Path

# By which the libraries are told where; PyTensor takes a list of settings.
_COMPILED, _DRAWING = "PYTENSOR_FLAGS", "MPLCONFIGDIR"


def have_a_place() -> None:
    """Keep it in a folder for this process alone, where the usual one cannot be made.

    As in a container without a home: PyTensor would end with an error, and Matplotlib complain. A
    folder that stays, where others can write too, might hold the machine code of somebody else.
    """
    asked = os.environ.get(_COMPILED, "")
    if "compiledir" in asked or _can_be_written(Path("~/.pytensor")):
        return
    import atexit
    import shutil
    import tempfile

    place = tempfile.mkdtemp(prefix="fishdown-")
    atexit.register(shutil.rmtree, place, ignore_errors=True)
    os.environ[_COMPILED] = ",".join(filter(None, (asked, f"base_compiledir={place}")))
    os.environ.setdefault(_DRAWING, place)


def _can_be_written(place: Path) -> bool:
    try:
        place = place.expanduser()
    except RuntimeError:
        return False
    there = next(one for one in (place, *place.parents) if one.exists())
    return there.is_dir() and os.access(there, os.W_OK | os.X_OK)
