from __future__ import annotations

import os
import pickle
from pathlib import Path

import numpy as np
import pytest
from scipy import stats
from scipy.special import logit
from textbook import textbook

from fishdown.errors import ModelFileError
from fishdown.models.part import Parameter
from fishdown.models.parts import all_parts, chosen_parts, parameters
from fishdown.models.priors import FAMILIES, Prior
from fishdown.models.spec import (
    model_folder,
    model_names,
    needed_priors,
    parse_model,
    read_model,
)


def text_of(name: str = "one_lake") -> str:
    return (model_folder() / f"{name}.toml").read_text(encoding="utf-8")


@pytest.mark.parametrize("name", model_names())
def test_shipped_models_read_and_need_every_prior(name: str) -> None:
    spec = read_model(name)
    assert set(spec.priors) == set(needed_priors(spec.parts))
    assert set(spec.priors) <= set(parameters())
    assert set(spec.parts) == set(chosen_parts())


def test_every_choice_of_a_part_has_its_parameters_and_each_is_stated_once() -> None:
    told: dict[str, Parameter] = {}
    for part in all_parts():
        for name, one in part.parameters.items():
            # What two parts need is stated once.
            assert told.setdefault(name, one) is one
        assert {name for names in part.choices.values() for name in names} == set(part.parameters)
        for one in part.parameters.values():
            assert one.by_lake is None or parameters()[one.by_lake.spread].among_lakes


def test_importing_a_specification_imports_no_pymc() -> None:
    import subprocess
    import sys

    code = (
        "import sys, fishdown.models.spec as spec; spec.read_model('one_lake'); "
        "print('pymc' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        (
            "area_fished_ha ",
            "area_fishd_ha ",
            r"unknown prior 'area_fishd_ha' \(did you mean 'area_fished_ha'\?\)",
        ),
        ("lognormal = { median = 60.0", "lognorml = { median = 60.0", r"unknown family 'lognorml'"),
        ("median = 60.0", "median = -60.0", r"prior density: median = -60.0 must be above 0"),
        ("median = 60.0", 'median = "many"', r"prior density: median = 'many' is not a number"),
        ("median = 60.0", "mean = 60.0", r"lognormal takes median and log_sd"),
        (
            "lognormal = { median = 60.0, log_sd",
            "logitnormal = { median = 1.0, logit_sd",
            r"prior density: median = 1.0 must be below 1",
        ),
        (
            "lognormal = { median = 60.0, log_sd",
            "logitnormal = { median = 0.9, logit_sd",
            r"the prior of density must be lognormal, not logitnormal",
        ),
        (
            'catch = "schooling"',
            'catch = "school"',
            r"catch = 'school' is not a choice \(did you mean",
        ),
        ("[parts]", "[part]", r"unknown entry 'part' \(did you mean 'parts'\?\)"),
        ("temperature_c = 20.0", 'temperature_c = "warm"', r"temperature_c = 'warm' is no number"),
        ("[priors]", "[priors", r"model mine, row \d+: not valid TOML"),
        ("temperature_c = 20.0", "temperature_c = nan", r"temperature_c = nan is no number; write"),
        ("temperature_c = 20.0", "temperature_c = inf", r"temperature_c = inf is no number; write"),
        ("temperature_c = 20.0", "temperature_c = 200", r"write −1 to 40, in °C"),
        ("temperature_c = 20.0", f"temperature_c = 2{'0' * 5000}", r"a whole number beyond 9,223"),
        ("temperature_c = 20.0", f"temperature_c = {'[' * 1500}{']' * 1500}", r"nested more than"),
        ("median = 60.0", "median = nan", r"prior density: median = nan must be finite"),
        ("median = 60.0", "median = -inf", r"prior density: median = -inf must be finite"),
        ("median = 60.0", "median = 0x" + "f" * 5000, r"a whole number beyond 9,223"),
        ("median = 60.0", "median = 1e17", r"density: median = 1e\+17: write 1e-12 to 1e\+12"),
        ("median = 60.0", "median = 1e400", r"prior density: median = inf must be finite"),
        ("log_sd = 1.5", "log_sd = 11", r"prior density: log_sd = 11: write 1e-06 to 10"),
        ("log_sd = 1.5", "log_sd = 5e-324", r"prior density: log_sd = 5e-324: write 1e-06 to 10"),
        ("log_sd = 1.5", "log_sd = true", r"prior density: log_sd = True is not a number"),
        ("log_sd = 1.5", "log_sd = [1.5]", r"prior density: log_sd = \[1.5\] is not a number"),
        ("title = ", "title = 5 # ", r"title = 5: no text"),
        ('catch = "schooling"', f'catch = "{"school" * 2000}"', r"catch = '(school)+scho… is not"),
    ],
)
def test_mistakes_in_a_model_file_are_named(old: str, new: str, message: str) -> None:
    text = text_of()
    assert old in text
    with pytest.raises(ModelFileError, match=message):
        parse_model(text.replace(old, new), "mine")


@pytest.mark.parametrize("table", ["priors", "parts", "reference"])
@pytest.mark.parametrize("value", ["5", "[1, 2]", "nan"])
def test_a_number_in_place_of_a_table_is_named(table: str, value: str) -> None:
    with pytest.raises(ModelFileError, match="must be a table of names and values"):
        parse_model(f"{table} = {value}\n", "mine")


def test_many_unknown_names_are_counted() -> None:
    names = "\n".join(f"part_{number} = 1" for number in range(900))
    with pytest.raises(ModelFileError, match="and 895 more; valid: ") as caught:
        parse_model(f"[parts]\n{names}\n", "mine")
    assert len(str(caught.value)) < 1000


def test_a_pipe_in_place_of_a_model_file_is_not_waited_for(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "mine.toml")
    with pytest.raises(ModelFileError, match="a pipe or device, not a file"):
        read_model(tmp_path / "mine.toml")


def test_a_missing_prior_is_named() -> None:
    text = "\n".join(line for line in text_of().splitlines() if not line.startswith("schooling"))
    with pytest.raises(ModelFileError, match="no prior for schooling"):
        parse_model(text, "mine")


def test_unknown_model_lists_the_shipped_ones() -> None:
    with pytest.raises(ModelFileError, match=r"did you mean 'one_lake'.*pooled_lakes"):
        read_model("one_lakes")
    with pytest.raises(ModelFileError, match="cannot read the model file"):
        read_model(Path("nowhere.toml"))


def test_leaving_out_a_part_leaves_out_its_priors() -> None:
    alone = textbook("pooled_lakes").with_parts(
        pooling="none",
        temperature="none",
        lengths="none",
        sizes="by_season",
        weighed="at_random",
    )
    assert set(alone.priors) == {
        "density", "area_fished_ha", "schooling", "mean_weight", "weight_variation",
        "net_spread", "night_spread", "drift_size", "drift_days", "later_pulls",
    }  # fmt: skip
    weighed = read_model("pooled_lakes").with_parts(weights="none")
    of_fish = ("weight", "length", "selectivity")
    assert not {name for name in weighed.priors if any(word in name for word in of_fish)}


@pytest.mark.parametrize("family", FAMILIES)
def test_priors_round_trip_and_agree_with_scipy(family: str) -> None:
    numbers = (0.4, 0.7)
    prior = Prior(family, numbers)
    assert Prior.read("x", prior.entry()) == prior
    frozen = {
        "lognormal": stats.lognorm(0.7, scale=0.4),
        "normal": stats.norm(0.4, 0.7),
        "beta": stats.beta(0.4, 0.7),
        "logitnormal": stats.johnsonsb(-logit(0.4) / 0.7, 1.0 / 0.7),
    }[family]
    assert prior.log_density(0.3) == pytest.approx(frozen.logpdf(0.3))
    assert prior.interval(0.9) == pytest.approx(frozen.interval(0.9))
    drawn = prior.draw(np.random.default_rng(1), 20_000)
    assert np.quantile(drawn, 0.5) == pytest.approx(frozen.median(), abs=0.03)


def test_a_specification_goes_to_another_process() -> None:
    spec = read_model("one_lake")
    there = pickle.loads(pickle.dumps(spec))
    assert there == spec
    assert there.text == spec.text
