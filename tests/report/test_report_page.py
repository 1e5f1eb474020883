"""The page without a browser: its numbers are those of the files, and nothing slips through."""

from __future__ import annotations

import base64
import csv
import html
import io
import itertools
import os
import re
from collections.abc import Callable
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path

import pandas as pd
import pytest
from drawn_fits import HOSTILE, drawn_fit, records

import fishdown
from fishdown import Fit
from fishdown.cli import main
from fishdown.report import render
from fishdown.words import amount, percent, percent_with_error, with_error

PageOf = Callable[..., Path]
FILES = {"verdicts", "estimates", "removals"}
# Sentences, no numbers of their own.
WORDS = {"checks"}
BYCATCH = {"bycatch", "bycatch_limits", "bycatch_effects"}
# Downloads only.
LAKES = {"comparison", "lake_pairs"}
# What a manager should not have to know.
JARGON = re.compile(
    r"posterior|prior\b|priors\b|likelihood|R-hat|\bESS\b|MCMC|Monte|sampler|divergen|catchability"
    r"|beta-binomial|hypergeometric|equal-tailed|quantile|[α-ω]|nan\b",
    re.IGNORECASE,
)


class Reader(HTMLParser):
    """Collects what the tests look at: numbers, pictures, links, tags, and text by part."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.numbers: list[tuple[dict[str, str], str]] = []
        self.pictures: list[dict[str, str]] = []
        self.links: list[dict[str, str]] = []
        self.tags: list[str] = []
        self.headings: list[int] = []
        self.manager: list[str] = []
        self._number: dict[str, str] | None = None
        self._open: list[tuple[str, bool]] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        found = {name: value or "" for name, value in attrs}
        self.tags.append(tag)
        if tag == "data":
            self._number = found
        if tag == "img":
            self.pictures.append(found)
        if tag == "a":
            self.links.append(found)
        if re.fullmatch(r"h[1-6]", tag):
            self.headings.append(int(tag[1]))
        if tag not in {"img", "meta", "link", "input", "line", "circle", "rect", "br"}:
            hidden = tag in {"style", "title"} or "science" in found.get("class", "").split()
            self._open.append((tag, hidden))

    def handle_endtag(self, tag: str) -> None:
        while self._open and self._open.pop()[0] != tag:
            pass
        if tag == "data":
            self._number = None

    def handle_data(self, data: str) -> None:
        if self._number is not None:
            self.numbers.append((self._number, data))
        if not any(hidden for _, hidden in self._open):
            self.manager.append(data)


@pytest.fixture(scope="module")
def demo(demo_fit: Fit, page_of: PageOf) -> tuple[Path, Reader]:
    folder = page_of(demo_fit)
    return folder, Reader((folder / "report.html").read_text(encoding="utf-8"))


def downloads(reader: Reader) -> dict[str, str]:
    return {
        link["download"].removesuffix(".csv"): base64.b64decode(
            link["href"].split(",", 1)[1]
        ).decode("utf-8")
        for link in reader.links
        if "download" in link
    }


def test_every_number_is_that_of_the_file(demo: tuple[Path, Reader]) -> None:
    folder, reader = demo
    tables = downloads(reader)
    told = {"effort", "evidence", "sources", "cooling"}
    assert set(tables) == FILES | told | {*BYCATCH} | WORDS | LAKES
    for name in FILES:
        tables[name] = (folder / f"{name}.csv").read_text(encoding="utf-8")
    rows = {name: list(csv.DictReader(io.StringIO(text))) for name, text in tables.items()}
    seen = dict.fromkeys(rows, 0)
    for number, text in reader.numbers:
        name, row, column = number["data-from"].split(":")
        cell = rows[name][int(row)]
        assert number["value"] == cell[column]
        value = float(number["data-times"]) * float(cell[column])
        allowed = {
            amount(value),
            f"{value:,.0f}",
            f"{value:.4f}",
            percent(value) if 0 <= value <= 1 else "",
        }
        if column == "probability_below":
            allowed = {percent(value), percent_with_error(value, float(cell["mc_error"]))}
        if column == "probability_above":
            allowed = {percent_with_error(value, float(cell["mc_error"]))}
        if column.startswith("dead_share"):
            allowed = {f"{value:.1f}" if value >= 0.1 else "<0.1"}
        if name == "bycatch" and column.startswith(("share_", "per_pull")):
            allowed = {f"{value:#.2g}".rstrip(".")}
        if name == "removals":
            error = float(cell[f"{column}_mc_error"])
            more = value > 0 or error > 0
            allowed = {with_error(value, error, whole=column == "fish") if more else "none"}
        assert text.replace("\N{NO-BREAK SPACE}", " ") in allowed, number
        seen[name] += 1
    assert {name for name, count in seen.items() if not count} == {"cooling"} | WORDS | LAKES
    # Each lake at a glance, 3 cards, each with its sources of uncertainty, and the tables:
    # 3 × 2 × 6 and 3 × 3 × 2 and every quantity with 8 figures …
    assert seen["verdicts"] == 3 * (3 + 1) + 3 * (1 + 3) + 3 * 2 * 6
    # Where none is needed, that is said once for fish and kg.
    none = [cell for cell in rows["removals"] if float(cell["fish"]) == 0]
    assert seen["removals"] == 3 * 3 * 2 - len(none)
    assert seen["estimates"] == 8 * len(rows["estimates"]) + 3 * 5 * 3


def test_downloads_are_the_files(demo: tuple[Path, Reader]) -> None:
    folder, reader = demo
    for name in FILES | WORDS | LAKES:
        assert downloads(reader)[name] == (folder / f"{name}.csv").read_text(encoding="utf-8")


def test_sentences_are_those_of_the_file(demo: tuple[Path, Reader]) -> None:
    folder, reader = demo
    words = " ".join("".join(reader.manager).replace("\N{NO-BREAK SPACE}", " ").split())
    verdicts = pd.read_csv(folder / "verdicts.csv")
    for statement in verdicts.loc[verdicts["when"] == "after", "statement"]:
        assert statement in words


def test_quantities_are_told_in_words(demo: tuple[Path, Reader]) -> None:
    folder, _ = demo
    page = (folder / "report.html").read_text(encoding="utf-8")
    table = page[page.index("Every reported quantity with its convergence diagnostics") :]
    table = html.unescape(table[: table.index("</table>")])
    assert "effective marks for each mark released<" in table
    assert "share of the lake's fish that netting removed" in table
    assert not re.search(r">[a-z]+_[a-z_]+<", table)


def test_the_manager_s_part_speaks_plainly(demo: tuple[Path, Reader]) -> None:
    words = " ".join(demo[1].manager)
    assert len(words) > 4_000
    assert not JARGON.findall(words)
    assert "permits" in words
    assert "anaesthetised" in words
    assert "Electrofishing can kill" in words


def test_checks_are_those_of_the_file(demo: tuple[Path, Reader]) -> None:
    """In the scientist's part; what is not passed is said to the manager too."""
    folder, reader = demo
    text = (folder / "report.html").read_text(encoding="utf-8").replace("\N{NO-BREAK SPACE}", " ")
    part = html.unescape(text.split('id="science-part"')[1])
    manager = " ".join("".join(reader.manager).split())
    found = pd.read_csv(folder / "checks.csv")
    assert len(found) == 12
    assert len([p for p in reader.pictures if found["sentence"].iloc[0] in p["alt"]]) == 1
    # Handmade draws are no fit of these records.
    assert set(found["outcome"]) == {"passed", "not passed", "for information"}
    for _, check in found.iterrows():
        assert f"<dt>{check['check'].capitalize()}</dt>" in part
        assert f"{check['sentence']}.</dd>" in part
        said = f"A check of the fit against its records failed ({check['check']}): "
        said += f"{check['sentence']}."
        assert (said in manager) == (check["outcome"] == "not passed")


@pytest.mark.usefixtures("without_pictures")
def test_a_reweighted_fit_says_so(tmp_path: Path) -> None:
    fit = drawn_fit(records(tmp_path / "r"))
    update = {
        "how": "reweighted", "reweighted": True, "new_pulls": 2, "why": "", "pareto_k": 0.314,
        "limit": 0.7, "draws": [2000, 1234],
    }  # fmt: skip
    updated = replace(fit, run={**fit.run, "update": update})
    text = render(updated, checks=updated.checks())
    assert "checks are not made for a reweighted fit" in text
    assert "Pareto k 0.31, reliable up to 0.70; 1,234 of 2,000 draws are left" in text
    assert "checks" not in downloads(Reader(text))
    assert "checks are not made for a reweighted fit" not in render(fit, checks=fit.checks())


def test_nothing_is_fetched_and_nothing_runs(demo: tuple[Path, Reader]) -> None:
    reader = demo[1]
    assert not {"script", "iframe", "object", "embed", "form", "base"} & set(reader.tags)
    for link in reader.links:
        assert link["href"].startswith(("#", "data:text/csv"))
    for picture in reader.pictures:
        assert picture["src"].startswith("data:image/svg+xml,")
        assert len(picture["alt"]) > 40
    text = (demo[0] / "report.html").read_text(encoding="utf-8")
    assert "default-src 'none'" in text
    css = re.search(r"<style>(.*?)</style>", text, re.DOTALL)
    assert css is not None
    assert "url(" not in css[1]
    assert "@import" not in css[1]


def test_headings_go_down_one_step_at_a_time(demo: tuple[Path, Reader]) -> None:
    headings = demo[1].headings
    assert headings[0] == 1
    assert headings.count(1) == 1
    assert all(after - before <= 1 for before, after in itertools.pairwise(headings))


def test_names_stay_names(hostile_fit: Fit, page_of: PageOf) -> None:
    folder = page_of(hostile_fit)
    text = (folder / "report.html").read_text(encoding="utf-8")
    reader = Reader(text)
    assert "script" not in reader.tags
    assert not any("onerror" in picture for picture in reader.pictures)
    for name in HOSTILE:
        shown = html.escape(name, quote=False)
        assert f"<h3>{shown}, 2024</h3>" in text.replace("&#34;", '"')
        assert f'">{shown}</a>' in text.replace("&#34;", '"')


def test_no_cell_of_a_download_is_a_formula(hostile_fit: Fit, page_of: PageOf) -> None:
    folder = page_of(hostile_fit)
    reader = Reader((folder / "report.html").read_text(encoding="utf-8"))
    for name, text in downloads(reader).items():
        for row in csv.reader(io.StringIO(text)):
            for cell in row:
                assert not cell.startswith(("=", "+", "@", "\t", "\r")), (name, cell)
        assert "'+1+1" in text or name in WORDS or name == "bycatch_effects"
    assert "'@SUM(A1)" in downloads(reader)["bycatch"]


@pytest.fixture
def without_pictures(monkeypatch: pytest.MonkeyPatch) -> None:
    """Leave out the figures, which take nearly all the time."""
    for name in ("pictures", "pictures_of_checks"):
        monkeypatch.setattr(f"fishdown.report.page.{name}", lambda *_, **__: ())


@pytest.mark.usefixtures("without_pictures")
def test_a_failed_gate_is_said_and_its_numbers_are_not(tmp_path: Path) -> None:
    fit = drawn_fit(records(tmp_path / "r", ["Ashmere"]), divergences=3)
    text = render(fit, checks=fit.checks())
    reader = Reader(text)
    words = " ".join("".join(reader.manager).split())
    assert "No number is given, because the computation did not converge" in words
    assert "Withheld for Ashmere in 2024: 3 divergent transitions." in words
    assert "Checks failed: statement withheld" in words
    shown = {number["data-from"].split(":")[0] for number, _ in reader.numbers}
    assert "removals" not in shown
    assert not any("biomass" in number["data-from"] for number, _ in reader.numbers)
    left = text.split('id="table-left"')[1].split("</table>")[0]
    assert left.count("withheld") == 5
    assert "<data" not in left

    despite = Reader(render(fit, checks=fit.checks(), despite_gate=True))
    words = " ".join("".join(despite.manager).split())
    assert "Warning: a check failed" in words
    assert "WARNING, the gate failed (3 divergent transitions)" in words
    assert any("biomass" in number["data-from"] for number, _ in despite.numbers)


def test_a_bare_campaign_has_a_page_too(tmp_path: Path) -> None:
    bare = records(tmp_path / "r", weighed=False, warm=False, marked=0, bycatch=())
    few = drawn_fit(bare, "few_passes")
    words = " ".join(Reader(render(few, checks=few.checks())).manager)
    assert "No verdict" in words
    assert "biomass density (kg/ha) cannot be estimated" in words
    assert "No bycatch is on record" in words
    assert "single lake with a single season" in words
    assert not re.search(r"\bnan\b|None", words)


@pytest.mark.usefixtures("without_pictures")
def test_cards_show_the_latest_season_of_each_lake(tmp_path: Path) -> None:
    fit = drawn_fit(records(tmp_path / "r", ["Ashmere", "Birkwater"], [2022, 2023, 2024]))
    text = render(fit, checks=fit.checks())
    assert re.findall(r"<h3>(\w+, \d+)</h3>", text) == ["Ashmere, 2024", "Birkwater, 2024"]
    assert text.split('id="table-verdicts"')[1].split("</table>")[0].count("<tr>") == 1 + 6 * 2


def test_small_and_the_same_again(demo_fit: Fit, demo: tuple[Path, Reader], tmp_path: Path) -> None:
    assert (demo[0] / "report.html").stat().st_size < 3_000_000
    page = fishdown.load(demo[0]).report(tmp_path)
    # A saved fit gives the page of the fit that was saved.
    assert page.read_bytes() == (demo[0] / "report.html").read_bytes()


def test_command(
    demo: tuple[Path, Reader], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = (demo[0] / "report.html").read_bytes()
    assert main(["report", str(demo[0])]) == 0
    assert "report.html" in capsys.readouterr().out
    assert (demo[0] / "report.html").read_bytes() == before
    assert {path.suffix for path in demo[0].iterdir()} == {".nc", ".csv", ".json", ".html"}
    assert main(["report", str(tmp_path / "nowhere")]) == 1
    assert "holds no fit" in capsys.readouterr().err


@pytest.mark.usefixtures("without_pictures")
def test_command_says_what_is_withheld(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = drawn_fit(records(tmp_path / "r"), divergences=1).save(tmp_path / "out")
    assert main(["report", str(folder)]) == 3
    assert "A gate failed" in capsys.readouterr().out


def test_a_page_about_folders_whose_names_are_no_letters(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = records(tmp_path / os.fsdecode(b"lacs l\xe9gers"))
    (folder / os.fsdecode(b"p\xfflls.csv")).write_text("x\n", encoding="utf-8")
    out = drawn_fit(folder).save(tmp_path / os.fsdecode(b"r\xe9sultats"))
    assert main(["report", str(out)]) == 0
    assert r"r\udce9sultats" in capsys.readouterr().out.replace("\n", "")
    page = (out / "report.html").read_text(encoding="utf-8")
    assert r"p\udcfflls.csv: unknown file" in page
