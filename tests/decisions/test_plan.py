"""Plans of a season: simulated designs against closed forms, stops, targets, and wrong files."""

from __future__ import annotations

import datetime as dt
import io
import re
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from command_lines import assert_readable, joined
from rich.console import Console
from scipy import stats
from textbook import textbook

import fishdown
import fishdown.decisions.plan_file
from fishdown.checks.marks_alone import marks_of_seasons
from fishdown.cli import main
from fishdown.decisions import plan as planning
from fishdown.decisions import plan_campaign
from fishdown.decisions.plan_campaign import Job, Run
from fishdown.decisions.plan_design import Candidate
from fishdown.decisions.plan_file import parse_plan
from fishdown.decisions.plan_worlds import draw_world
from fishdown.display.studies import plan_table
from fishdown.errors import PlanError
from fishdown.formulas.marking import chapman
from fishdown.terminal.render import in_terminal
from fishdown.worlds import simulate, water_temperature

PLAN = """
[lake]
area_ha = 25
threshold_kg_per_ha = 100
[guess]
fish_per_ha = [40, 150]
mean_weight_kg = [1.8, 3.0]
share_a_pull = [0.01, 0.04]
[temperatures_c]
june = 20
november = 6
[season]
first_day = 2027-06-15
[costs]
currency = "EUR"
per_marked_fish = 15
per_net = 800
per_pull = 120
per_field_day = 600
[candidates]
marked = [50, 200]
nets = [4]
rounds = [4, 6]
[target]
half_width = 0.9
[simulation]
simulations = 5
most_simulations = 5
worlds = "plain"
"""


@pytest.fixture
def file(tmp_path: Path) -> Callable[..., Path]:
    def write(*changes: tuple[str, str]) -> Path:
        text = PLAN
        for old, new in changes:
            assert old in text
            text = text.replace(old, new)
        path = tmp_path / "plan.toml"
        path.write_text(text, encoding="utf-8")
        return path

    return write


def by_marks(campaign: fishdown.Campaign, seed: int) -> tuple[Any, Any]:
    """Refit by quadrature of the marks alone; no catchability is needed, and no sampling."""
    posterior = marks_of_seasons(campaign, textbook())[0]
    fish = posterior.quantile(np.random.default_rng(seed).uniform(size=(2, 500)))
    gone = float(campaign.seasons["gone"].values[0])
    weight = float(np.nanmean(campaign.fish["weight"].values))
    return fish, (fish - gone) * weight / float(campaign.lakes["area"].values[0])


@pytest.fixture(scope="module")
def done(tmp_path_factory: pytest.TempPathFactory) -> tuple[fishdown.Planned, Path]:
    """Simulate the plan once; returns its folder, too, to copy."""
    path = tmp_path_factory.mktemp("plan")
    (path / "plan.toml").write_text(PLAN, encoding="utf-8")
    return fishdown.plan(path / "plan.toml", path / "out", refit=by_marks), path / "out"


@pytest.fixture
def out(done: tuple[fishdown.Planned, Path], tmp_path: Path) -> Path:
    """Copy the folder of the plan that was simulated."""
    return shutil.copytree(done[1], tmp_path / "out")


@pytest.mark.parametrize(("marked", "rounds"), [(100, 6), (400, 6), (200, 12)])
def test_precision_is_that_of_one_marking_and_one_recapture(
    tmp_path: Path, marked: int, rounds: int
) -> None:
    """Robson & Regier 1964 and Chapman 1951 with Seber's variance; relations from memory."""
    plan = parse_plan(
        {
            "lake": {"area_ha": 50, "threshold_kg_per_ha": 100},
            "guess": {
                "fish_per_ha": 80, "mean_weight_kg": 2.0, "share_a_pull": 0.02,
                "temperature_effect": 1.0, "schooling": 0.01,
            },
            "temperatures_c": {"june": 20.0},
            "season": {"first_day": dt.date(2027, 6, 1)},
            "candidates": {"marked": marked, "nets": 4, "rounds": rounds},
            "target": {"half_width": 0.2},
            "simulation": {"simulations": 25, "most_simulations": 25, "worlds": "plain"},
        }
    )  # fmt: skip
    done = fishdown.plan(plan, tmp_path, refit=by_marks)
    fish, caught = 4000.0, 4000.0 * (1.0 - 0.98 ** (4 * rounds))
    relative = np.sqrt((fish - marked) * (fish - caught) / (marked * caught * (fish - 1.0)))
    expected = stats.norm.ppf(0.95) * relative
    assert {run.fish for run in done.runs} == {fish}
    assert done.frame["half_width_median"][0] == pytest.approx(expected, rel=0.06)
    estimate = chapman(marked, round(caught), round(marked * caught / fish), interval="normal")
    width = 0.5 * (estimate.high - estimate.low) / estimate.abundance
    assert done.frame["half_width_median"][0] == pytest.approx(width, rel=0.06)
    # 90 % intervals hold the truth in 18 to 25 of 25 campaigns, with a probability of 99 %.
    assert sum(run.low <= run.fish <= run.high for run in done.runs) >= 18


def test_a_stopped_plan_goes_on_with_the_same_numbers(
    tmp_path: Path, file: Callable[..., Path], done: tuple[fishdown.Planned, Path]
) -> None:
    whole, folder = done
    calls = 0

    def stopping(campaign: fishdown.Campaign, seed: int) -> tuple[Any, Any]:
        nonlocal calls
        calls += 1
        if calls == 8:
            raise KeyboardInterrupt
        return by_marks(campaign, seed)

    out = tmp_path / "stopped"
    with pytest.raises(KeyboardInterrupt):
        fishdown.plan(file(), out, refit=stopping)
    assert not (out / "plan.csv").exists()
    kept = (out / planning.LOG).read_text()
    assert kept.count("\n") == 1 + 7
    (out / planning.LOG).write_text(kept[:-5])  # killed while a line was being written
    seen: list[tuple[int, int]] = []
    again = fishdown.plan(
        file(), out, refit=stopping, on_progress=lambda done, total: seen.append((done, total))
    )
    assert calls == 8 + 20 - 6
    assert seen == [(done, 20) for done in range(6, 21)]
    pd.testing.assert_frame_equal(again.frame, whole.frame)
    assert (out / planning.LOG).read_text() == (folder / planning.LOG).read_text()


def test_more_campaigns_and_other_costs_keep_what_was_simulated(
    file: Callable[..., Path], done: tuple[fishdown.Planned, Path], out: Path
) -> None:
    first = done[0]
    changed = file(("\nsimulations = 5", "\nsimulations = 6"), ("per_net = 800", "per_net = 90"))
    more = fishdown.plan(changed, out, refit=by_marks)
    assert more.runs[:20] == first.runs
    assert more.frame["cost"].min() < first.frame["cost"].min()


def test_campaigns_of_another_plan_are_refused(file: Callable[..., Path], out: Path) -> None:
    kept = (out / planning.LOG).read_bytes()
    with pytest.raises(PlanError, match="another plan"):
        fishdown.plan(file(("area_ha = 25", "area_ha = 26")), out, refit=by_marks)
    assert (out / planning.LOG).read_bytes() == kept


@pytest.mark.parametrize(
    ("name", "value", "said"),
    [
        ("median", "NaN", "median = nan cannot be"),
        ("high", "Infinity", "high = inf cannot be"),
        ("fish", "-5", "fish = -5 cannot be"),
        ("probability_below", "1.5", "probability_below = 1.5 cannot be"),
        ("settled", "2", "settled = 2 cannot be"),
        ("number", "[1, 0.5]", "no result of a simulation (number = [1, 0.5])"),
        ("median", '"many"', "median = 'many' is no number"),
        ("median", "true", "median = True is no number"),
        (
            "settled",
            '1, "more": 2',
            "holds fish, median, low, high, biomass_after, "
            "probability_below, settled, more in place of fish, median, low, high, biomass_after, "
            "probability_below, settled",
        ),
        ("low", "1e9", "low, median and high are not in order"),
        ("median", "\udcff", "the byte 0xff is no text"),
    ],
)
def test_a_line_that_was_changed_is_named(
    file: Callable[..., Path],
    done: tuple[fishdown.Planned, Path],
    out: Path,
    name: str,
    value: str,
    said: str,
) -> None:
    path = out / planning.LOG
    lines = path.read_text(encoding="utf-8").splitlines()
    line = re.sub(rf'"{name}": (\[.*?\]|[^,}}]*)', f'"{name}": {value}', lines[6])
    text = "\n".join([*lines[:6], line, *lines[7:]]) + "\n"
    path.write_text(text, encoding="utf-8", errors="surrogateescape")
    with pytest.raises(PlanError) as caught:
        fishdown.plan(file(), out, refit=by_marks)
    assert str(caught.value) == (
        f"{path}, line 7: {said}; delete this line, and what it held is done again, or delete the "
        "file and start anew"
    )
    # What the message says helps.
    path.write_text("\n".join([*lines[:6], *lines[7:]]) + "\n", encoding="utf-8")
    pd.testing.assert_frame_equal(fishdown.plan(file(), out, refit=by_marks).frame, done[0].frame)


def run(candidate: int, simulation: int, **changed: float) -> Run:
    values: dict[str, Any] = {
        "fish": 1000.0, "median": 1000.0, "low": 800.0, "high": 1300.0, "biomass_after": 50.0,
        "probability_below": 0.95, "settled": 1,
    }  # fmt: skip
    return Run(candidate, simulation, **(values | changed))


def test_the_cheapest_design_that_meets_all_targets(file: Callable[..., Path]) -> None:
    plan = fishdown.decisions.plan_file.read_plan(
        file(("half_width = 0.9", "half_width = 0.3\nright_and_firm = 0.8"))
    )
    assert plan.candidates == tuple(Candidate(m, 4, r) for m in (50, 200) for r in (4, 6))
    assert plan.cost(plan.candidates[0]) == 50 * 15 + 4 * 800 + 16 * 120 + 5 * 600
    wide, vague, wrong, good = (
        {"high": 1500.0},
        {"probability_below": 0.7},
        {"biomass_after": 150.0},
        {},
    )
    changes = (wide, vague, wrong, good)
    runs = [run(place, n, **changes[place]) for n in range(10) for place in range(4)]
    frame = planning.summary(plan, runs)
    assert frame["cost"].is_monotonic_increasing
    chosen = frame[frame["cheapest"]]
    assert chosen[["marked", "rounds"]].values.tolist() == [[200, 6]]
    by_design = frame.set_index(["marked", "rounds"])
    assert by_design["half_width_median"].loc[[(50, 4), (200, 6)]].tolist() == [0.35, 0.25]
    assert by_design["right_and_firm"].tolist() != [1.0] * 4
    assert by_design.loc[(200, 6), "right_and_firm"] == pytest.approx(10.5 / 11)
    assert by_design.loc[(50, 6), "right_and_firm"] == pytest.approx(0.5 / 11)
    assert by_design.loc[(200, 4), "wrong_and_firm"] == pytest.approx(10.5 / 11)
    done = fishdown.Planned(plan, frame, tuple(runs))
    assert done.sentence().startswith(
        "For an interval of at most 30 % to either side in the middle campaign and to be 80 % sure "
        "of a right and firm verdict, the cheapest design is: mark 200 fish and pull 4 nets on 6 "
        "days for"
    )
    assert "No other design is sure to be enough." in done.sentence()
    none = planning.summary(plan, [run(place, n, **wide) for n in range(10) for place in range(4)])
    assert "None of the 4 designs" in fishdown.Planned(plan, none, ()).sentence()


def test_a_known_lake_is_drawn_as_it_is_and_a_guess_within_its_interval(
    file: Callable[..., Path],
) -> None:
    plan = fishdown.decisions.plan_file.read_plan(file(("[1.8, 3.0]", "2.5")))
    rng = np.random.default_rng(1)
    worlds = [draw_world(plan, plan.candidates[0], rng) for _ in range(2000)]
    assert [world.lakes[0].mean_weight for world in worlds] == pytest.approx([2.5] * 2000)
    density = np.array([world.lakes[0].fish / 25.0 for world in worlds])
    # 1,800 are expected inside, with a standard deviation of 13.
    assert 1740 <= ((density > 40.0) & (density < 150.0)).sum() <= 1860
    campaign, _ = simulate(worlds[0], rng)
    assert campaign.pulls.sizes["pull"] == 4 * 4
    assert campaign.seasons["marked"].values.tolist() == [50]


def test_temperatures_run_straight_between_the_months() -> None:
    known = ((166, 20.0), (319, 6.0))
    rng = np.random.default_rng(2)
    drawn = [water_temperature(dt.date(2027, 8, 30), rng, known) for _ in range(400)]
    # 30 August is day 242, close to halfway; a day strays by 0.7 °C.
    assert np.mean(drawn) == pytest.approx(20.0 - 14.0 * (242 - 166) / 153, abs=0.15)


def test_everything_wrong_in_a_file_is_said_at_once(
    file: Callable[..., Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = file(
        ("area_ha = 25", "area_ha = -3"),
        ("fish_per_ha = [40, 150]", "fish_per_ha = [150, 40]"),
        ("share_a_pull = [0.01, 0.04]", "share_a_pul = 0.02"),
        ("rounds = [4, 6]", 'rounds = "six"'),
        ("half_width = 0.9", ""),
    )
    assert main(["plan", str(path), "--out", str(tmp_path / "out")]) == 2
    error = capsys.readouterr().err
    assert error.startswith("fishdown: 6 problems in the plan:\n")
    for part in (
        'plan.toml, row 3, area_ha = "-3": not above 0; write the lake\'s area',
        "row 6, fish_per_ha", "the lower end comes first", 'did you mean "share_a_pull"?',
        "one of area_fished_ha and share_a_pull is needed", "not a whole number", "no target",
    ):  # fmt: skip
        assert part in error
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("rounds = [4, 6]", "rounds = [4, 60]", "in another year"),
        ("marked = [50, 200]", "marked = [50, 900]", "more than half of the 1000 fish"),
        (
            "nets = [4]",
            "nets = [4]\nsurveyed = 600",
            'surveyed = "600": more than half of the 1000',
        ),
        ("nets = [4]", f"nets = {list(range(1, 99))}", "392 designs are more than 200"),
        ("[lake]", "[lakes]", 'did you mean "lake"?'),
        ("june = 20", "june = warm", "not valid TOML"),
        ("area_ha = 25", "area_ha = inf", "not a number"),
        ("area_ha = 25", "area_ha = 1e300", "not 0.001 to 40,000,000 ha; write the lake's area"),
        ("area_ha = 25", "area_ha = nan", "not a number"),
        ("area_ha = 25", f"area_ha = 2{'5' * 5000}", "row 3: a whole number beyond"),
        ("area_ha = 25", f"area_ha = {'[' * 1500}{']' * 1500}", "nested more than 20 deep"),
        ("[lake]", "lake = 5\n[lak]", "not a table"),
        ("first_day = 2027", "first_day = 9999", "not in the years 1950 to 2100"),
        ("first_day = 2027", "first_day = 0001", "not in the years 1950 to 2100"),
        ("rounds = [4, 6]", f"rounds = [4, {10**18}]", "not from 2 to 366"),
        ("nets = [4]", f"nets = [{10**18}]", "not from 1 to 1000"),
    ],
)
def test_what_cannot_be_planned_is_refused(
    file: Callable[..., Path], old: str, new: str, said: str
) -> None:
    with pytest.raises(PlanError) as caught:
        fishdown.decisions.plan_file.read_plan(file((old, new)))
    assert said in str(caught.value)


def test_a_missing_file_is_wrong_usage(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["plan", str(tmp_path / "no.toml"), "--out", str(tmp_path / "out")]) == 2
    assert "cannot read the plan file" in capsys.readouterr().err


def test_the_command_prints_and_writes(
    file: Callable[..., Path],
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(plan_campaign, "sampled", lambda job, design, *asked: by_marks(*asked))
    assert main(["plan", str(file()), "--out", str(tmp_path / "out"), "--cores", "1"]) == 0
    printed = capsys.readouterr().out
    assert_readable(printed)
    assert "the cheapest design is: mark" in joined(printed)
    table = pd.read_csv(tmp_path / "out" / "plan.csv")
    assert list(table.columns) == list(planning.COLUMNS)
    assert table["campaigns"].tolist() == [5] * 4
    assert (tmp_path / "out" / "plan.png").read_bytes().startswith(b"\x89PNG")
    words = (tmp_path / "out" / "plan.txt").read_text(encoding="utf-8")
    width = table.set_index(["marked", "rounds"]).loc[(200, 6), "half_width_median"]
    assert f"half-width {100.0 * width:.1f} % of the median" in words
    assert words.count("the cheapest that meets the target") == 1
    assert "plan.csv, plan_campaigns.jsonl, plan.png, plan.txt" in joined(printed)


@pytest.mark.parametrize("palette", ["light", "print"])
def test_the_figure_marks_the_cheapest_and_the_target(
    file: Callable[..., Path], palette: str
) -> None:
    path = file(("half_width = 0.9", "half_width = 0.3"), ("marked = [50, 200]", "marked = [50]"))
    plan = fishdown.decisions.plan_file.read_plan(path)
    changes: tuple[dict[str, float], ...] = ({"high": 1500.0}, {})
    runs = [run(place, n, **changes[place]) for n in range(10) for place in range(2)]
    done = fishdown.Planned(plan, planning.summary(plan, runs), tuple(runs))
    upper, lower = done.figure(palette).axes
    assert "EUR" in lower.get_xlabel()
    lines = {line.get_label(): line for line in upper.lines if len(line.get_xdata())}
    rings = [line for line in upper.lines if line.get_markersize() == 12]
    assert [ring.get_ydata().tolist() for ring in rings] == [[pytest.approx(25.0)]]
    assert rings[0].get_xdata().tolist() == [plan.cost(plan.candidates[1])]
    levels = [line.get_ydata() for line in lines.values() if line.get_linestyle() == "--"]
    assert levels == [[30.0, 30.0]]
    said = [text.get_text() for text in lower.get_legend().get_texts()]
    assert "cheapest: 50 fish, 4 nets, 6 days" in said


def test_without_costs_or_a_design_that_is_enough(file: Callable[..., Path]) -> None:
    costs = PLAN[PLAN.index("[costs]") : PLAN.index("[candidates]")]
    plan = fishdown.decisions.plan_file.read_plan(file((costs, "")))
    wide = {"high": 4000.0}
    runs = [run(place, n, **wide) for n in range(5) for place in range(4)]
    done = fishdown.Planned(plan, planning.summary(plan, runs), tuple(runs))
    lower = done.figure().axes[1]
    assert lower.get_xlabel() == "pulls"
    assert not any("cheapest" in text.get_text() for text in lower.get_legend().get_texts())


def test_the_plan_is_the_same_whoever_does_it(tmp_path: Path, file: Callable[..., Path]) -> None:
    distributed = pytest.importorskip("distributed")
    tables, kept = [], []
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, processes=False, dashboard_address=":0"
    ) as both:
        ways: list[dict[str, Any]] = [
            {},
            {"cores": 2},
            {"scheduler": both.scheduler_address},
        ]
        for place, way in enumerate(ways):
            out = tmp_path / str(place)
            fishdown.plan(file(), out, refit=by_marks, **way)
            tables.append((out / "plan.csv").read_text())
            kept.append(sorted((out / planning.LOG).read_text().splitlines()))
    assert tables == [tables[0]] * 3
    assert kept == [kept[0]] * 3
    assert len(kept[0]) == 1 + 20


def test_campaigns_are_those_of_spawned_seeds(file: Callable[..., Path]) -> None:
    plan = fishdown.decisions.plan_file.read_plan(file())
    job = Job(plan, fishdown.SamplerSettings())
    of_truth, of_season = np.random.SeedSequence(plan.seed).spawn(3)[2].spawn(2)
    for place, design in enumerate(plan.candidates):
        world = draw_world(plan, design, np.random.default_rng(of_truth))
        _, expected = simulate(world, np.random.default_rng(of_season))
        _, truth, seed = job.campaign(2, place)
        pd.testing.assert_frame_equal(truth, expected)
        assert seed == int(of_season.generate_state(1)[0] >> 1)


def test_nothing_is_left_where_no_cluster_answers(
    tmp_path: Path,
    file: Callable[..., Path],
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.setattr("fishdown.parallel.PATIENCE", 1)
    out, nowhere = tmp_path / "out", "tcp://127.0.0.1:1"
    assert main(["plan", str(file()), "--out", str(out), "--scheduler", nowhere]) == 1
    assert "no Dask scheduler answers at tcp://127.0.0.1:1" in capsys.readouterr().err
    assert not out.exists()
    # With everything done there is nobody to look for.
    whole = fishdown.plan(file(), out, refit=by_marks)
    again = fishdown.plan(file(), out, refit=by_marks, scheduler=nowhere)
    pd.testing.assert_frame_equal(again.frame, whole.frame)


def test_a_stop_by_hand_says_how_to_go_on(
    tmp_path: Path,
    file: Callable[..., Path],
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    def stop(*_: Any) -> Any:
        raise KeyboardInterrupt

    monkeypatch.setattr(plan_campaign, "sampled", stop)
    assert main(["plan", str(file()), "--out", str(tmp_path / "out"), "--cores", "1"]) == 130
    assert "the same command continues from there" in joined(capsys.readouterr().err)
    with pytest.raises(PlanError, match="cores = 0"):
        fishdown.plan(file(), tmp_path / "out", cores=0)
    (tmp_path / "taken").write_text("")
    with pytest.raises(PlanError, match=r"cannot use .*taken"):
        fishdown.plan(file(), tmp_path / "taken", refit=by_marks)


def test_refits_are_those_of_the_model(
    tmp_path: Path, file: Callable[..., Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two designs of different length through one compiled model, the truth within reach."""
    path = file(("marked = [50, 200]", "marked = 200"))
    settings = fishdown.SamplerSettings(draws=200, tune=300, chains=2, cores=2)
    compiled: list[Any] = []
    asked: list[Any] = []
    workshop = plan_campaign._Workshop

    def one_workshop(job: Any, candidate: int) -> Any:
        if not compiled:
            compiled.append(workshop(job, candidate))
        asked.append(job)
        return compiled[0]

    monkeypatch.setattr(plan_campaign, "_Workshop", one_workshop)
    # A small model compiles in a fraction of the default's minute.
    small = textbook(nights="alike", drift="none", weighed="at_random")
    monkeypatch.setattr("fishdown.models.spec.read_model", lambda name: small)
    done = fishdown.plan(path, tmp_path / "out", settings=settings)
    assert len(done.runs) == 10
    assert len(asked) == 1
    for one in done.runs:
        spread = np.log(one.high / one.low) / 3.29
        assert abs(np.log(one.median / one.fish)) < 4.0 * spread
    assert done.frame["half_width_median"].between(0.02, 0.6).all()
    # Draws do not depend on which campaigns the model was fed with before.
    kept = (tmp_path / "out" / planning.LOG).read_text().splitlines(keepends=True)
    (tmp_path / "later").mkdir()
    (tmp_path / "later" / planning.LOG).write_text("".join(kept[:8]))
    later = fishdown.plan(path, tmp_path / "later", settings=settings)
    assert later.runs == done.runs


def test_graphs_are_compiled_by_evidence_and_a_fit_is_tried_twice(
    file: Callable[..., Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where chains disagree a crew samples again; where they still do, nothing is said."""
    path = file(("rounds = [4, 6]", "rounds = 4\nsurveyed = [0, 100]"))
    plan = fishdown.decisions.plan_file.read_plan(path)
    built: list[int] = []
    tried: list[fishdown.SamplerSettings] = []
    rng = np.random.default_rng(6)
    even = rng.normal(1_000.0, 50.0, (2, 100))
    apart = even + np.array([[0.0], [500.0]])

    class Workshop:
        def __init__(self, job: Job, candidate: int) -> None:
            built.append(candidate)

        def refit(self, campaign: Any, settings: fishdown.SamplerSettings) -> tuple[Any, Any]:
            tried.append(settings)
            again = len(tried) > 1 and settings.draws > tried[0].draws
            return (even if again else apart), np.full((2, 100), 50.0)

    monkeypatch.setattr(plan_campaign, "_Workshop", Workshop)
    job = Job(plan, fishdown.SamplerSettings(draws=100, tune=100, chains=2))
    runs = [plan_campaign.campaign_run(job, (0, place)) for place in (0, 1, 2, 3)]
    # One without the other gear and one with it, whatever else a design has.
    assert built == [0, 1]
    assert [one.draws for one in tried] == [100, 200] * 4
    assert [one.settled for one in runs] == [1] * 4
    assert plan.candidates[1].surveyed == 100

    monkeypatch.setattr(Workshop, "refit", lambda *_: (apart, np.full((2, 100), 50.0)))
    own = [plan_campaign.campaign_run(job, (n, 0)) for n in range(3)]
    assert [one.settled for one in own] == [0] * 3
    right, wrong = planning.firm(plan, own)
    assert not right.any()
    assert not wrong.any()


def test_designs_with_evidence_fit_into_a_terminal(file: Callable[..., Path]) -> None:
    """What all designs have is said once, and no word is broken."""
    offered = "nets = [4]\npenned = [0, 50]\nsurveyed = [0, 100]\ndouble_marked = 10"
    plan = fishdown.decisions.plan_file.read_plan(
        file(("nets = [4]", offered), ("half_width = 0.9", "half_width = 0.3"))
    )
    runs = [run(place, n) for n in range(10) for place in range(len(plan.candidates))]
    done = fishdown.Planned(plan, planning.summary(plan, runs), tuple(runs))
    table = plan_table(done)
    columns = [column.heading.replace("\n", " ") for column in table.columns]
    assert columns[:5] == ["Fish marked", "In a pen", "Other gear", "Days", "Cost"]
    console = Console(width=80, file=io.StringIO())
    console.print(in_terminal(table))
    printed = console.file.getvalue()  # type: ignore[attr-defined]
    assert_readable(printed)
    assert "All designs: 10 of them with two marks, 60 fish weighed, nets: 4." in joined(printed)
    assert printed.count("cheapest\n") + printed.count("cheapest ") >= 2
    assert (
        "the cheapest design is: mark 50 fish (10 with two marks) and pull 4 nets on 4 days"
        in done.sentence()
    )
    said = [text.get_text() for text in done.figure().axes[1].get_legend().get_texts()]
    assert "cheapest: 50 fish, 4 nets, 4 days,\ntwo marks 10" in said


def test_campaigns_beyond_the_first_are_the_same_after_a_stop(
    tmp_path: Path, file: Callable[..., Path]
) -> None:
    """A stage is drawn up by the stages before it, whatever the log holds beyond them."""
    path = file(
        ("half_width = 0.9", "half_width = 0.3"),
        ("most_simulations = 5", "most_simulations = 8"),
        ("rounds = [4, 6]", "rounds = 4"),
    )
    seen: list[tuple[int, int]] = []
    whole = fishdown.plan(
        path, tmp_path / "out", refit=by_marks, on_progress=lambda *steps: seen.append(steps)
    )
    campaigns = whole.frame["campaigns"]
    assert campaigns.min() == 5 < campaigns.max() <= 8
    totals = [total for _, total in seen]
    assert totals[0] == 10 < totals[-1] == campaigns.sum() == seen[-1][0]
    assert totals == sorted(totals)
    # What every design has is of the same lakes.
    assert {run.simulation for run in whole.runs if run.candidate == 0} >= set(range(5))
    log = tmp_path / "out" / planning.LOG
    kept = log.read_text().splitlines(keepends=True)
    # Of the first campaigns one is missing, of the last ones some are there.
    log.write_text("".join([*kept[:6], *kept[7:-2]]))
    again = fishdown.plan(path, tmp_path / "out", refit=by_marks)
    pd.testing.assert_frame_equal(again.frame, whole.frame)
    assert sorted(log.read_text().splitlines()) == sorted("".join(kept).splitlines())
