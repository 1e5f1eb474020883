"""Darwin Core: read back by an independent reader, which has a list of the terms, too."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pandas as pd
import pytest
from dwca.darwincore.terms import TERMS
from dwca.read import DwCAReader

from fishdown.cli import main
from fishdown.darwin_core.archive import write_darwin_core
from fishdown.darwin_core.tables import events, occurrences
from fishdown.darwin_core.terms import EVENT_TERMS, NAMESPACE, OCCURRENCE_TERMS
from fishdown.demo import demo_folder
from fishdown.records import read_records


@pytest.mark.parametrize("term", sorted({*EVENT_TERMS, *OCCURRENCE_TERMS}))
def test_terms_are_those_of_the_standard(term: str) -> None:
    """Against the list of python-dwca-reader, taken from http://rs.tdwg.org/dwc/."""
    assert f"{NAMESPACE}{term}" in TERMS


def test_an_independent_reader_finds_every_fish(tmp_path: Path) -> None:
    records = read_records(demo_folder() / "watershed")
    said = write_darwin_core(records, tmp_path / "dwc")
    assert {path.name for path in (tmp_path / "dwc").iterdir()} == {
        "event.csv", "occurrence.csv", "meta.xml"
    }  # fmt: skip
    assert said == [
        "Coordinates, country, licence and a description of the data set are not in the records: "
        "add them before publishing."
    ]
    fish: dict[str, int] = {}
    identifiers, pulls = [], 0
    with DwCAReader(str(tmp_path / "dwc")) as archive:
        assert archive.descriptor.core.type == f"{NAMESPACE}Event"
        assert archive.descriptor.extensions_type == [f"{NAMESPACE}Occurrence"]
        for row in archive:
            identifiers.append(row.id)
            pulls += row.data[f"{NAMESPACE}sampleSizeUnit"] == "pull"
            assert bool(row.extensions) == (row.data[f"{NAMESPACE}sampleSizeUnit"] == "pull")
            for found in row.extensions:
                identifiers.append(found.data[f"{NAMESPACE}occurrenceID"])
                name = found.data[f"{NAMESPACE}scientificName"]
                count = int(found.data[f"{NAMESPACE}individualCount"])
                status = found.data[f"{NAMESPACE}occurrenceStatus"]
                assert status == ("present" if count else "absent")
                fish[name] = fish.get(name, 0) + count
    assert len(set(identifiers)) == len(identifiers)
    assert pulls == len(records.pulls)
    assert fish == {
        "Cyprinus carpio": records.pulls["caught"].sum(),
        "Ictalurus punctatus": 231,
        "Ictiobus cyprinellus": 95,
        "Aplodinotus grunniens": 43,
    }


def test_the_description_is_as_the_text_guide_asks(tmp_path: Path) -> None:
    """Elements and attributes of the text guide (http://rs.tdwg.org/dwc/text/; from memory)."""
    write_darwin_core(read_records(demo_folder() / "watershed"), tmp_path)
    space = "{http://rs.tdwg.org/dwc/text/}"
    archive = ElementTree.parse(tmp_path / "meta.xml").getroot()
    assert archive.tag == f"{space}archive"
    core, extension = archive
    assert [core.tag, extension.tag] == [f"{space}core", f"{space}extension"]
    assert core.find(f"{space}id").attrib == {"index": "0"}
    assert extension.find(f"{space}coreid").attrib == {"index": "0"}
    for table in (core, extension):
        assert table.attrib["fieldsTerminatedBy"] == ","
        assert table.attrib["linesTerminatedBy"] == "\\n"
        assert table.attrib["fieldsEnclosedBy"] == '"'
        assert table.attrib["ignoreHeaderLines"] == "1"
        file = tmp_path / table.find(f"{space}files/{space}location").text
        header = file.read_text(encoding="utf-8").splitlines()[0].split(",")
        fields = [field.attrib for field in table.findall(f"{space}field")]
        assert [field["term"] for field in fields] == [f"{NAMESPACE}{term}" for term in header]
        assert [field["index"] for field in fields] == [str(n) for n in range(len(header))]


def written(folder_of: Callable[..., Path], **more: list[dict[str, Any]]) -> Path:
    pull = {"lake": "Mere/3", "caught": 5, "net": "A: reed"}
    return folder_of(
        lakes=[{"lake": "Mere/3", "area_ha": 3}],
        pulls=[
            {**pull, "date": "2024-06-01", "order": 1, "recaptured": "", "mesh_mm": 50},
            {**pull, "date": "2024-06-01", "order": 2, "released_again": 2},
            {**pull, "date": "2024-06-02", "caught": 0},
            {**pull, "date": "2024-06-03", "spoiled": "yes"},
            {**pull, "date": "2024-06-04", "bycatch_counted": "no"},
        ],
        **more,
    )


def row(date: str, count: int, **more: Any) -> dict[str, Any]:
    at = {"date": date, "lake": "Mere/3", "net": "A: reed", "species": "roach"}
    return {**at, "count": count, **more}


def test_events_and_their_fish(folder_of: Callable[..., Path]) -> None:
    bycatch = [row("2024-06-01", 3, dead=1), row("2024-06-01", 1), row("2024-06-05", 2)]
    records = read_records(written(folder_of, bycatch=bycatch))
    table = events(records).set_index("eventID")
    place = "Mere%2F3/2024"
    day = f"{place}/2024-06-01/A%3A%20reed"
    assert table.loc[place, "eventDate"] == "2024-06-01/2024-06-04"
    assert table.loc[place, ["sampleSizeValue", "sampleSizeUnit"]].tolist() == ["5", "pulls"]
    # Two pulls of a net on a day are within an event, which has the bycatch.
    assert table.loc[[f"{day}/1", f"{day}/2"], "parentEventID"].tolist() == [day, day]
    assert table.loc[day, "parentEventID"] == place
    assert json.loads(table.loc[f"{day}/1", "dynamicProperties"]) == {"mesh_mm": 50.0}
    remarks = table["eventRemarks"].to_dict()
    assert remarks[f"{place}/2024-06-03/A%3A%20reed/1"] == "void lift: it failed to fish properly"
    assert remarks[f"{place}/2024-06-04/A%3A%20reed/1"] == "bycatch was not counted"
    assert remarks[f"{place}/2024-06-05/A%3A%20reed"] == "bycatch without a pull on record"

    found = occurrences(records)
    assert set(found["eventID"]) <= set(table.index)
    assert found["occurrenceID"].is_unique
    roach = found[found["vernacularName"] == "roach"].set_index("eventID")
    assert roach["individualCount"].to_dict() == {
        day: "4",
        f"{place}/2024-06-02/A%3A%20reed/1": "0",  # counted, and none: an absence
        f"{place}/2024-06-05/A%3A%20reed": "2",
    }
    assert roach.loc[day, "occurrenceRemarks"] == "1 dead"
    assert roach["occurrenceStatus"].tolist() == ["present", "absent", "present"]
    carp = found[found["vernacularName"] == "common carp"]
    assert carp["individualCount"].tolist() == ["5", "5", "0", "5", "5"]
    assert carp["occurrenceRemarks"].tolist()[1] == "2 released alive"


def test_species_without_a_scientific_name_are_told(
    folder_of: Callable[..., Path], tmp_path: Path
) -> None:
    bycatch = [row("2024-06-02", 3), row("2024-06-02", 1) | {"species": "tench"}]
    names = [{"species": "tench", "scientific_name": "Tinca tinca"}]
    records = read_records(written(folder_of, bycatch=bycatch, species_names=names))
    assert write_darwin_core(records, tmp_path / "dwc")[0] == (
        "Without a scientific name: roach. Give it in species_names.csv (columns species and "
        "scientific_name)."
    )
    file = pd.read_csv(tmp_path / "dwc" / "occurrence.csv").set_index("vernacularName")
    assert set(file.loc["tench", "scientificName"]) == {"Tinca tinca"}
    assert file.loc["roach", "scientificName"].isna().all()


def test_the_command(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "dwc"
    folder = str(demo_folder() / "watershed")
    assert main(["bycatch", folder, "--darwin-core", str(out)]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "as Darwin Core: event.csv, occurrence.csv, meta.xml." in said
    assert "add them before publishing." in said
    assert {path.name for path in out.iterdir()} == {"event.csv", "occurrence.csv", "meta.xml"}
