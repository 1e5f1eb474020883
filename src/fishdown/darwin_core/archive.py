"""The tables as files, with the description that the text guide of Darwin Core asks for."""

from __future__ import annotations

from typing import TYPE_CHECKING
from xml.etree import ElementTree

from fishdown.atomic_write import all_or_none
from fishdown.darwin_core.tables import events, occurrences, scientific_names
from fishdown.darwin_core.terms import (
    EVENT,
    EVENT_TERMS,
    NAMESPACE,
    OCCURRENCE,
    OCCURRENCE_TERMS,
    TEXT_NAMESPACE,
)
from fishdown.spreadsheet import write_csv

if TYPE_CHECKING:
    import os

    from fishdown.records.checked import Records

EVENTS, OCCURRENCES, META = "event.csv", "occurrence.csv", "meta.xml"


def write_darwin_core(records: Records, folder: str | os.PathLike[str]) -> list[str]:
    """Write pulls and the fish in them as a Darwin Core archive, a folder of three files.

    Parameters
    ----------
    records : Records
    folder : str or path-like
        Made if need be.

    Returns
    -------
    list of str
        What is lacking before the data can be published, in sentences.

    Raises
    ------
    FishdownError
        If the folder cannot be written.
    """
    fish = occurrences(records)
    with all_or_none(folder, make=True) as staged:
        write_csv(events(records), staged / EVENTS)
        write_csv(fish, staged / OCCURRENCES)
        (staged / META).write_text(meta(), encoding="utf-8")
    names = scientific_names(records)
    lacking = [name for name in dict.fromkeys(fish["vernacularName"]) if name not in names]
    sentences = []
    if lacking:
        sentences.append(
            f"Without a scientific name: {', '.join(lacking)}. Give it in species_names.csv "
            "(columns species and scientific_name)."
        )
    return [
        *sentences,
        "Coordinates, country, licence and a description of the data set are not in the records: "
        "add them before publishing.",
    ]


def meta() -> str:
    """Return the text of meta.xml, by the text guide of Darwin Core."""
    archive = ElementTree.Element("archive", {"xmlns": TEXT_NAMESPACE})
    for tag, row_type, file, terms, joined in (
        ("core", EVENT, EVENTS, EVENT_TERMS, "id"),
        ("extension", OCCURRENCE, OCCURRENCES, OCCURRENCE_TERMS, "coreid"),
    ):
        table = ElementTree.SubElement(
            archive,
            tag,
            {
                "encoding": "UTF-8",
                "fieldsTerminatedBy": ",",
                "linesTerminatedBy": "\\n",
                "fieldsEnclosedBy": '"',
                "ignoreHeaderLines": "1",
                "rowType": row_type,
            },
        )
        files = ElementTree.SubElement(table, "files")
        ElementTree.SubElement(files, "location").text = file
        ElementTree.SubElement(table, joined, {"index": "0"})
        for place, term in enumerate(terms):
            field = {"index": str(place), "term": f"{NAMESPACE}{term}"}
            ElementTree.SubElement(table, "field", field)
    ElementTree.indent(archive)
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        + ElementTree.tostring(archive, encoding="unicode")
        + "\n"
    )
