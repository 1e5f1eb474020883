"""Ways to spoil a campaign, for tests that try thousands of them; and what must come of it."""

from __future__ import annotations

import contextlib
import csv
import io
import os
import re
import shutil
import signal
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path
from types import FrameType

from hypothesis import strategies as st

import fishdown
from fishdown.cli import main

CAMPAIGN = (
    'title = "Two lakes"\nspecies = "common carp"\ncost_per_pull = 180.5\n'
    'time_zone = "America/Chicago"\n'
)
TABLES = {
    "lakes.csv": "lake,area_ha,connected\nSedge Lake,42,no\nHeron Pond,6.5,yes\n",
    "marked.csv": (
        "date,lake,batch,mark,released,died,order\n2025-04-22,Sedge Lake,S1,both,50,2,\n"
        "2025-04-23,Heron Pond,H1,fin_clip,30,,\n2024-06-03,Heron Pond,H0,pit_tag,9,,1\n"
    ),
    "pulls.csv": (
        "date,lake,net,caught,released_again,water_temp_c,season,order,mesh_mm,bait_days,spoiled,"
        "bycatch_counted\n"
        "2025-06-02,Sedge Lake,N1,120,0,19.5,2025,1,,2,no,yes\n"
        "2025-06-02,Sedge Lake,N2,80,,19.5,2025,2,40,,,\n"
        "2025-06-10,Sedge Lake,N1,60,1,21,2025,,,,yes,no\n"
        "2024-06-03,Heron Pond,P1,40,,20,,2,,,,\n2025-06-12,Heron Pond,P1,25,,22.5,,,,,,\n"
    ),
    "recaptures.csv": (
        "date,lake,net,batch,count,tag_id,clip_seen,tag_read\n"
        "2025-06-02,Sedge Lake,N1,S1,3,,yes,yes\n2025-06-10,Sedge Lake,N1,S1,1,00A1,no,yes\n"
        "2025-06-12,Heron Pond,P1,H1,2,,,\n"
    ),
    "measured.csv": "date,lake,net,length_mm,weight_kg\n"
    + "".join(f"2025-06-02,Sedge Lake,N1,{length},2.5\n" for length in range(520, 640, 10))
    + "2025-06-12,Heron Pond,P1,510,\n2025-06-12,Heron Pond,,,2.1\n",
    "movements.csv": (
        "date,lake,movement,fish,share,marked,standard_error,other_lake\n"
        "2025-06-05,Sedge Lake,angled,12,,1,3,\n2025-06-04,Sedge Lake,moved_out,5,,,,Heron Pond\n"
        "2024-12-20,Heron Pond,winterkill,,0.3,,0.1,\n2025-04-02,Heron Pond,stocked,40,,,,\n"
    ),
    "surveys.csv": (
        "date,lake,gear,marking_gear,caught,examined,marked,effort_h\n"
        "2025-06-20,Sedge Lake,seine,no,31,30,2,1.5\n2025-04-25,Sedge Lake,boat,yes,40,,3,\n"
    ),
    "second_looks.csv": (
        "date,lake,examiner,found_first,found_second\n2025-06-02,Sedge Lake,night crew,3,1\n"
    ),
    "bycatch.csv": (
        "date,lake,net,species,count,dead\n2025-06-02,Sedge Lake,N1,channel catfish,4,1\n"
        "2025-06-12,Heron Pond,P1,pike,1,\n"
    ),
    "bycatch_limits.csv": (
        "species,lake,season,limit,fish\nchannel catfish,Sedge Lake,2025,3,dead\npike,all,,9,all\n"
        "all,all,,50,all\n"
    ),
    "species_names.csv": "species,scientific_name\npike,Esox lucius\n",
    "tags.csv": "lake,batch,tag_id\nSedge Lake,S1,00A1\nSedge Lake,S1,00A3\nHeron Pond,H0,00A2\n",
    "detections.csv": (
        "time,lake,net,tag_id\n2025-06-02T22:04:00-06:00,Sedge Lake,N1,00A1\n"
        "2025-06-03T04:10:30Z,Sedge Lake,N1,00A2\n2025-05-30T04:10:30,Sedge Lake,N1,00A3\n"
    ),
    "clock_checks.csv": (
        "time,lake,net,fast_s\n2025-06-02T20:00:00Z,Sedge Lake,N1,4\n"
        "2025-06-09T20:00:00Z,Sedge Lake,,-31.5\n"
    ),
}
# Cells that somebody, or some program, has written once; and some that nobody should have.
CELLS = (
    "", " ", "0", "-1", "+3", "1.5", "1,5", "1e5", "1e308", "1e-308", "1e9999", "9" * 400, "1_000",
    "0x10", "nan", "-inf", "10000000", "10000001", "16777217", "1e-9", "2025-06-02", "2024-06-03",
    "2024-12-31", "9999-12-31", "0001-01-01", "2262-04-12", "1677-09-21", "2100-12-31",
    "1950-01-01", "2025-02-30", "2025-W01-1", "20250602", "2/6/2025", "2025-06-02T22:04:00Z",
    "9999-12-31T23:59:59-14:00", "0001-01-01T00:00:00+14:00", "2025", "2024", "1999", "9999", "yes",
    "no", "maybe", "both", "pit_tag", "Sedge Lake", "sedge lake", "Heron Pond", "N1", "P1", "S1",
    "H1", "None", "NULL", "=1+1", "#REF!", "x" * 5000, "x" * 140_000, "\0", "\x1b[2J", "\a", "\n",
    "\r", '"', '""', '"a', "a,b", "a;b", "\u202e", "\ufeff", "\U0010ffff", "\u2028", "ß", "İ", "٣",
    "Total", "Subtotal:", "EXAMPLE: replace this row", "14.06.2025", "6/14/25", "14/06/2025",
    "1.234,5", "68 °F", "date", "area_acres", "weight_lb", "water_temp_f", "Storm. No netting.",
    "２０２５", "[bold]", ":fish:", "%s", "{}", "../..", "campaign.toml",
)  # fmt: skip
SETTINGS = (
    "title", "title = ", "title = 5", "title = nan", 'title = ""', 'title = "\\u001b[2J"',
    "title = 2025-01-01", "title = '''", "species = []", 'species = "carp"', "species = { a = 1 }",
    "threshold_kg_per_ha = nan", "threshold_kg_per_ha = inf", "threshold_kg_per_ha = -0.0",
    "threshold_kg_per_ha = 1e308", f"threshold_kg_per_ha = 1{'0' * 5000}",
    f"cost_per_pull = 0x{'f' * 5000}", "cost_per_pull = 1979-05-27T07:32:00Z", "[title]",
    "[[species]]", f"deep = {'[' * 1500}{']' * 1500}", f"{'a.' * 1500}a = 1", "a = 1\na = 2",
    'model = "nowhere.toml"', 'currency = "\\U0010ffff"', "# \u2028", "\0", "unknown = 1",
    'dates = "day.month.year"', 'dates = "month/day/year"', 'dates = "dd"', "dates = 3",
    'decimal = "comma"', "decimal = []", 'units = "us"', "units = 1", "threshold_lb_per_acre = 80",
    'headings.pulls.caught = "Carp"', 'headings.pulls.net = "date"', "headings = 3",
    "[headings.pulls]\ncaught = 5", 'headings.lakes.area_ha = "lake"', "headings.a.b.c.d = 1",
    'headings.lakes = "x"', "[[headings]]", 'headings."pulls".lake = "\\u001b[2J"',
)  # fmt: skip

cells = st.one_of(
    st.sampled_from(CELLS), st.text(max_size=12), st.floats().map(str), st.dates().map(str)
)
places = st.floats(0.0, 1.0, exclude_max=True)


def at(place: float, items: list) -> int:
    """Turn a share into a position, so that the same draw fits lists of any length."""
    return int(place * len(items))


# --- what must come of it


def outcome(path: Path) -> int:
    """Check a campaign as a person would: 0 or 1 with readable words, within two minutes."""
    printed = io.TextIOWrapper(io.BytesIO(), encoding="utf-8")
    refused = io.StringIO()
    with within(seconds=120), contextlib.redirect_stdout(printed):
        with contextlib.redirect_stderr(refused):
            code = main(["check", str(path)])
        if code == 0:
            assert fishdown.read(path).pulls.sizes["pull"] > 0
    printed.flush()
    said = printed.buffer.getvalue().decode("utf-8")
    assert code in (0, 1)
    assert (refused.getvalue() == "") is (code == 0)
    if code == 1:
        assert said == ""
        assert re.match(r"[\d,]+ problems? in the records:\n  ", refused.getvalue())
    for text in (said, refused.getvalue()):
        assert "Traceback" not in text
        assert not re.search(r"[\x00-\x09\x0b-\x1f\x7f-\x9f]", text)
        assert len(text.splitlines()) < 8_000
        assert max(map(len, text.splitlines()), default=0) < 2_500
    return code


@contextlib.contextmanager
def within(seconds: int) -> Iterator[None]:
    def late(number: int, frame: FrameType | None) -> None:
        raise AssertionError(f"still at work after {seconds} s")

    before = signal.signal(signal.SIGALRM, late)
    signal.alarm(seconds)
    try:
        yield
    finally:
        signal.alarm(0)
        signal.signal(signal.SIGALRM, before)


@contextlib.contextmanager
def somewhere(name: bytes = b"campaign") -> Iterator[Path]:
    home = Path(tempfile.mkdtemp(prefix="spoiled-"))
    try:
        yield home / os.fsdecode(name)
    finally:
        shutil.rmtree(home)


# --- tables

Table = list[list[str]]


@st.composite
def spoiled_table(draw: st.DrawFn, table: Table) -> Table:
    """Spoil cells, rows or columns of a table (header and rows)."""
    kind = draw(st.sampled_from(["mild", "mild", "mild", "cell", "cell", "row", "column"]))
    table = [[*line] for line in table]
    row = at(draw(places), table)
    column = at(draw(places), table[0])
    match kind:
        case "mild":
            # What another row has there, or nothing: mostly good records that differ.
            other = table[at(draw(places), table)] if draw(st.booleans()) else [""] * 99
            if column < min(len(table[row]), len(other)) and row > 0:
                table[row][column] = other[column]
        case "cell":
            if column < len(table[row]):
                table[row][column] = draw(cells)
        case "row":
            match draw(st.sampled_from(["drop", "double", "many", "short", "long", "move"])):
                case "drop":
                    del table[row]
                case "double":
                    table.insert(row, table[row])
                case "many":
                    table += [table[row]] * 300
                case "short":
                    del table[row][column:]
                case "long":
                    table[row].append(draw(cells))
                case "move":
                    table.append(table.pop(row))
        case "column":
            match draw(st.sampled_from(["drop", "double", "rename", "same", "empty"])):
                case "drop":
                    for line in table:
                        del line[column : column + 1]
                case "double":
                    table = [[*line, *line[column : column + 1]] for line in table]
                case "rename":
                    table[0][column] = draw(cells)
                case "same":
                    value = draw(cells)
                    table[1:] = [[*line[:column], value, *line[column + 1 :]] for line in table[1:]]
                case "empty":
                    table[1:] = [[*line[:column], "", *line[column + 1 :]] for line in table[1:]]
    return table if table and table[0] else [[""]]


def parsed(text: str) -> Table:
    return list(csv.reader(io.StringIO(text, newline="")))


@st.composite
def spoiled_bytes(draw: st.DrawFn, content: bytes) -> bytes:
    """Flip, cut, insert or drop bytes."""
    start = at(draw(places), [*range(len(content) + 1)])
    match draw(st.sampled_from(["flip", "cut", "insert", "drop", "swap"])):
        case "flip":
            return (
                content[:start]
                + bytes(byte ^ 0x41 for byte in content[start : start + 1])
                + (content[start + 1 :])
            )
        case "cut":
            return content[:start]
        case "insert":
            return content[:start] + draw(st.binary(max_size=8)) + content[start:]
        case "drop":
            return content[:start] + content[start + draw(st.integers(1, 40)) :]
        case _:
            half = start // 2
            return content[start:] + content[half:start] + content[:half]


# --- folders


@st.composite
def spoiled_file(draw: st.DrawFn, name: str) -> Callable[[Path], None]:
    """Return what puts a spoiled file of that name into a folder."""
    kind = draw(st.sampled_from([*["table"] * 8, "bytes", "form", "place"]))
    if name == "campaign.toml" and kind == "table":
        lines = CAMPAIGN.splitlines()
        lines[at(draw(places), lines)] = draw(st.one_of(st.sampled_from(SETTINGS), cells))
        return put("\n".join(lines))
    text = CAMPAIGN if name == "campaign.toml" else TABLES[name]
    match kind:
        case "table":
            table = parsed(text)
            for _ in range(draw(st.integers(1, 2))):
                table = draw(spoiled_table(table))
            return put(written(table))
        case "bytes":
            return put(draw(spoiled_bytes(text.encode())))
        case "form":
            return put(draw(st.sampled_from(FORMS))(text))
        case _:
            return draw(st.sampled_from(PLACES))


def put(content: str | bytes) -> Callable[[Path], None]:
    whole = content.encode("utf-8", "surrogatepass") if isinstance(content, str) else content
    return lambda path: void(path.write_bytes(whole))


def void(_: object) -> None:
    """Let a result go."""


def written(table: Table) -> str:
    text = io.StringIO(newline="")
    csv.writer(text, lineterminator="\n").writerows(table)
    return text.getvalue()


FORMS: tuple[Callable[[str], bytes], ...] = (
    lambda text: text.encode("utf-16"),
    lambda text: text.replace("e", "é").encode("latin-1"),
    lambda text: text.encode("utf-8-sig"),
    lambda text: text.encode("cp037"),
    lambda text: text.replace(",", ";").encode(),
    lambda text: text.replace(",", "\t").encode(),
    lambda text: text.replace("\n", "\r").encode(),
    lambda text: text.replace("\n", "\r\n").encode(),
    lambda text: text.replace("\n", "").encode(),
    lambda text: text.replace(",", '","').encode(),
    lambda text: b"",
    lambda text: b"\xef\xbb\xbf",
    lambda text: b"\0" * 3000,
    lambda text: b"PK\x03\x04" + text.encode(),
)
PLACES: tuple[Callable[[Path], None], ...] = (
    Path.mkdir,
    os.mkfifo,
    lambda path: None,
    lambda path: path.symlink_to(path.with_name("gone")),
    lambda path: path.symlink_to(path),
    lambda path: path.symlink_to(path.parent),
    lambda path: path.symlink_to("/dev/null"),
    lambda path: path.symlink_to("lakes.csv" if path.name != "lakes.csv" else "pulls.csv"),
    lambda path: void([put("x\n")(path), put("x\n")(path.with_name(path.name.title()))]),
    lambda path: put("x\n")(path.with_name(path.name.upper())),
    lambda path: void([path.mkdir(), put("x\n")(path / "inside")]),
)
EXTRAS = (b"notes.txt", b"pull.csv", b"p\xfflls.csv", b"\x1b[2J.csv", b"a\nb.csv", b".csv", b"CON")


@st.composite
def spoiled_folders(draw: st.DrawFn) -> Callable[[Path], None]:
    """Return what makes a spoiled campaign folder at a path."""
    names = ["campaign.toml", *TABLES]
    spoiled = draw(st.lists(st.sampled_from(names), min_size=1, max_size=2, unique=True))
    files = {name: draw(spoiled_file(name)) for name in spoiled}
    dropped = draw(st.sampled_from([*[[]] * 20, *([name] for name in names)]))
    extras = draw(st.sampled_from([*[[]] * 20, *([name] for name in EXTRAS)]))

    def make(folder: Path) -> None:
        folder.mkdir()
        for name in names:
            if name in files:
                files[name](folder / name)
            elif name not in dropped:
                put(CAMPAIGN if name == "campaign.toml" else TABLES[name])(folder / name)
        for name in extras:
            put("x\n")(folder / os.fsdecode(name))

    return make
