"""The terms of Darwin Core that the tables use, and the names of the standard.

Darwin Core is a standard of Biodiversity Information Standards (TDWG): Darwin Core terms and Darwin
Core text guide, http://rs.tdwg.org/dwc/ (names from memory; the tests check the terms against the
list of an independent reader).
"""

from __future__ import annotations

NAMESPACE = "http://rs.tdwg.org/dwc/terms/"
TEXT_NAMESPACE = "http://rs.tdwg.org/dwc/text/"
EVENT, OCCURRENCE = f"{NAMESPACE}Event", f"{NAMESPACE}Occurrence"

# The first column of each table joins the two.
EVENT_TERMS = (
    "eventID", "parentEventID", "eventDate", "samplingProtocol", "sampleSizeValue",
    "sampleSizeUnit", "waterBody", "locality", "eventRemarks", "dynamicProperties", "datasetName",
)  # fmt: skip
OCCURRENCE_TERMS = (
    "eventID", "occurrenceID", "basisOfRecord", "occurrenceStatus", "individualCount",
    "scientificName", "vernacularName", "occurrenceRemarks",
)  # fmt: skip
