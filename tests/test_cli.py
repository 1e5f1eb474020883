"""The command line as people meet it: exit codes, words, 80 columns, files."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pandas as pd
import pytest
from command_lines import FILES, assert_readable, joined, passes
from fake_fits import StubSampler

import fishdown
from fishdown.cli import main


def in_shell(*arguments: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "fishdown.cli", *arguments],
        capture_output=True,
        text=True,
        check=False,
    )


# --- help and usage


@pytest.mark.parametrize(
    "arguments",
    [
        [],
        ["check"],
        ["priors"],
        ["fit"],
        ["update"],
        ["shapes"],
        ["figures"],
        ["report"],
        ["ahead"],
        ["years"],
        ["bycatch"],
        ["plan"],
        ["demo"],
    ],
)
def test_help_imports_nothing_heavy(arguments: list[str]) -> None:
    code = (
        "import sys\n"
        "from fishdown.cli import main\n"
        "try: main(sys.argv[1:])\n"
        "except SystemExit as stopped: code = stopped.code\n"
        "print(code, sorted({'numpy', 'pandas', 'xarray', 'scipy', 'rich', 'pymc', 'pytensor'}\n"
        "      & set(sys.modules)), file=sys.stderr)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, *arguments, "--help"],
        capture_output=True,
        text=True,
        check=True,
    )
    assert done.stdout.startswith("usage: fishdown")
    assert done.stderr == "0 []\n"
    assert max(len(line) for line in done.stdout.splitlines()) <= 80


def test_no_command_prints_help(capsys: pytest.CaptureFixture[str]) -> None:
    assert main([]) == 2
    printed = capsys.readouterr().out
    for command in ("check", "priors", "fit", "formulas", "shapes", "demo"):
        assert f"\n    {command} " in printed
    assert "exit codes: 0 done, 1 the records have problems, 2 wrong usage" in printed
    assert "need permits" in printed


def test_version(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as stopped:
        main(["--version"])
    assert stopped.value.code == 0
    assert capsys.readouterr().out == f"fishdown {fishdown.__version__}\n"


@pytest.mark.parametrize(
    ("arguments", "text"),
    [
        (["--draws", "3"], "argument --draws: '3': write a whole number, 4 or more"),
        (["--draws", "many"], "argument --draws: 'many': write a whole number, 4 or more"),
        (["--tune", "0"], "argument --tune: '0': write a whole number, 1 or more"),
        (["--chains", "1"], "argument --chains: '1': write a whole number, 2 or more"),
        (["--cores", "1.5"], "argument --cores: '1.5': write a whole number, 1 or more"),
        (["--seed", "-3"], "argument --seed: '-3': write a whole number, 0 or more"),
        (["--sampler", "gibbs"], "argument --sampler: invalid choice: 'gibbs'"),
        (["--quickly"], "unrecognized arguments: --quickly"),
    ],
)
def test_a_wrong_option(
    arguments: list[str], text: str, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as stopped:
        main(["fit", "records", "--out", "results", *arguments])
    assert stopped.value.code == 2
    assert text in capsys.readouterr().err


@pytest.mark.parametrize("command", ["fit", "priors"])
def test_an_unknown_model(
    command: str,
    folder_of: Callable[..., Path],
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:
    out = ["--out", str(tmp_path / "results")] if command == "fit" else []
    assert main([command, str(passes(folder_of)), "--model", "pooled_lake", *out]) == 2
    said = capsys.readouterr()
    assert "no model named 'pooled_lake' (did you mean 'pooled_lakes'?)" in said.err
    assert said.out == ""
    assert not (tmp_path / "results").exists()


def test_a_wrong_model_file(
    folder_of: Callable[..., Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    model = tmp_path / "mine.toml"
    model.write_text("[parts]\nevidense = 'both'\n", encoding="utf-8")
    assert main(["priors", str(passes(folder_of)), "--model", str(model)]) == 2
    assert "unknown part 'evidense' (did you mean 'evidence'?)" in capsys.readouterr().err
    assert main(["priors", str(passes(folder_of)), "--model", str(tmp_path / "no.toml")]) == 2
    assert "cannot read the model file" in capsys.readouterr().err


# --- check


def test_check_of_good_records(
    folder_of: Callable[..., Path], capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["check", str(passes(folder_of))]) == 0
    said = capsys.readouterr()
    assert said.err == ""
    assert_readable(said.out)
    assert "1 lake, 3 pulls, 87 fish caught, 4 fish measured; no problems found." in said.out
    assert "  Pond 2024: depletion (3 pulls, 87 fish removed)" in said.out


def test_check_of_bad_records_lists_every_problem(
    folder_of: Callable[..., Path], capsys: pytest.CaptureFixture[str]
) -> None:
    folder = folder_of(
        lakes=[{"lake": "Pond", "area_ha": -2.0}],
        pulls=[
            {"date": "2024-06-01", "lake": "Pnd", "net": "A", "caught": 48},
            {"date": "2024-06-31", "lake": "Pond", "net": "A", "caught": 27},
            {"date": "2024-06-02", "lake": "Pond", "net": "A", "caught": "some"},
        ],
    )
    assert main(["check", str(folder)]) == 1
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err.splitlines()[0] == "4 problems in the records:"
    for place in (
        'lakes.csv, row 2, area_ha = "-2.0"',
        'pulls.csv, row 2, lake = "Pnd"',
        'pulls.csv, row 3, date = "2024-06-31"',
        'pulls.csv, row 4, caught = "some"',
    ):
        assert place in said.err


def test_problems_end_a_shell_command_without_a_traceback(
    folder_of: Callable[..., Path], tmp_path: Path
) -> None:
    folder = folder_of(
        lakes=[{"lake": "Pond", "area_ha": 2.0}],
        pulls=[{"date": "2024-06-01", "lake": "Pond", "net": "A", "caught": -48}],
    )
    for command in (["check"], ["formulas"], ["priors"], ["fit", "--out", str(tmp_path / "out")]):
        done = in_shell(command[0], str(folder), *command[1:])
        assert done.returncode == 1
        assert done.stdout == ""
        assert done.stderr.startswith("1 problem in the records:\n  pulls.csv, row 2, caught")
        assert "Traceback" not in done.stderr
    assert not (tmp_path / "out").exists()


def test_a_missing_folder(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for command in ("check", "formulas", "priors"):
        assert main([command, str(tmp_path / "nowhere")]) == 1
        said = capsys.readouterr()
        assert "nowhere: no such folder or workbook" in said.err
        assert said.out == ""


# --- priors and formulas


def test_priors(folder_of: Callable[..., Path], capsys: pytest.CaptureFixture[str]) -> None:
    folder = passes(folder_of, "Pond", "Mere")
    assert main(["priors", str(folder), "--model", "pooled_lakes"]) == 0
    said = capsys.readouterr().out
    assert_readable(said)
    for name in ("density", "area_fished_ha", "area_exponent", "schooling", "mean_weight"):
        assert f"\n {name} " in said
    assert "left out: no water temperature" in said
    assert "\n temperature_effect" not in said
    # lognormal, median 60, log_sd 1.5: 60 exp(∓1.645 · 1.5)
    assert re.search(r"density .* 60\.0 +5\.09–707", said)
    implied = said[said.index("Implied by these priors") :]
    for lake in ("Pond", "Mere"):
        assert len(re.findall(rf"\n {lake} ", implied)) == 4


def test_formulas(folder_of: Callable[..., Path], capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["formulas", str(passes(folder_of))]) == 0
    said = capsys.readouterr().out
    assert_readable(said)
    assert said.startswith("Pond 2024")
    for name in ("Schnabel", "three passes", "Leslie", "DeLury"):
        assert name in said
    assert "so their intervals are too narrow" in joined(said)


# --- fit


def test_fit_writes_the_five_files_and_says_so(
    folder_of: Callable[..., Path],
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    stub: Callable[..., type[StubSampler]],
) -> None:
    stub(0)
    out = tmp_path / "a" / "results"
    assert main(["fit", str(passes(folder_of)), "--out", str(out)]) == 0
    said = capsys.readouterr().out
    assert {path.name for path in out.iterdir()} == FILES
    written = said[said.index("Written to") :]
    for name in FILES:
        assert name in written
    assert "Model few_passes" in said
    assert "1 attempt; 0 divergences" in joined(said)
    assert "quality gate passed" in joined(said)
    # Nothing is common to all lakes in this model: no empty table.
    assert "Common to all lakes" not in said
    statement = pd.read_csv(out / "verdicts.csv")["statement"].iloc[1]
    assert statement in joined(said)


def test_folders_whose_names_are_no_letters(
    folder_of: Callable[..., Path],
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    stub: Callable[..., type[StubSampler]],
) -> None:
    stub(0)
    records = passes(folder_of).rename(tmp_path / os.fsdecode(b"lacs l\xe9gers"))
    (records / os.fsdecode(b"p\xfflls.csv")).write_text("x\n", encoding="utf-8")
    out = tmp_path / os.fsdecode(b"r\xe9sultats")
    assert main(["fit", str(records), "--out", str(out)]) == 0
    said = capsys.readouterr().out
    assert_readable(said.replace(str(tmp_path), ""))
    assert r"r\udce9sultats" in joined(said).replace(" ", "")
    assert {path.name for path in out.iterdir()} >= FILES


def test_options_reach_the_sampler_and_the_record(
    folder_of: Callable[..., Path], tmp_path: Path, stub: Callable[..., type[StubSampler]]
) -> None:
    sampler = stub(0)
    options = "--draws 600 --tune 70 --chains 3 --cores 1 --seed 5 --sampler pymc"
    assert main(["fit", str(passes(folder_of)), "--out", str(tmp_path), *options.split()]) == 0
    run = json.loads((tmp_path / "run.json").read_text(encoding="utf-8"))
    wanted = {"draws": 600, "tune": 70, "chains": 3, "cores": 1, "seed": 5, "sampler": "pymc"}
    for name, value in wanted.items():
        assert getattr(sampler.asked[0], name) == value
        assert run["attempts"][0][name] == value


def test_a_failed_gate_withholds(
    folder_of: Callable[..., Path],
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    stub: Callable[..., type[StubSampler]],
) -> None:
    stub(3)
    assert main(["fit", str(passes(folder_of)), "--out", str(tmp_path)]) == 3
    said = capsys.readouterr().out
    assert_readable(said)
    assert said.count("Sampling again, with more care") == 2
    assert "quality gate FAILED" in joined(said)
    assert "Withheld for Pond in 2024: 3 divergent transitions." in joined(said)
    assert "kg/ha of common carp" not in said
    # Neither table shows a number that was withheld: three attempts gave them, no gate let them by.
    tables = said[said.index("Biomass density") :]
    assert not re.search(r"\d+–\d+", tables)
    assert {path.name for path in tmp_path.iterdir()} >= FILES
    assert pd.read_csv(tmp_path / "verdicts.csv")["probability_below"].isna().all()


def test_despite_the_gate_there_is_a_warning(
    folder_of: Callable[..., Path],
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    stub: Callable[..., type[StubSampler]],
) -> None:
    stub(3)
    arguments = ["fit", str(passes(folder_of)), "--out", str(tmp_path), "--despite-gate"]
    assert main(arguments) == 3
    said = capsys.readouterr().out
    assert_readable(said)
    assert "\nWARNING: " in said[: said.index("Biomass density")]
    assert re.search(r"WARNING, .*3 divergent transitions.*kg/ha of common carp", joined(said))
    verdicts = pd.read_csv(tmp_path / "verdicts.csv")
    assert verdicts["statement"].str.startswith("WARNING").all()
    assert verdicts["probability_below"].notna().all()


def test_too_few_draws_fail_the_gate_in_a_shell(
    folder_of: Callable[..., Path], tmp_path: Path
) -> None:
    """Even after two retries 32 draws can never be worth 400."""
    options = ["--draws", "4", "--tune", "50", "--chains", "2", "--cores", "1", "--seed", "1"]
    done = in_shell("fit", str(passes(folder_of)), "--out", str(tmp_path / "out"), *options)
    assert done.returncode == 3, done.stderr
    assert done.stderr == ""
    assert_readable(done.stdout)
    assert "bulk ESS" in done.stdout
    assert "Withheld for Pond in 2024" in joined(done.stdout)
    assert {path.name for path in (tmp_path / "out").iterdir()} == FILES
    run = json.loads((tmp_path / "out" / "run.json").read_text(encoding="utf-8"))
    assert [attempt["draws"] for attempt in run["attempts"]] == [4, 8, 16]


def test_a_home_that_takes_nothing(folder_of: Callable[..., Path], tmp_path: Path) -> None:
    """As in a container without one: what is compiled lies elsewhere, for as long as it takes."""
    (tmp_path / "home").write_text("no folder", encoding="utf-8")
    (tmp_path / "temporary").mkdir()
    code = (
        "import sys; from fishdown.cli import main; code = main(sys.argv[1:])\n"
        "import pytensor, matplotlib; print(code, pytensor.config.compiledir)\n"
        "print(matplotlib.get_configdir())"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, "check", str(passes(folder_of))],
        env={
            **{name: value for name, value in os.environ.items() if name != "MPLCONFIGDIR"},
            "HOME": str(tmp_path / "home"),
            "PYTENSOR_FLAGS": "",
            "TMPDIR": str(tmp_path / "temporary"),
        },
        capture_output=True,
        text=True,
        check=True,
    )
    assert done.stderr == ""
    compiled, drawing = done.stdout.splitlines()[-2:]
    assert compiled.startswith(f"0 {tmp_path / 'temporary' / 'fishdown-'}")
    assert drawing.startswith(str(tmp_path / "temporary" / "fishdown-"))
    assert list((tmp_path / "temporary").iterdir()) == []


@pytest.mark.parametrize("command", ["fit", "demo"])
@pytest.mark.parametrize("below", ["", "results"])
def test_a_file_where_the_results_should_go(
    folder_of: Callable[..., Path],
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    stub: Callable[..., type[StubSampler]],
    command: str,
    below: str,
) -> None:
    sampler = stub(0)
    taken = tmp_path / "taken"
    taken.write_text("mine", encoding="utf-8")
    records = [str(passes(folder_of))] if command == "fit" else []
    assert main([command, *records, "--out", str(taken / below)]) == 2
    said = capsys.readouterr().err
    assert "taken" in said
    assert "name a folder that can be written to" in said
    assert sampler.asked == []  # said before the work, not after it
    assert taken.read_text(encoding="utf-8") == "mine"


def test_an_interruption(
    folder_of: Callable[..., Path],
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def interrupted(*arguments: Any, **options: Any) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("fishdown.api.fitting.fit", interrupted)
    assert main(["fit", str(passes(folder_of)), "--out", str(tmp_path / "out")]) == 130
    assert capsys.readouterr().err == "fishdown: stopped; nothing was written\n"
    assert not (tmp_path / "out").exists()
