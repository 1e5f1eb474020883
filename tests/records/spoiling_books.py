"""Ways to spoil a workbook: its cells, the parts of its archive, its bytes."""

from __future__ import annotations

import io
import re
import zipfile

import openpyxl
from hypothesis import strategies as st
from spoiling import CAMPAIGN, TABLES, Table, at, parsed, places, spoiled_bytes, spoiled_table


def plain_tables() -> dict[str, Table]:
    settings = [line.split(" = ") for line in CAMPAIGN.splitlines()]
    sheets = {"campaign": [["setting", "value"], *([a, b.strip('"')] for a, b in settings)]}
    return sheets | {name.removesuffix(".csv"): parsed(text) for name, text in TABLES.items()}


VALUES = (
    None, True, 0, -1, 1.5, 1e308, 10**15, "=A1", "=1/0", "#REF!", "#N/A", "text", "", " ",
    "2025-06-02", "Sedge Lake", "x" * 5000,
)  # fmt: skip
XML = (
    b'<row r="3"', b'<row r="0"', b'<row r="-1"', b'<row r="99999999"', b"<row", b"</row>", b"<v>",
    b'r="XFD9"', b'r="ZZZZ1"', b'r="A1"', b't="s"', b't="b"', b't="d"', b't="e"', b't="n"',
    b't="str"', b't="inlineStr"', b't="zz"', b's="999"', b's="-1"', b"<v>-1</v>", b"<v>1e999</v>",
    b"<v>99999999</v>", b"<v></v>", b"<f>A1</f>", b'<f t="shared" si="0"/>', b"&amp;", b"&boom;",
    b"]]>", b"<!-- ", b"<?x ", b"\xff\xfe", b'name="pulls"', b'name=" Lakes "', b'sheetId="1"',
    b'r:id="rId1"', b'r:id="rId99"', b'Target="nowhere.xml"', b'Target="/xl/styles.xml"', b"<is>",
    b'date1904="1"', b'ref="A1:XFD1048576"', b'ref="zz"', b'count="-1"', b'min="x"',
)  # fmt: skip
TAG = re.compile(rb'<[^<>]*>|[\w:]+="[^"]*"|>[^<]+<')


def workbook(tables: dict[str, Table], changes: list[tuple[str, str, object]] = ()) -> bytes:
    book = openpyxl.Workbook()
    book.remove(book.active)
    for name, table in tables.items():
        sheet = book.create_sheet(name)
        for line in table:
            sheet.append([value(cell) for cell in line])
    for name, cell, new in changes:
        book[name][cell] = new
    content = io.BytesIO()
    book.save(content)
    return content.getvalue()


def value(cell: str) -> object:
    text = re.sub(r"[\x00-\x1f]", "", cell)[:30_000]
    for kind in (int, float):
        try:
            number = kind(text)
        except ValueError:
            continue
        return number if abs(number) < 1e300 else text
    return text


@st.composite
def spoiled_workbooks(draw: st.DrawFn) -> bytes:
    """Return the bytes of a spoiled workbook."""
    tables = plain_tables()
    match draw(st.sampled_from(["cells", "parts", "parts", "parts", "bytes"])):
        case "cells":
            name = draw(st.sampled_from([*tables]))
            tables[name] = draw(spoiled_table(tables[name]))
            changes = [
                (
                    draw(st.sampled_from([*tables])),
                    draw(st.sampled_from(["A1", "A2", "B3", "D2", "D3", "XFD3", "XFD100000"])),
                    draw(st.one_of(st.sampled_from(VALUES), st.datetimes(), st.times())),
                )
                for _ in range(draw(st.integers(0, 3)))
            ]
            return workbook(tables, changes)
        case "parts":
            return draw(spoiled_parts(workbook(tables)))
        case _:
            return draw(spoiled_bytes(workbook(tables)))


@st.composite
def spoiled_parts(draw: st.DrawFn, content: bytes) -> bytes:
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    names = sorted(parts)
    for _ in range(draw(st.integers(1, 3))):
        name = names[at(draw(places), names)]
        match draw(st.sampled_from(["xml", "xml", "xml", "bytes", "drop", "swap"])):
            case "xml":
                spots = [*TAG.finditer(parts.get(name, b""))]
                if spots:
                    spot = spots[at(draw(places), spots)]
                    new = draw(st.one_of(st.just(b""), st.sampled_from(XML)))
                    parts[name] = parts[name][: spot.start()] + new + parts[name][spot.end() :]
            case "bytes":
                parts[name] = draw(spoiled_bytes(parts.get(name, b"")))
            case "drop":
                parts.pop(name, None)
            case "swap":
                other = names[at(draw(places), names)]
                parts[name], parts[other] = parts.get(other, b""), parts.get(name, b"")
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", draw(st.sampled_from([0, 8, 12]))) as archive:
        for name, part in parts.items():
            archive.writestr(name, part)
    return packed.getvalue()
