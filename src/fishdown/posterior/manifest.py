"""The list of a saved fit's files with their checksums: whether they are what was written.

It is written with them. A file that was damaged or changed since, or that belongs to another fit
because a process was killed while it saved, no longer has its checksum; nothing of such a folder is
believed.
"""

from __future__ import annotations

import hashlib
import json
from typing import TYPE_CHECKING, Any

from fishdown.errors import FitError
from fishdown.version import __version__

if TYPE_CHECKING:
    from collections.abc import Collection
    from pathlib import Path

MANIFEST = "manifest.json"
# Of the folder as a whole: which files there are, and what is in them. 1 had no manifest.
# 14: a campaign has the area of its lakes at its pulls.
# 15: marks that are kept differ between lakes.
# 16: a campaign has the hours that its nets fished.
# 17: of marks at large by the records, those lost are never seen.
FORMAT = 17


def write_manifest(folder: Path) -> None:
    """Write the manifest of all files of a folder into it."""
    entry = {
        "format": FORMAT,
        "written_by": f"fishdown {__version__}",
        "sha256": {
            path.name: hashlib.sha256(path.read_bytes()).hexdigest()
            for path in sorted(folder.iterdir())
        },
    }
    (folder / MANIFEST).write_text(json.dumps(entry, indent=2) + "\n", encoding="utf-8")


def verified(folder: Path, needed: Collection[str], wanted: str) -> bytes:
    """Return the bytes of one file of a folder, if all files are as they were written.

    Parameters
    ----------
    needed : collection of str
        Files without which it holds no fit.
    wanted : str
        The file.

    Raises
    ------
    FitError
        Naming every file that is missing or not as it was written; or if the folder holds no fit,
        or one of another format.
    """
    found = _read(folder, wanted)
    if found.get("format") != FORMAT:
        raise FitError(
            f"{folder} holds a fit of format {found.get('format')}, written by "
            f"{found.get('written_by')}; this is fishdown {__version__}, which reads format "
            f"{FORMAT}: read it with that one, or fit the campaign again"
        )
    sums = found.get("sha256")
    if not isinstance(sums, dict) or not {*needed} <= {*sums}:
        raise FitError(_damaged(folder, [f"{MANIFEST} is damaged"]))
    contents: dict[str, bytes] = {}
    wrong = []
    for name, checksum in sorted(sums.items()):
        try:
            contents[name] = (folder / name).read_bytes()
        except FileNotFoundError:
            wrong.append(f"{name} is missing")
        except (OSError, ValueError) as error:
            wrong.append(f"{name} cannot be read ({getattr(error, 'strerror', None) or error})")
        else:
            if hashlib.sha256(contents[name]).hexdigest() != checksum:
                wrong.append(f"{name} is damaged, was changed, or is of another fit")
    if wrong:
        raise FitError(_damaged(folder, wrong))
    return contents[wanted]


def _read(folder: Path, wanted: str) -> dict[str, Any]:
    path = folder / MANIFEST
    try:
        found = json.loads(path.read_bytes())
    except FileNotFoundError as error:
        if not (folder / wanted).is_file():
            raise FitError(
                f"{folder} holds no fit: there is no {wanted}; run fishdown fit first"
            ) from error
        raise FitError(
            f"{folder} has no {MANIFEST}, so its files cannot be verified: it was "
            "removed, or an earlier fishdown wrote them; fit the campaign again"
        ) from error
    except (OSError, ValueError, RecursionError) as error:
        raise FitError(_damaged(folder, [f"{MANIFEST} cannot be read ({error})"])) from error
    if not isinstance(found, dict):
        raise FitError(_damaged(folder, [f"{MANIFEST} is damaged"]))
    return found


def _damaged(folder: Path, wrong: list[str]) -> str:
    return (
        f"{folder} no longer holds the fit that was saved: {'; '.join(wrong)}. Put the files back "
        "as they were, or fit the campaign again"
    )
