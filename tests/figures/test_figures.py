"""Figures: something for every size of campaign, units everywhere, nothing that is withheld."""

from __future__ import annotations

import io
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import xarray as xr
from drawn_fits import drawn_fit, records
from matplotlib.figure import Figure

from fishdown import Fit, figures
from fishdown.cli import main
from fishdown.errors import FishdownError
from fishdown.figures.canvas import quantiles
from fishdown.figures.files import save_figure
from fishdown.palette import LIGHT
from fishdown.words import amount

MANY = [f"Lake {number} of the $Long$ Meadow" for number in range(12)] + [
    "魚 の 湖",
    "Llyn" + 12 * "-long",
]
UNIT = re.compile(r"fish|kg|°C|%|date|pull|season|no unit|draws|density|share|factor")


@pytest.fixture(scope="module")
def fits(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Fit]:
    home = tmp_path_factory.mktemp("records")
    return {
        "one": drawn_fit(records(home / "one")),
        "three": drawn_fit(records(home / "three", ["Ashmere", "Birkwater", "Calder Tarn"])),
        "many": drawn_fit(records(home / "many", MANY)),
        "years": drawn_fit(records(home / "years", ["Ashmere"], range(2013, 2025))),
        "withheld": drawn_fit(records(home / "withheld", ["Ashmere", "Birkwater"]), divergences=2),
        "bare": drawn_fit(
            records(home / "bare", weighed=False, warm=False, marked=0, bycatch=()), "few_passes"
        ),
    }


def drawn(fit: Fit) -> dict[str, Figure]:
    return {
        name: figures.draw(fit, name) for name in figures.NAMES if not figures.missing(fit, name)
    }


def written(figure: Figure) -> str:
    """Every word of a figure."""
    return " ".join(
        text.get_text() for text in figure.findobj(match=lambda a: hasattr(a, "get_text"))
    )


@pytest.mark.parametrize("case", ["one", "three", "withheld", "bare"])
def test_every_figure_is_drawn_or_says_why_not(fits: dict[str, Fit], case: str) -> None:
    fit = fits[case]
    made = drawn(fit)
    for name, figure in made.items():
        save_figure(figure, io.BytesIO(), "png")
        for axes in figure.axes:
            label = axes.get_xlabel() or figure.axes[-1].get_xlabel()
            assert UNIT.search(label), f"{name}: x axis says {label!r}"
            heights = axes.get_ylabel() or figure.get_supylabel()
            names = {text.get_text() for text in axes.get_yticklabels()}
            assert UNIT.search(heights) or any(map(str.isalpha, "".join(names))), name
        assert figures.describe(fit, name).endswith(".")
    for name in set(figures.NAMES) - set(made):
        assert figures.missing(fit, name)
        with pytest.raises(FishdownError, match=f"nothing to draw in the figure {name}"):
            figures.draw(fit, name)


@pytest.mark.parametrize("name", ["biomass", "lakes", "bycatch", "ranks"])
def test_many_lakes_with_odd_names(fits: dict[str, Fit], name: str) -> None:
    figure = figures.draw(fits["many"], name)
    save_figure(figure, io.BytesIO(), "svg")
    width, height = figure.get_size_inches()
    assert width < 14.0
    assert height < 35.0
    # A dollar sign starts no formula, and every name is somewhere.
    assert "$Long$" in written(figure).replace("\n", " ")


def test_twelve_seasons_of_a_lake(fits: dict[str, Fit]) -> None:
    figure = figures.draw(fits["years"], "years")
    save_figure(figure, io.BytesIO(), "png")
    (axes,) = figure.axes
    labels = [label.get_text() for label in axes.get_xticklabels()]
    assert labels == [str(year) for year in range(2013, 2025)]
    said = figures.describe(fits["years"], "years")
    assert all(f"{year} from " in said for year in range(2013, 2025))
    # Before and after: a dot and a bar each, and lines within and between seasons.
    assert len(axes.lines) == 12 * 4 + 12 + 11 + 1


def test_what_is_missing_for_a_bare_campaign(fits: dict[str, Fit]) -> None:
    fit = fits["bare"]
    missing = {name for name in figures.NAMES if figures.missing(fit, name)}
    assert missing == {"biomass", "cooling", "evidence", "lakes", "years", "bycatch"}


def test_a_failed_gate_leaves_records_and_hides_estimates(fits: dict[str, Fit]) -> None:
    fit = fits["withheld"]
    for name in ("biomass", "abundance", "cooling", "depletion", "evidence"):
        figure = figures.draw(fit, name)
        assert written(figure).count("withheld") == 2, name
        assert not any(axes.collections for axes in figure.axes), name
        said = figures.describe(fit, name)
        assert "2 divergent transitions" in said
        assert "interval" not in said
        despite = figures.draw(fit, name, despite_gate=True)
        assert "withheld" not in written(despite)
        assert "interval" in figures.describe(fit, name, despite_gate=True)
    assert "withheld" in written(figures.draw(fit, "lakes"))
    # Catches are no estimates.
    bars = figures.draw(fit, "abundance").axes[1].patches
    pulls = fit.campaign.season_pulls(0)
    assert sum(bar.get_height() for bar in bars) == pulls["caught"].values.sum()


def test_abundance_ends_are_those_of_the_estimates(fits: dict[str, Fit]) -> None:
    fit = fits["three"]
    estimates = fit.estimates().set_index(["lake", "quantity"])
    said = figures.describe(fit, "abundance", seasons=[1])
    shown = written(figures.draw(fit, "abundance", seasons=[1]))
    for quantity in ("abundance_before", "abundance_after"):
        row = estimates.loc[("Birkwater", quantity)]
        for point in ("median", "low", "high"):
            assert amount(row[point]) in said
            assert amount(row[point]) in shown


def test_the_shaded_share_is_the_verdict_s(fits: dict[str, Fit]) -> None:
    from fishdown.words import percent

    fit = fits["three"]
    verdicts = fit.verdicts()
    shown = written(figures.draw(fit, "biomass"))
    for row in verdicts.itertuples():
        assert f"{row.when}: {percent(row.probability_below)} below" in shown


@pytest.mark.parametrize("prefix", ["", "alone_"])
def test_own_fits_are_drawn_beside_the_pooled_ones(fits: dict[str, Fit], prefix: str) -> None:
    fit = fits["three"]
    own = pd.DataFrame(
        {
            "lake": ["Ashmere", "Birkwater"],
            "season": ["2024", "2024"],
            "quantity": ["mean_weight", "mean_weight"],
            f"{prefix}low": [1.0, np.nan],
            f"{prefix}median": [2.0, np.nan],
            f"{prefix}high": [3.0, np.nan],
        }
    )
    alone = figures.draw(fit, "lakes").axes[2].lines
    figure = figures.draw(fit, "lakes", own=own)
    # A bar and a dot more: nothing is drawn where a lake was not fitted by itself.
    added = [
        line.get_xdata().tolist()
        for line in figure.axes[2].lines
        if line.get_color() == LIGHT.other or line.get_markeredgecolor() == LIGHT.other
    ]
    assert len(figure.axes[2].lines) == len(alone) + 2
    assert added == [[1.0, 3.0], [2.0]]
    assert "separate fit of each lake" in written(figure)


def test_lakes_that_were_fitted_alone_need_not_be_passed(fits: dict[str, Fit]) -> None:
    tree = fits["three"].tree.copy()
    tree["alone"] = xr.Dataset(
        {
            "mean_weight": (("season", "point"), [[1.0, 2.0, 3.0]] * 3),
            "failure": ("season", ["", "1 divergent transition", ""]),
        }
    )
    figure = figures.draw(replace(fits["three"], tree=tree), "lakes")
    bars = [
        line.get_xdata().tolist()
        for line in figure.axes[2].lines
        if line.get_color() == LIGHT.other
    ]
    # Not the lake whose own fit failed.
    assert bars == [[1.0, 3.0], [1.0, 3.0]]


def test_the_same_fit_gives_the_same_bytes(fits: dict[str, Fit]) -> None:
    for kind in ("svg", "png"):
        files = []
        for _ in range(2):
            file = io.BytesIO()
            save_figure(figures.draw(fits["one"], "biomass"), file, kind)
            files.append(file.getvalue())
        assert files[0] == files[1]


def test_quantiles_go_over_draws() -> None:
    assert quantiles(np.arange(10.0).reshape(5, 2), 0.5) == pytest.approx([4.0, 5.0])


def test_unknown_names(fits: dict[str, Fit]) -> None:
    with pytest.raises(FishdownError, match="no figure is called 'map'; there are biomass"):
        figures.draw(fits["one"], "map")


def test_from_python(fits: dict[str, Fit]) -> None:
    assert set(fits["one"].figures()) == set(drawn(fits["one"]))
    assert list(fits["one"].figures(only=["ranks"], palette="print")) == ["ranks"]


def test_command(fits: dict[str, Fit], tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = fits["one"].save(tmp_path / "out")
    asked = ["figures", str(out), "--only", "biomass", "--only", "ranks", "--format", "svg"]
    assert main(asked) == 0
    made = {path.name for path in (out / "figures").iterdir()}
    assert made == {"biomass.svg", "ranks.svg", "descriptions.txt"}
    said = (out / "figures" / "descriptions.txt").read_text(encoding="utf-8")
    assert figures.describe(fits["one"], "biomass") in said
    assert "biomass.svg" in capsys.readouterr().out
    assert main(["figures", str(out), "--only", "years"]) == 1
    assert "no lake has more than one season" in capsys.readouterr().err
    with pytest.raises(SystemExit, match="2"):
        main(["figures", str(out), "--only", "map"])
    assert "biomass" in capsys.readouterr().err
    assert main(["figures", str(tmp_path)]) == 1
    assert "holds no fit" in capsys.readouterr().err
    # What failed wrote nothing.
    assert {path.name for path in (out / "figures").iterdir()} == made


def test_bycatch_of_a_void_lift_has_no_rate(tmp_path: Path) -> None:
    """All that was counted was in a void lift, and nobody counted the others."""
    folder = records(tmp_path / "r", bycatch=("roach",))
    pulls, caught = (pd.read_csv(folder / f"{name}.csv") for name in ("pulls", "bycatch"))
    void = pulls[pulls["spoiled"] == "yes"].iloc[:1]
    where = ["date", "lake", "net"]
    caught.loc[caught.index[0], where] = void.iloc[0][where]
    caught.head(1).to_csv(folder / "bycatch.csv", index=False)
    pulls["bycatch_counted"] = np.where(pulls.index == void.index[0], "yes", "no")
    pulls.to_csv(folder / "pulls.csv", index=False)
    fit = drawn_fit(folder)
    assert fit.bycatch()["per_pull_high"].isna().all()
    assert "counted" in written(figures.draw(fit, "bycatch"))
    assert "fish per pull not known" in figures.describe(fit, "bycatch")
