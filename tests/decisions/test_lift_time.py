"""When to lift: presence from visits by hand, the curve against known ones, and refusals."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import lift_time_coverage as nights_drawn
import numpy as np
import pandas as pd
import pytest

import fishdown
from fishdown.cli import main
from fishdown.decisions.lift_curve import fit_curve, waves
from fishdown.decisions.lift_presence import SLOTS, clock, presence
from fishdown.decisions.lift_time import lift_time, lift_times
from fishdown.decisions.lift_words import CAUTION, lift_sentences
from fishdown.records import read_records
from fishdown.records.visits import heard

TAGS = [f"A{number:03}" for number in range(12)]


def reads(
    night: str, clock_from: str, minutes: int, tag: str, net: str = "N1"
) -> list[dict[str, Any]]:
    """Write a read every five minutes; times before noon are of the day after."""
    start = pd.Timestamp(f"{night}T{clock_from}")
    if start.hour < 12:
        start += pd.Timedelta(days=1)
    times = [start + pd.Timedelta(minutes=minute) for minute in range(0, minutes + 1, 5)]
    return [
        {"time": time.isoformat(), "lake": "Alder", "net": net, "tag_id": tag} for time in times
    ]


def written(
    folder_of: Callable[..., Path],
    detections: list[dict[str, Any]],
    *,
    tags: list[str] | None = TAGS,
    pulls: list[dict[str, Any]] | None = None,
    recaptures: list[dict[str, Any]] | None = None,
) -> Path:
    some = [
        {"date": f"2025-06-{day:02}", "lake": "Alder", "net": "N1", "caught": 50 + day,
         "recaptured": 2, "water_temp_c": 24 - 0.5 * day, "bait_days": 3}
        for day in (3, 6, 9)
    ]  # fmt: skip
    more: dict[str, Any] = {}
    if tags:
        more["tags"] = [{"lake": "Alder", "batch": "A", "tag_id": tag} for tag in tags]
    if recaptures:
        more["recaptures"] = recaptures
    folder = folder_of(
        lakes=[{"lake": "Alder", "area_ha": 20}, {"lake": "Birch", "area_ha": 9}],
        marked=[
            {"date": "2025-05-01", "lake": "Alder", "batch": "A", "mark": "pit_tag", "released": 30}
        ],
        pulls=some if pulls is None else pulls,
        detections=detections,
        **more,
    )
    with (folder / "campaign.toml").open("a") as file:
        file.write('\ntime_zone = "-06:00"\n')
    return folder


def feeding(nights: int, rng: np.random.Generator) -> list[dict[str, Any]]:
    """Let each fish come about half past ten on most nights."""
    found = []
    for night in range(nights):
        for tag in TAGS:
            if rng.random() < 0.7:
                minute = int(np.clip(rng.normal(630, 40), 0, 700))
                start = f"{12 + minute // 60}:{minute % 60:02}:00"
                found += reads(f"2025-06-{night + 1:02}", start, 60, tag)
    return found


def test_presence_counts_different_tags_within_a_quarter_of_an_hour(
    folder_of: Callable[..., Path],
) -> None:
    detections = [
        *reads("2025-06-01", "22:00:00", 50, "A000"),
        *reads("2025-06-01", "22:20:00", 0, "A001"),
        # Twice within one slot is one fish.
        *reads("2025-06-01", "23:50:00", 0, "A001"),
        *reads("2025-06-01", "00:05:00", 0, "A001"),
        *reads("2025-06-02", "23:00:00", 0, "A002"),
    ]
    taken = [{"date": "2025-06-02", "lake": "Alder", "net": "N1", "tag_id": "A003"}]
    pulls = [{"date": "2025-06-02", "lake": "Alder", "net": "N1", "caught": 50, "bait_days": 3}]
    records = read_records(written(folder_of, detections, pulls=pulls, recaptures=taken))
    seen = presence(records, heard(records), "Alder")
    counts = {
        (night, clock(slot)): seen.counts[night, slot]
        for night, slot in zip(*np.nonzero(seen.counts), strict=True)
    }
    assert counts == {
        (0, "22:00"): 1, (0, "22:30"): 2, (0, "23:00"): 1, (0, "00:00"): 1, (1, "23:00"): 1,
    }  # fmt: skip
    assert seen.at_large.tolist() == [12, 12]
    # Baited three days before the pull of 2 June.
    assert seen.bait_days.tolist() == [2, 3]
    listened = [clock(slot) for slot in range(SLOTS) if seen.listening[0, slot]]
    assert (listened[0], listened[-1], len(listened)) == ("22:00", "11:30", 28)
    assert (seen.nights, seen.tags) == (2, 3)


def test_tags_taken_out_are_no_longer_at_large(folder_of: Callable[..., Path]) -> None:
    detections = [
        row for day in (1, 2, 3) for row in reads(f"2025-06-0{day}", "22:00:00", 0, "A000")
    ]
    taken = [{"date": "2025-06-02", "lake": "Alder", "net": "N1", "tag_id": "a-003"}]
    pulls = [{"date": "2025-06-02", "lake": "Alder", "net": "N1", "caught": 50}]
    records = read_records(written(folder_of, detections, pulls=pulls, recaptures=taken))
    assert presence(records, heard(records), "Alder").at_large.tolist() == [12, 12, 11]


def test_the_waves_are_the_gaussian_process_on_the_circle() -> None:
    """Their covariance is the sum of the squared-exponential's copies, less its constant."""
    basis, sd = waves()
    hours = np.arange(SLOTS) / 2.0
    apart = hours[:, None] + 24.0 * np.arange(-3, 4)
    expected = 4.0 * np.exp(-(apart**2) / (2.0 * 2.0**2)).sum(axis=1)
    expected -= expected.mean()
    found = (basis * sd**2) @ basis[0]
    assert found == pytest.approx(expected, abs=0.01)


def test_the_curve_is_found_again() -> None:
    rng = np.random.default_rng(20262)
    # Two hundred nights: what is left is the error of the estimate, some hundredths.
    counts = nights_drawn.nights_of(200, "usual", rng)
    curve = fit_curve(nights_drawn.seen_in(counts), 500, rng)
    mean = counts.mean(axis=0)
    assert curve.expected[0][mean > 1.0] == pytest.approx(mean[mean > 1.0], rel=0.1)
    # As a whole the curve has the mean of the counts, whatever the prior.
    assert curve.expected[0].sum() == pytest.approx(mean.sum(), rel=0.02)


def test_whole_nights_are_the_blocks() -> None:
    """With every night alike but for its level, the spread is that of the levels."""
    rng = np.random.default_rng(20263)
    level = rng.lognormal(0.0, 0.6, 40)
    shape = np.exp(2.0 * np.cos((np.arange(SLOTS) - 23) * 2.0 * np.pi / SLOTS))
    curve = fit_curve(nights_drawn.seen_in(np.round(40.0 * level[:, None] * shape)), 4_000, rng)
    drawn = curve.drawn[:, 0]
    relative = level.std(ddof=1) / level.mean() / np.sqrt(len(level))
    assert np.log(drawn[:, 23]).std() == pytest.approx(relative, rel=0.15)
    # Nothing is lost but the level: ratios are known.
    assert (drawn[:, 19] / drawn[:, 23]).std() < 0.02


def test_nets_have_levels_and_nights_their_water_and_bait() -> None:
    """Two nets, one with twice the fish; half as many in water 5 °C colder; more with bait."""
    rng = np.random.default_rng(20269)
    nights, shape = 60, np.exp(2.0 * np.cos((np.arange(SLOTS) - 23) * 2.0 * np.pi / SLOTS))
    temperature, bait = rng.uniform(12.0, 24.0, nights), rng.integers(0, 8, nights)
    factor = 2.0 ** ((temperature - 18.0) / 5.0) * ((1 + bait) / 4.0) ** 0.5
    factor *= rng.lognormal(-0.02, 0.2, nights)
    mean = factor[:, None] * shape
    both = replace(
        nights_drawn.seen_in(rng.poisson(np.concatenate([mean, 2.0 * mean])).astype(float)),
        nets=("N1", "N2"),
        net=np.repeat([0, 1], nights),
        night=np.tile(np.datetime64("2025-06-01") + np.arange(nights), 2),
        temperature=np.tile(np.where(np.arange(nights) == 7, np.nan, temperature), 2),
        bait_days=np.tile(bait.astype(float), 2),
    )
    curve = fit_curve(both, 2_000, rng)
    assert np.median(curve.drawn[:, 1, 23] / curve.drawn[:, 0, 23]) == pytest.approx(2.0, rel=0.1)
    for name, truth in (("cooling", 0.5), ("bait", (5.0 / 2.0) ** 0.5)):
        low, middle, high = np.quantile(curve.effects[name], [0.01, 0.5, 0.99])
        assert low < truth < high
        assert middle == pytest.approx(truth, rel=0.15)


def test_water_and_bait_alike_tell_no_effect() -> None:
    rng = np.random.default_rng(20270)
    seen = nights_drawn.seen_in(nights_drawn.nights_of(20, "usual", rng))
    alike = replace(seen, temperature=rng.uniform(20.0, 22.0, 20), bait_days=np.full(20, 3.0))
    assert fit_curve(alike, 100, rng).effects == {}


def test_the_best_time_its_losses_and_the_catch(folder_of: Callable[..., Path]) -> None:
    records = read_records(written(folder_of, feeding(9, np.random.default_rng(20264))))
    found = lift_times(records)
    (lake,) = found.lakes
    assert clock(lake.best) in {"22:30", "23:00", "23:30"}
    assert lake.best_low < lake.best < lake.best_high
    assert lake.losses is not None
    assert lake.losses["earlier", 2][1] > lake.losses["earlier", 1][1] > 0
    best = found.frame.iloc[lake.best]
    # 168 fish and 6 marked ones in three catches: 28 for each.
    assert best["catch_median"] / best["tagged_fish_median"] == pytest.approx(168 / 6, rel=0.05)
    assert best["share_of_tags_median"] == pytest.approx(best["tagged_fish_median"] / 12)
    assert (
        best[[f"relative_to_best_{end}" for end in ("low", "median", "high")]].tolist() == [1] * 3
    )
    sentences = lift_sentences(found)
    assert sentences[-1] == CAUTION
    assert "the 12 at large" in " ".join(sentences)


@pytest.mark.parametrize(
    ("nights", "tags", "said"),
    [
        (2, 12, "nights with an antenna: 2, at least 3 are needed"),
        (4, 4, "different tags heard: 4, at least 5 are needed"),
    ],
)
def test_too_little_is_said(
    folder_of: Callable[..., Path],
    capsys: pytest.CaptureFixture[str],
    nights: int,
    tags: int,
    said: str,
) -> None:
    detections = [
        row
        for night in range(nights)
        for tag in TAGS[:tags]
        for row in reads(f"2025-06-{night + 1:02}", "22:00:00", 30, tag)
    ]
    folder = written(folder_of, detections)
    assert main(["lift-time", str(folder), "--out", str(folder / "out")]) == 3
    printed = " ".join(capsys.readouterr().out.split())
    assert f"Alder: the best time to lift cannot be told ({said})." in printed
    assert not (folder / "out").exists()


def test_without_detections_it_says_what_to_write(
    folder_of: Callable[..., Path], capsys: pytest.CaptureFixture[str]
) -> None:
    folder = written(folder_of, reads("2025-06-01", "22:00:00", 0, "A000"))
    (folder / "detections.csv").unlink()
    assert main(["lift-time", str(folder)]) == 1
    assert "write the reads of the antenna into detections.csv" in capsys.readouterr().err


def test_the_command_writes_table_figure_and_words(
    folder_of: Callable[..., Path], capsys: pytest.CaptureFixture[str]
) -> None:
    folder = written(folder_of, feeding(5, np.random.default_rng(20265)), tags=None)
    out = folder / "out"
    assert main(["lift-time", str(folder), "--out", str(out)]) == 0
    printed = " ".join(capsys.readouterr().out.split())
    assert "Alder: lift at" in printed
    assert "heard at all" in printed
    table = pd.read_csv(out / "lift_time.csv")
    assert table["time"].tolist() == [clock(slot) for slot in range(SLOTS)]
    assert (table["tagged_fish_low"] <= table["tagged_fish_high"]).all()
    assert (out / "lift_time.png").stat().st_size > 10_000
    assert CAUTION in (out / "lift_time.txt").read_text(encoding="utf-8")


def test_it_is_a_verb_of_the_library(folder_of: Callable[..., Path]) -> None:
    folder = written(folder_of, feeding(4, np.random.default_rng(20266)))
    assert lift_time(folder) == fishdown.lift_time(folder)
