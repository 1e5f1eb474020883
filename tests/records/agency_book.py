"""The workbook of an agency with the usual slips; agency, lakes and numbers are invented."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

import openpyxl

# What is odd about it, and what a crew would have to mend by hand in the best case.
FAULTS = (
    "title rows above the headers",
    "headings of its own",
    "°F in the temperature column",
    "pounds, inches and acres",
    "dates as month/day/year",
    "days that the spreadsheet program took for months",
    "merged cells",
    "total row",
    "notes",
)
LAKES = (("Tamarack Pond", 61.0), ("Kettle Slough", 24.5))
FIRST = date(2025, 6, 9)


def written(day: date, *, swapped: bool) -> object:
    """Write a day as month/day/year; a program that swaps takes what it can for a date of its own.

    The 5th of June is 06/05/2025, which it takes for the 6th of May.
    """
    if swapped and day.day <= 12:
        return date(day.year, day.day, day.month)
    return f"{day.month:02}/{day.day:02}/{day.year}"


def agency_book(
    path: Path, *, swapped: bool = True, settings: tuple[tuple[str, str], ...] = ()
) -> Path:
    """Write the workbook.

    Parameters
    ----------
    swapped : bool
        Whether some of the days were taken for months when the pulls were typed.
    settings : tuple of (str, str)
        Rows of the sheet ``campaign`` behind the title and the species.
    """
    book = openpyxl.Workbook()
    campaign = book.active
    campaign.title = "Campaign"
    for row in [
        ("setting", "value"),
        ("title", "Lakes of the Bent River district 2025"),
        ("species", "common carp"),
        *settings,
    ]:
        campaign.append(row)

    lakes = book.create_sheet("Lakes")
    lakes.append(["Bent River district, waters under management"])
    lakes.append(["Waterbody", "Surface (acres)"])
    for lake in LAKES:
        lakes.append(lake)

    pulls = book.create_sheet("Pulls")
    pulls.append(["Bent River district: box net lifts 2025"])
    pulls.append([])
    pulls.append(["Day", "Waterbody", "Trap", "Carp", "Marked carp", "Water temp (F)", "Notes"])
    total = 0
    for visit in range(8):
        day = FIRST + timedelta(days=3 * visit)
        for trap in range(2):
            caught, marked = 90 - 8 * visit + 5 * trap, 4 - visit // 2 + trap
            total += caught
            note = "windy, lifted late" if (visit, trap) == (3, 0) else None
            pulls.append(
                [
                    written(day, swapped=swapped) if trap == 0 else None,
                    "Tamarack Pond" if visit % 2 == 0 else "Kettle Slough",
                    f"T{trap + 1}",
                    caught,
                    marked,
                    71.5 - visit if trap == 0 else None,
                    note,
                ]
            )
            if trap == 1:
                for column in "AF":
                    pulls.merge_cells(f"{column}{pulls.max_row - 1}:{column}{pulls.max_row}")
    pulls.append(["TOTAL", None, None, total])
    pulls.append(["Temperatures were taken at the dock with the old thermometer."])

    marked = book.create_sheet("Marked")
    marked.append(["Electrofishing, fin clips"])
    marked.append(["Day", "Waterbody", "Batch", "Tag type", "No. released"])
    for lake, number in (("Tamarack Pond", 120), ("Kettle Slough", 90)):
        marked.append(["05/14/2025", lake, f"{lake[0]} spring", "fin_clip", number])

    measured = book.create_sheet("Measured")
    measured.append(["Fish workup"])
    measured.append(["Day", "Waterbody", "Trap", "TL (in)", "Weight (lb)"])
    for fish in range(24):
        lake = LAKES[fish % 2][0]
        day = FIRST + timedelta(days=6 if fish % 2 == 0 else 9)
        length = 17.0 + 0.4 * fish
        weight = round(length**3 * 5.1e-4, 2)
        measured.append([f"{day.month:02}/{day.day:02}/{day.year}", lake, "T1", length, weight])
    book.save(path)
    return path
