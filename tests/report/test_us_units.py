"""A campaign whose results are in US customary units: everywhere, and nowhere mixed.

The numbers are those of the same fit in metric units times the factors of the international yard
and pound, written out here anew: 1 kg/ha is 0.892179 lb/acre, 1 kg 2.204623 lb.
"""

from __future__ import annotations

import contextlib
import io
import re
from dataclasses import replace

import openpyxl
import pandas as pd
import pytest
from drawn_fits import drawn_fit, records
from matplotlib.text import Text
from rich.console import Console
from test_report_page import Reader

from fishdown import Fit
from fishdown.cli import main
from fishdown.figures import ahead, years_ahead
from fishdown.terminal.fitted import print_fit
from fishdown.units import shown_in

LB_PER_ACRE, LB = 0.40468564224 / 0.45359237, 1 / 0.45359237
# Whatever would be metric, but for the name that a parameter has in model files.
METRIC = re.compile(
    r"\bkg\b|\bha\b|°C|[Hh]ectare|[Kk]ilogram|\bmm\b|_kg\b|(?<!fished)_ha\b|_c\b|kg_per"
)


@pytest.fixture(scope="module")
def metric_fit(tmp_path_factory):
    folder = tmp_path_factory.mktemp("metric") / "records"
    return drawn_fit(records(folder, ("Pond", "Mere"), (2023, 2024)))


@pytest.fixture(scope="module")
def us_fit(metric_fit):
    """Give the same fit to a campaign that asks for US units."""
    settings = replace(metric_fit.campaign.settings, units="us")
    campaign = replace(metric_fit.campaign, settings=settings)
    tree = metric_fit.tree.copy()
    tree["campaign"] = campaign.to_tree()
    return Fit(campaign, metric_fit.spec, tree, metric_fit.run)


@pytest.fixture(scope="module")
def folder(us_fit, tmp_path_factory):
    """Everything that the commands make of the fit, and what they print."""
    folder = us_fit.save(tmp_path_factory.mktemp("us"))
    return folder


@pytest.fixture(scope="module")
def printed(folder):
    out = io.StringIO()
    ahead = ["--pulls", "3", "--value-per-lb", "2", "--cost-per-pull", "90", "--temp", "40"]
    with contextlib.redirect_stdout(out):
        main(["ahead", str(folder), *ahead, "--cost-above", "4000"])
        main(["years", str(folder), "--years", "2", "--remove-lb", "100"])
        main(["budget", str(folder), "--days", "4", "--aim", "biomass", "--temp", "50"])
        main(["report", str(folder)])
        main(["workbook", str(folder)])
        main(["figures", str(folder)])
    return out.getvalue()


def test_nothing_printed_is_metric(printed):
    assert not METRIC.findall(printed)
    assert "lb/acre" in printed
    assert "40" in printed


def test_a_fit_in_the_terminal_is_not_metric(us_fit):
    out = io.StringIO()
    with shown_in(us_fit.units):
        print_fit(Console(file=out, width=100), us_fit, despite_gate=False)
    assert not METRIC.findall(out.getvalue())
    assert "lb/acre" in out.getvalue()


@pytest.mark.parametrize("command", ["check", "priors", "worth"])
def test_commands_on_records_are_not_metric(tmp_path, us_fit, folder, capsys, command):
    path = records(tmp_path / "records", ("Pond",), (2024,))
    settings = (path / "campaign.toml").read_text("utf-8")
    (path / "campaign.toml").write_text(f'{settings}units = "us"\n', "utf-8")
    main([command, str(folder if command == "worth" else path)])
    out = capsys.readouterr().out
    assert out
    assert not METRIC.findall(out)


def test_no_file_is_metric(printed, folder):
    for file in (*folder.glob("*.csv"), *folder.glob("*.txt"), *folder.glob("figures/*.txt")):
        text = file.read_text("utf-8")
        assert not METRIC.findall(text), file.name
    for name in ("ahead", "budget", "years", "verdicts", "estimates", "removals", "comparison"):
        assert (folder / f"{name}.csv").is_file()


def test_the_page_is_not_metric_but_for_the_model_file(printed, folder):
    text = (folder / "report.html").read_text("utf-8")
    page = Reader(text)
    model_file = re.search(r"<pre.*?</pre>", text, re.DOTALL)
    assert model_file
    without = text.replace(model_file[0], "")
    shown = re.sub(
        r"(src|href|style|class)=\"[^\"]*\"|<style.*?</style>", "", without, flags=re.DOTALL
    )
    assert not METRIC.findall(shown)
    # The descriptions of the pictures are read, too.
    assert not [one for one in page.pictures if METRIC.search(one.get("alt", ""))]
    assert "lb/acre" in shown
    assert "°F" in shown
    assert "about 89 lb/acre" in shown
    # The tables of pulls and years ahead are those of this fit.
    assert "is not shown" not in shown


def test_the_workbook_is_not_metric_but_for_the_model_file(printed, folder):
    book = openpyxl.load_workbook(folder / "results.xlsx")
    for sheet in book:
        for row in sheet.iter_rows(values_only=True):
            texts = [text for text in row if isinstance(text, str)]
            if texts[:1] != ["Model file"]:
                assert not [text for text in texts if METRIC.search(text)], (sheet.title, texts)
    assert "Biomass median, lb/acre" in [cell.value for cell in book["verdicts"][1]]


def test_the_numbers_are_those_of_the_metric_fit(metric_fit, us_fit, folder):
    metric, us = metric_fit.verdicts(), pd.read_csv(folder / "verdicts.csv")
    assert us["biomass_median_lb_per_acre"].tolist() == pytest.approx(
        (LB_PER_ACRE * metric["biomass_median_kg_per_ha"]).tolist()
    )
    assert us["area_acres"].tolist() == pytest.approx((metric["area_ha"] / 0.40468564224).tolist())
    assert us["probability_below"].tolist() == metric["probability_below"].tolist()
    metric, us = metric_fit.removals(), pd.read_csv(folder / "removals.csv")
    assert us["lb"].tolist() == pytest.approx((LB * metric["kg"]).tolist())
    assert us["fish"].tolist() == metric["fish"].tolist()
    metric, us = metric_fit.estimates(), pd.read_csv(folder / "estimates.csv")
    for unit, other, factor in (("kg/ha", "lb/acre", LB_PER_ACRE), ("kg", "lb", LB)):
        here, there = metric["unit"] == unit, us["unit"] == other
        assert here.any()
        for column in ("median", "sd", "high"):
            assert us.loc[there, column].tolist() == pytest.approx(
                (factor * metric.loc[here, column]).tolist()
            )
    here, there = metric["unit"] == "fish/ha", us["unit"] == "fish/acre"
    assert us.loc[there, "median"].tolist() == pytest.approx(
        (0.40468564224 * metric.loc[here, "median"]).tolist()
    )


def test_numbers_on_the_page_are_those_of_its_files(printed, folder, us_fit):
    page = Reader((folder / "report.html").read_text("utf-8"))
    tables = {name: pd.read_csv(folder / f"{name}.csv") for name in ("verdicts", "estimates")}
    seen = 0
    for attributes, _ in page.numbers:
        name, row, column = attributes["data-from"].split(":")
        if name in tables:
            assert float(attributes["value"]) == pytest.approx(tables[name][column].iloc[int(row)])
            seen += column.endswith(("lb_per_acre", "acres"))
    assert seen


def test_a_statement_in_both_units(metric_fit, us_fit):
    metric, us = (fit.verdicts().iloc[1] for fit in (metric_fit, us_fit))
    assert "100 kg/ha" in metric["statement"]
    assert "89.2 lb/acre" in us["statement"]
    # Data frames are metric in Python, whatever the units of sentences.
    assert us["biomass_median_kg_per_ha"] == metric["biomass_median_kg_per_ha"]
    cooled = us_fit.cooling()["statement"].iloc[0]
    assert "at 59 °F" in cooled
    assert "that at 68 °F" in cooled


def test_pulls_ahead_at_a_temperature_in_degrees_fahrenheit(printed, folder):
    ahead = pd.read_csv(folder / "ahead.csv")
    assert ahead["temperature_median_f"].dropna().tolist() == pytest.approx([40.0] * 6)


def test_the_years_ahead_remove_pounds(printed, folder):
    years = pd.read_csv(folder / "years.csv")
    assert set(years["removal_kind"]) == {"lb"}
    assert years["removal_a_year"].tolist() == pytest.approx([100.0] * len(years))
    assert "100 lb are removed every year" in printed


def test_metric_is_what_it_was(metric_fit):
    assert metric_fit.units == "metric"
    assert "kg/ha" in metric_fit._repr_html_()


def test_no_figure_is_metric(us_fit):
    drawn = us_fit.figures()
    assert {"biomass", "cooling", "lakes", "years"} <= drawn.keys()
    with shown_in("us"):
        for result in us_fit.checks():
            drawn[result.name] = result.figure("page")
        drawn["ahead"] = ahead.draw(us_fit.ahead(3).frame())
        drawn["years_ahead"] = years_ahead.draw(us_fit.years(2).frame)
    for name, figure in drawn.items():
        texts = [text.get_text() for text in figure.findobj(Text)]
        assert not [text for text in texts if METRIC.search(text)], name
    labels = [axes.get_xlabel() for axes in drawn["biomass"].axes]
    assert "biomass density, lb/acre" in labels
    assert drawn["cooling"].axes[0].get_xlim()[0] > 50.0
